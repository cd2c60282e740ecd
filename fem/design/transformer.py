"""What the user describes: a transformer with all that belongs to it, frozen and validated; SI inside."""

from __future__ import annotations

from collections.abc import Mapping
from functools import reduce
from typing import Annotated, Any, Self, TypeVar, cast

from pydantic import AfterValidator, ModelWrapValidatorHandler, ValidationError, ValidationInfo, model_validator
from pydantic_core import InitErrorDetails

from fem.constants import REFERENCE_TEMPERATURE
from fem.design.duty import Duty
from fem.design.leads import Leads
from fem.design.limits import Limits
from fem.design.load import Load
from fem.design.mains import Mains
from fem.design.pulses import Pulses
from fem.design.shop import Shop
from fem.design.told import takes_tolerance, tolerances
from fem.design.typical import LeftOut, Taken, filled, fillings, left_out, taken
from fem.design.wish import Wish
from fem.design.work_piece import WorkPieceDescription
from fem.materials.metals import metal_names
from fem.materials.steel import steel_names
from geometries.cores.kinds import AnyCore, Core
from geometries.cores.shunt import Shunt
from geometries.described.faults import Description, described, not_known, refused, unknown
from geometries.described.quantities import Between, Temperature
from geometries.windings.arrangement import Windings

_OfSheet = TypeVar("_OfSheet", bound=AnyCore | Shunt)


def _known_steel(part: _OfSheet) -> _OfSheet:
    if part.steel is not None and part.steel not in steel_names():
        text = not_known(part.steel, steel_names(), "steel")
        raise _refused_at({("steel",): text}, part.steel)
    return part


def _known_metals(windings: Windings) -> Windings:
    texts: dict[tuple[str, ...], str] = {}
    for name, winding in (("primary", windings.primary), ("secondary", windings.secondary)):
        if winding.material not in metal_names():
            text = not_known(winding.material, metal_names(), "metal")
            texts[(name, "material")] = text
    if texts:
        raise _refused_at(texts, None)
    return windings


def _refused_at(texts: Mapping[tuple[str, ...], str], value: object) -> ValidationError:
    """Return an error for a validator to raise, each text at its own key."""
    details = [InitErrorDetails(type=refused(text), loc=key, input=value) for key, text in texts.items()]
    return ValidationError.from_exception_data("Design", details)


class Design(Description):
    """A transformer with its mains, leads and load.

    Parameters
    ----------
    title
        For headings.
    mains, core, windings, shunt, leads, load, work_piece, duty, pulses, limits
        See each. Without leads the lead ends are the secondary's own; without a load, a work piece or a duty none is
        computed.
    temperature
        Of windings and leads for the resistances [K].
    shop, wish
        What there is to wind a secondary with, and what it is wanted to do; no estimate takes any of it.
    """

    title: str = "Untitled"
    mains: Mains
    core: Annotated[Core, AfterValidator(_known_steel)]
    windings: Annotated[Windings, AfterValidator(_known_metals)]
    shunt: Annotated[Shunt, AfterValidator(_known_steel)] | None = None
    leads: Leads | None = None
    load: Load | None = None
    work_piece: WorkPieceDescription | None = None
    duty: Duty | None = None
    pulses: Pulses | None = None
    limits: Limits = Limits()
    temperature: Annotated[Temperature, Between(233.15, 523.15, "degC")] = REFERENCE_TEMPERATURE
    shop: Shop | None = None
    wish: Wish | None = None

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, data: Any, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo) -> Self:
        """Fill in what follows from other parts; it does not count as given (`model_fields_set`)."""
        found = fillings(data, info.context) if isinstance(data, Mapping) else {}
        if not found:
            return handler(data)
        design = handler(filled(data, info.context))
        for *parents, last in found:
            reduce(getattr, parents, cast("Any", design)).model_fields_set.discard(last)
        return design

    @model_validator(mode="after")
    def _has_a_secondary(self) -> Self:
        ring = None if self.work_piece is None else self.work_piece.ring
        if "secondary" not in self.windings.model_fields_set and ring is None:
            raise _refused_at({("windings", "secondary"): "missing"}, None)
        return self

    @model_validator(mode="after")
    def _wish_has_an_aim(self) -> Self:
        target = None if self.work_piece is None else self.work_piece.target_temperature
        if self.wish is not None and self.wish.heat_within is not None and target is None:
            raise _refused_at(
                {("wish", "heat_within"): "needs work_piece.target_temperature: heated up to what?"}, None
            )
        return self

    @model_validator(mode="after")
    def _tolerances_have_an_effect(self) -> Self:
        text = "takes no tolerance: its doubt enters no band; write the number alone"
        odd = {tuple(key.split(".")): text for key in tolerances(self) if key not in takes_tolerance()}
        if odd:
            raise _refused_at(odd, None)
        return self

    @property
    def taken(self) -> tuple[Taken, ...]:
        """What was taken in place of what is not told, in the order of a job file."""
        return taken(self)

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Sections that are not described, each with what therefore is not told."""
        return left_out(self)

    @property
    def fitted_shunt(self) -> Shunt | None:
        """The shunts, where there are any and they are in place."""
        return self.shunt if self.shunt is not None and self.shunt.fitted else None

    def vary(self, path: str, value: object) -> Design:
        """Return a validated copy with one key changed.

        Parameters
        ----------
        path
            Dotted key, as in a job file: "windings.secondary.turns".
        value
            SI number or string with a unit; None removes an optional key.

        Raises
        ------
        KeyError, pydantic.ValidationError
            As `varied`.
        """
        return self.varied({path: value})

    def varied(self, changes: Mapping[str, object]) -> Design:
        """Return a validated copy with several keys changed at once, each as by `vary`.

        Raises
        ------
        KeyError
            If there is no such key.
        pydantic.ValidationError
            If the copy is not valid.
        """
        given = self.model_dump(exclude_unset=True)
        for path, value in changes.items():
            self._set(given, path, value)
        return Design.model_validate(given)

    def _set(self, table: dict[str, Any], path: str, value: object) -> None:
        """Write a value into this design's tables, or remove it."""
        *parents, last = path.split(".")
        here: Any = self
        model: Any = type(self)
        for name in parents:
            # what is there says which of several models; where nothing is, the annotation does
            here = getattr(here, name, None)
            model = type(here) if isinstance(here, Description) else _submodel(model, name, path)
            if not isinstance(table.get(name), dict):
                table[name] = {}
            table = table[name]
        if last not in model.model_fields:
            msg = f"{path}: {unknown(last, model.model_fields, 'key')}"
            raise KeyError(msg)
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value


def _submodel(model: Any, name: str, path: str) -> Any:
    """Return the model behind a key that holds a table."""
    if name not in model.model_fields:
        msg = f"{path}: {unknown(name, model.model_fields, 'key')}"
        raise KeyError(msg)
    found = next(described(model.model_fields[name].annotation), None)
    if found is None:
        msg = f"{path}: {name} holds no further keys"
        raise KeyError(msg)
    return found


def as_given(design: Design) -> Mapping[str, Any]:
    """Return what the user gave, without defaults, as plain SI values and strings (for a digest and for JSON)."""
    return design.model_dump(mode="json", exclude_unset=True)
