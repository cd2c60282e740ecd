"""What is wrong with a description, one line per fault."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator
from datetime import date, time
from typing import Any, NamedTuple, Self, get_args

from pydantic import BaseModel, ConfigDict, ModelWrapValidatorHandler, ValidationError, model_validator
from pydantic_core import InitErrorDetails, PydanticCustomError


class Fault(NamedTuple):
    """One fault: the dotted key it belongs to ("windings.secondary.turns") and a one-line message."""

    key: str
    message: str


class Description(BaseModel):
    """Base of all that a user describes: frozen, no unknown keys; a misspelt key is answered with the likely one."""

    model_config = ConfigDict(frozen=True, extra="forbid", validate_default=False)

    @model_validator(mode="wrap")
    @classmethod
    def _name_unknown_keys(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        try:
            return handler(data)
        except ValidationError as error:
            found = error.errors(include_url=False)
            if not any(e["type"] == "extra_forbidden" and len(e["loc"]) == 1 for e in found):
                raise
            details: list[InitErrorDetails] = []
            for e in found:
                kind: str | PydanticCustomError = e["type"]
                if e["type"] == "extra_forbidden" and len(e["loc"]) == 1:
                    kind = refused(unknown(str(e["loc"][0]), cls.model_fields, "key"))
                elif e["type"] == "refused":
                    kind = refused(e["ctx"]["text"])
                details.append(InitErrorDetails(type=kind, loc=e["loc"], input=e["input"], ctx=e.get("ctx", {})))
            raise ValidationError.from_exception_data(error.title, details) from None


def described(annotation: Any) -> Iterator[type[Description]]:
    """Yield a description and all that lie within it, or those that an annotation names."""
    if isinstance(annotation, type) and issubclass(annotation, Description):
        yield annotation
        for field in annotation.model_fields.values():
            yield from described(field.annotation)
    else:
        for part in get_args(annotation):
            yield from described(part)


def refused(text: str) -> PydanticCustomError:
    """Return an error for a validator to raise whose message is `text`, with nothing put before it."""
    kind = "refused"
    return PydanticCustomError(kind, "{text}", {"text": text})


LONGEST_TEXT = 1000
"""Characters of a text that can mean something here; what reads texts may count on it."""


def shown(value: object) -> str:
    """Write a value as a message quotes it: on one line, texts in quotes, nothing longer than 60 characters."""
    if isinstance(value, int) and value.bit_length() > 1024:
        return "an integer of more than 300 digits"
    text = short(str(value) if isinstance(value, str | float | date | time) else repr(value))
    return f'"{text}"' if isinstance(value, str) else text


def short(text: str, most: int = 60) -> str:
    """Write a text on one line, cut to `most` characters."""
    text = " ".join(text[: 10 * most].split())
    return text if len(text) <= most else f"{text[: most - 3]}..."


def unusable(text: str, most: int = LONGEST_TEXT) -> str:
    """Say why a text cannot mean anything here, whatever it is for: it is too long, or not all of it can be read.

    Empty where nothing is wrong with it.
    """
    if len(text) > most:
        return f"a text of {len(text)} characters, {shown(text)}; at most {most} are read"
    # Blank space of any kind is left to whoever reads the text: "70\u00a0mm2" comes from documents.
    odd = next((c for c in text if not (c.isprintable() or c.isspace())), None)
    return "" if odd is None else f"holds a character that cannot be read, U+{ord(odd):04X}"


def unknown(name: str, known: Iterable[str], kind: str) -> str:
    """Say that `name` is not a known `kind`, with the nearest known names where some are near."""
    near = difflib.get_close_matches(name, list(known), n=3, cutoff=0.6)
    hint = f"; did you mean {one_of(near)}?" if near else ""
    return f"unknown {kind} {shown(name)}{hint}"


def not_known(name: str, known: Iterable[str], kind: str) -> str:
    """Say the same, with all that is known."""
    known = tuple(known)
    return f"{unknown(name, known, kind)}; known: {', '.join(known)}"


def one_of(names: Iterable[str]) -> str:
    """Write names as an enumeration: "a", "b" or "c"."""
    quoted = [f'"{name}"' for name in names]
    return " or ".join(filter(None, (", ".join(quoted[:-1]), quoted[-1])))


def faults(error: ValidationError) -> list[Fault]:
    """List what a validation found, with dotted keys and short messages.

    A fault that belongs to the whole description has the key "".
    """
    return [Fault(".".join(map(str, e["loc"])), _message(e)) for e in error.errors(include_url=False)]


def _message(error: Any) -> str:
    kind, value = error["type"], error["input"]
    if kind == "missing":
        return "missing"
    if kind in {"enum", "literal_error"}:
        expected = error["ctx"]["expected"].replace("'", '"')
        return f"expected {expected}; got {shown(value)}"
    if kind in {"model_type", "model_attributes_type", "dict_type"}:
        return f"expected a table; got {shown(value)}"
    if kind == "string_type":
        return f"expected a text in quotes; got {shown(value)}"
    if kind == "value_error":
        return str(error["ctx"]["error"])
    if kind == "extra_forbidden":
        return f"unknown key {shown(error['loc'][-1])}"
    message: str = error["msg"]
    return message
