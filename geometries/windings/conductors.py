"""What a winding is wound with: round wire, strip, or stranded cable."""

from __future__ import annotations

from typing import Any, Self

from pydantic import ConfigDict, ValidationInfo, ValidatorFunctionWrapHandler, field_validator, model_validator

from geometries.described.faults import Description, refused, shown
from geometries.described.quantities import QuantityError, format_quantity
from geometries.described.tolerances import ToldText
from geometries.windings.wire import (
    Bare,
    Given,
    enamelled_diameter,
    read_bare,
    read_outside,
    round_diameter,
    size_and_tolerance,
    size_given,
)

CABLE_OUTSIDE_RATIO = 1.4
"""Outside diameter of an insulated cable against its bare conductor [-]."""

STRIP_ENAMEL = 0.15e-3
"""Growth of each dimension of enamelled strip, grade 2 [m]: after IEC 60317-0-2."""


KINDS = ("round", "strip", "cable")


class Conductor(Description):
    """One conductor of a winding; give exactly one of `round`, `strip` and `cable`.

    Parameters
    ----------
    round
        Solid round wire: its bare diameter "1.6 mm" (or [m]), its area "2 mm2", or its gauge "14 AWG".
    strip
        Rectangular: "8 mm x 2 mm", width along the leg by thickness across the build (or a pair [m]).
    cable
        Flexible stranded: its nominal area "70 mm2" (or [m2]), or its gauge "2/0 AWG".
    insulated
        Outside size: a diameter "2.6 mm", or for a strip "8.4 mm x 2.4 mm"; a typical one where not given.
    """

    round: str | float | None = None
    strip: str | tuple[float, float] | None = None
    cable: str | float | None = None
    insulated: str | float | tuple[float, float] | None = None

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": [kind]} for kind in KINDS]})

    @field_validator(*KINDS, "insulated", mode="wrap")
    @classmethod
    def _readable(cls, value: Any, handler: ValidatorFunctionWrapHandler, info: ValidationInfo) -> Any:
        if value is None:
            return None
        unit_needed = bool(info.context and info.context.get("job_file"))
        try:
            value, within = size_and_tolerance(str(info.field_name), value)
            given = size_given(value)
            if info.field_name == "insulated":
                read_outside(given, unit_needed)
            else:
                read_bare(str(info.field_name), given, unit_needed)
        except (QuantityError, ValueError) as error:
            raise refused(str(error)) from None
        found = handler(given)
        return found if within is None else ToldText(found, within)

    @model_validator(mode="after")
    def _check(self) -> Self:
        given = [name for name in KINDS if getattr(self, name) is not None]
        if len(given) != 1:
            what = f"{' and '.join(given)} given" if given else "none given"
            msg = f"give exactly one of round, strip and cable; {what}"
            raise ValueError(msg)
        bare = self._bare
        got = shown(self.insulated)
        if self.insulated is not None and self.strip is None and isinstance(_outside(self.insulated), tuple):
            msg = f'insulated: a {given[0]} conductor has one outside diameter, such as "2.6 mm"; got {got}'
            raise ValueError(msg)
        if self.strip is not None and isinstance(_outside(self.insulated), float):
            msg = f'insulated: a strip has two outside dimensions, such as "8.4 mm x 2.4 mm"; got {got}'
            raise ValueError(msg)
        for name, outside, inside in (
            ("across the build", self.insulated_width, bare.width),
            ("along the leg", self.insulated_height, bare.height),
        ):
            # Cable: the bare size is itself an estimate from a typical fill, so only less than solid is absurd.
            least = round_diameter(self.area) if self.cable is not None else inside
            if outside < least * (1 - 1e-9):
                msg = (
                    f"insulated {format_quantity(outside, 'm')} {name} is less than the bare conductor's "
                    f"{format_quantity(least, 'm')}"
                )
                raise ValueError(msg)
        return self

    @property
    def _bare(self) -> Bare:
        for name in KINDS:
            if (given := getattr(self, name)) is not None:
                return read_bare(name, given)
        msg = "no conductor given"
        raise AssertionError(msg)

    @property
    def area(self) -> float:
        """Nominal conductor area [m2]; a strip's corners count as square."""
        return self._bare.area

    @property
    def conducting_area(self) -> float:
        """Area that gives the d.c. resistance with the metal's own resistivity [m2]."""
        return self._bare.conducting_area

    @property
    def bare_width(self) -> float:
        """Bare size across the build [m]."""
        return self._bare.width

    @property
    def bare_height(self) -> float:
        """Bare size along the leg [m]."""
        return self._bare.height

    @property
    def insulated_width(self) -> float:
        """Outside size across the build [m]."""
        return self._insulated[0]

    @property
    def insulated_height(self) -> float:
        """Outside size along the leg [m]."""
        return self._insulated[1]

    @property
    def _insulated(self) -> tuple[float, float]:
        outside = _outside(self.insulated)
        if isinstance(outside, tuple):
            return outside[1], outside[0]
        if outside is not None:
            return outside, outside
        bare = self._bare
        if self.strip is not None:
            return bare.width + STRIP_ENAMEL, bare.height + STRIP_ENAMEL
        diameter = enamelled_diameter(bare.width) if self.round is not None else CABLE_OUTSIDE_RATIO * bare.width
        return diameter, diameter

    @property
    def circular(self) -> bool:
        """Whether its outside is a circle."""
        return self.strip is None

    @property
    def label(self) -> str:
        """Short name, such as "70 mm2 cable"."""
        return self._bare.label

    @property
    def ohms(self) -> str:
        """Whose d.c. resistance it is taken to have, in words."""
        return self._bare.ohms


def _outside(given: Given | None) -> float | tuple[float, float] | None:
    return None if given is None else read_outside(given)
