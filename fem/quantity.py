"""How a result is declared, once and where it is computed: unit, label, how it is told; and what is not known, and why.

A field's metadata is all that JSON keys, the report's lines, the sheet and the table of keys are made from.
"""

from __future__ import annotations

import collections.abc
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from enum import Enum
from types import UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

import numpy as np

SUFFIX = {
    "-": "",
    "V": "_V",
    "A": "_A",
    "W": "_W",
    "VA": "_VA",
    "T": "_T",
    "H": "_H",
    "ohm": "_ohm",
    "m": "_m",
    "m2": "_m2",
    "kg": "_kg",
    "K": "_K",
    "J": "_J",
    "s": "_s",
    "A/m": "_A_per_m",
    "A/m2": "_A_per_m2",
    "A2s": "_A2s",
    "Hz": "_Hz",
    "N": "_N",
    "N/m": "_N_per_m",
    "": "",
}
"""Unit to JSON suffix; "-" is a pure number, "" is text or a nested section."""


class Show(Enum):
    """How the report tells a number."""

    VALUE = "value"
    """In its customary unit."""
    SHARE = "share"
    """As a percentage."""


def of(unit: str, label: str, *, show: Show = Show.VALUE) -> Any:
    """Declare a result.

    Parameters
    ----------
    unit
        SI; a key of `SUFFIX`.
    label
        What it is, in words for a person at the bench.
    show
        How the report tells it.
    """
    return field(metadata={"unit": unit, "label": label, "show": show})


@dataclass(frozen=True, slots=True)
class Unknown:
    """A result that is not there: null in the JSON, with its reason at once.

    It is false, so `peak or 0.0` and `if load:` read as they would of a number.

    Parameters
    ----------
    reason
        In words.
    gap
        Whether it was asked for and described, and yet could not be computed.
    """

    reason: str
    gap: bool = False

    def __bool__(self) -> Literal[False]:
        """Return False: there is nothing here."""
        return False


NOT_ASKED = Unknown("not asked for")
ROUNDED = 1e-4
"""Of a number, below which what it is beyond its band is but how it was found."""
ONE_SIDED = "one-sided: what is told is its end"
"""Of a band to one side of the number that is told, as that is on the safe side."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Band:
    """Between which values a result may well lie: nine times out of ten.

    Parameters
    ----------
    low, high
        5 % and 95 % quantile over all that is in doubt [SI]; an infinite end is open.
    why
        What else is to be said of it; may be empty.
    terms
        What drives it, in words, and its share of the variance [-], largest first.
    measure
        The one measurement that narrows it most, a sentence; empty where there is none.
    left
        Of the band's width, what is left after that measurement [-].
    """

    low: float
    high: float
    why: str = ""
    terms: tuple[tuple[str, float], ...] = ()
    measure: str = ""
    left: float = 1.0

    def around(self, value: Any) -> Band:
        """Return the band with a number [SI] in it: one beyond an end becomes that end, and the band says so."""
        if not isinstance(value, int | float) or self.low <= value <= self.high:
            return self
        beyond = max(self.low - value, value - self.high) > ROUNDED * abs(value)
        why = "; ".join(filter(None, (self.why, ONE_SIDED if beyond else "")))
        return replace(self, low=min(self.low, value), high=max(self.high, value), why=why)

    def told(self) -> dict[str, Any]:
        """Return it as plain values; an open end is null."""
        low, high = (end if np.isfinite(end) else None for end in (self.low, self.high))
        terms = [{"doubt": words, "share": share} for words, share in self.terms]
        return {"low": low, "high": high, "why": self.why, "terms": terms, "measure": self.measure, "left": self.left}


def finite(values: Any, otherwise: Unknown) -> Any:
    """Return what is finite of a number, or of those of a block (n,); what is not, is not known."""
    known = np.isfinite(values)
    if np.ndim(known) == 0:
        return float(values) if known else otherwise
    if known.all():
        return values
    column = np.asarray(values, dtype=object)
    column[~known] = otherwise
    return column


def plain(value: Any) -> Any:
    """Return results as plain nested dictionaries and lists, units in the keys, null for what is not known."""
    if isinstance(value, Unknown):
        return None
    if isinstance(value, Band):
        return value.told()
    if is_dataclass(value) and not isinstance(value, type):
        return {name: plain(inner) for name, inner in members(value)}
    if isinstance(value, tuple):
        return [plain(inner) for inner in value]
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, Mapping):
        return {str(name): plain(inner) for name, inner in value.items()}
    return value


def members(value: Any) -> list[tuple[str, Any]]:
    """Return a result's fields by their JSON names."""
    return [(f.name + SUFFIX[f.metadata.get("unit", "")], getattr(value, f.name)) for f in fields(value)]


def unknowns(key: str, value: Any) -> Iterator[tuple[str, Unknown]]:
    """Yield everything below a dotted JSON key that is not known, by its own key."""
    if isinstance(value, Unknown):
        yield key, value
    elif is_dataclass(value) and not isinstance(value, type):
        for name, inner in members(value):
            yield from unknowns(f"{key}.{name}", inner)
    elif isinstance(value, Mapping):
        # the unit of what a mapping holds stands in the mapping's own name
        for name, inner in value.items():
            yield from unknowns(f"{key}.{name}", inner)


Extended = TypeVar("Extended")


def extended(kind: type[Extended], base: Any, **more: Any) -> Extended:
    """Return a result that says more than the one it extends.

    Parameters
    ----------
    kind
        A subclass of the base's class.
    base
        Whose fields are taken over.
    more
        The fields that are new.
    """
    return kind(**{f.name: getattr(base, f.name) for f in fields(base)}, **more)


def json_key(value: Any, path: str) -> str:
    """Return the JSON key of a result named by its attributes: "duty.cool_down" is "duty.cool_down_s".

    Raises
    ------
    KeyError
        If there is no such result.
    """
    name, _, rest = path.partition(".")
    if isinstance(value, Mapping):
        return f"{name}.{json_key(value[name], rest)}" if rest else name
    units = {f.name: f.metadata["unit"] for f in fields(value)}
    key = name + SUFFIX[units[name]]
    return f"{key}.{json_key(getattr(value, name), rest)}" if rest else key


@dataclass(frozen=True, kw_only=True, slots=True)
class Declared:
    """One result as it is declared: JSON key below its section, SI unit, label, how it is told; field and its class."""

    key: str
    unit: str
    label: str
    show: Show
    name: str
    home: type


def declared(kind: type) -> Iterator[Declared]:
    """Yield all results of a class and of those it holds; `*` stands for the names in a mapping."""
    hints = get_type_hints(kind)
    for f in fields(kind):
        unit, key = f.metadata["unit"], f.name + SUFFIX[f.metadata["unit"]]
        home = next(base for base in reversed(kind.__mro__) if f.name in vars(base).get("__annotations__", {}))
        label, show = f.metadata["label"], f.metadata["show"]
        yield Declared(key=key, unit=unit, label=label, show=show, name=f.name, home=home)
        stars, inner = "", hints[f.name]
        while held := [t for t in _options(inner) if get_origin(t) is collections.abc.Mapping]:
            stars, inner = f"{stars}.*", get_args(held[0])[1]
        for nested in _options(inner):
            if isinstance(nested, type) and is_dataclass(nested) and nested is not Unknown:
                yield from (replace(d, key=f"{key}{stars}.{d.key}") for d in declared(nested))


def _options(hint: Any) -> tuple[Any, ...]:
    return get_args(hint) if get_origin(hint) in (Union, UnionType) else (hint,)
