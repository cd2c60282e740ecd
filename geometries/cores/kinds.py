"""All kinds of core: what reads them, the schema and messages follow this one list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, get_args

from pydantic import Field, ValidationError, ValidationInfo, WrapValidator
from pydantic_core import InitErrorDetails

from geometries.cores.shell import ShellCore
from geometries.cores.stacked import StackedCore
from geometries.cores.two_leg import TwoLegCore
from geometries.described.faults import one_of, refused, shown

AnyCore = ShellCore | TwoLegCore
"""All kinds, each in a file of its own; the first is meant where a core says no `type`."""

KINDS: dict[str, type[StackedCore]] = {kind.model_fields["type"].default: kind for kind in get_args(AnyCore)}
"""The kinds by their `type`."""
USUAL = next(iter(KINDS))
"""The `type` of a core that says none."""


def read_core(value: Any, *, context: Any = None) -> AnyCore:
    """Validate what is to become a core as the kind that its `type` names.

    Parameters
    ----------
    value
        A table, or a core.
    context
        For the validation of its fields.

    Raises
    ------
    pydantic.ValidationError
        If there is no such kind, or as that kind says.
    """
    name = value.get("type", USUAL) if isinstance(value, Mapping) else getattr(value, "type", USUAL)
    if not (isinstance(name, str) and name in KINDS):
        unknown = refused(f"expected {one_of(KINDS)}; got {shown(name)}")
        title, detail = "Core", InitErrorDetails(type=unknown, loc=("type",), input=name)
        raise ValidationError.from_exception_data(title, [detail])
    found: Any = KINDS[name].model_validate(value, context=context)
    return found  # type: ignore[no-any-return]


def _of_its_kind(value: Any, _: Any, info: ValidationInfo) -> AnyCore:
    """Validate by `read_core` and not kind by kind: then faults bear the keys of a job file alone."""
    return read_core(value, context=info.context)


def _one_of_them(schema: dict[str, Any]) -> None:
    schema["oneOf"] = schema.pop("anyOf")


Core = Annotated[
    AnyCore,
    WrapValidator(_of_its_kind),
    Field(
        description="The core: " + " or ".join(f"{kind.LEGS} ({name})" for name, kind in KINDS.items()),
        json_schema_extra=_one_of_them,
    ),
]
"""For fields of descriptions."""
