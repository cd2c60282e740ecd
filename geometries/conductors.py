"""What a winding is wound with: round wire, strip, or stranded cable."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any, Self

from pydantic import ValidationInfo, field_validator, model_validator

from geometries.errors import Description, refused
from geometries.quantities import AREA, LENGTH, Dimension, QuantityError, format_quantity, parse_quantity
from geometries.wire_sizes import (
    COPPER_CONDUCTIVITY,
    awg_area,
    awg_diameter,
    awg_name,
    awg_number,
    enamelled_diameter,
    flexible_resistances,
    round_diameter,
)

STRAND_FILL = 0.58
"""Copper in the circle round a flexible stranded conductor [-]: typical, from memory; 0.52 to 0.65 is found."""

CABLE_OUTSIDE_RATIO = 1.4
"""Outside diameter of an insulated cable against its bare conductor [-]: typical, from memory.

1.25 (thin PVC) to 1.6 (small welding cable) is found.
"""

AWG_STRANDING = 1.05
"""Resistance of stranded cable against the solid wire of its gauge [-]: 1.02 to 1.08, from memory."""

FLEXIBLE_RATIO = 1.13
"""Largest resistance of class 5 cable against 1/58 ohm mm2/m over its nominal area [-].

The mean over the sizes of IEC 60228:2004, table 3; it spans 1.10 to 1.16.
"""

STRIP_ENAMEL = 0.15e-3
"""Growth of each dimension of enamelled strip, grade 2 [m]: after IEC 60317-0-2, from memory."""

Given = str | float | tuple[float, float]

SMALLEST, LARGEST = 0.05e-3, 0.1


@dataclass(frozen=True, slots=True)
class Bare:
    """A bare conductor: size across the build and along the leg [m], nominal and conducting area [m2]."""

    width: float
    height: float
    area: float
    conducting_area: float
    label: str
    assumptions: tuple[str, ...] = ()


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
        Outside size: a diameter "2.6 mm", or for a strip "8.4 mm x 2.4 mm"; a typical one where not given, which
        `assumptions` states.
    """

    round: str | float | None = None
    strip: str | tuple[float, float] | None = None
    cable: str | float | None = None
    insulated: str | float | tuple[float, float] | None = None

    @field_validator("round", "strip", "cable", "insulated", mode="before")
    @classmethod
    def _readable(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None:
            return None
        given = tuple(value) if isinstance(value, list) else value
        unit_needed = bool(info.context and info.context.get("job_file"))
        try:
            if info.field_name == "insulated":
                read_outside(given, unit_needed)
            else:
                read_bare(str(info.field_name), given, unit_needed)
        except (QuantityError, ValueError) as error:
            raise refused(str(error)) from None
        return given

    @model_validator(mode="after")
    def _check(self) -> Self:
        given = [name for name in ("round", "strip", "cable") if getattr(self, name) is not None]
        if len(given) != 1:
            what = f"{' and '.join(given)} given" if given else "none given"
            msg = f"give exactly one of round, strip and cable; {what}"
            raise ValueError(msg)
        bare = self._bare
        if self.insulated is not None and self.strip is None and isinstance(_outside(self.insulated), tuple):
            msg = f'insulated: a {given[0]} conductor has one outside diameter, such as "2.6 mm"; got {self.insulated}'
            raise ValueError(msg)
        if self.strip is not None and isinstance(_outside(self.insulated), float):
            msg = f'insulated: a strip has two outside dimensions, such as "8.4 mm x 2.4 mm"; got {self.insulated}'
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
        for name in ("round", "strip", "cable"):
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
    def assumptions(self) -> tuple[str, ...]:
        """What was assumed because it was not given, one sentence each."""
        found = self._bare.assumptions
        if self.insulated is not None:
            return found
        size = format_quantity(self.insulated_width, "m")
        if self.round is not None:
            text = f"{self.label}: {size} over the enamel, grade 2 (from memory)"
        elif self.strip is not None:
            text = (
                f"{self.label}: {format_quantity(STRIP_ENAMEL, 'm')} added to each dimension for enamel (from memory)"
            )
        else:
            text = (
                f"{self.label}: outside diameter {size} taken as {CABLE_OUTSIDE_RATIO:g} times the bare conductor "
                "(typical, from memory); measure the cable and give insulated"
            )
        return (*found, text)


@lru_cache(maxsize=512)
def read_bare(kind: str, given: Given, unit_needed: bool = False) -> Bare:
    """Read the bare conductor from what was given for `round`, `strip` or `cable`.

    Raises
    ------
    ValueError
        If it cannot be read or has a size no winding has.
    """
    if kind == "strip":
        width, thickness = _two_lengths(given, unit_needed)
        label = f"{_mm(width)} x {_mm(thickness)} strip"
        return Bare(thickness, width, width * thickness, width * thickness, label)
    gauge = awg_number(given) if isinstance(given, str) else None
    if kind == "round":
        if gauge is not None:
            diameter, label = awg_diameter(gauge), f"{awg_name(gauge)} wire"
        elif isinstance(given, str) and _is(given, AREA):
            diameter = round_diameter(parse_quantity(given, AREA))
            label = f"{_mm(diameter)} wire"
        else:
            try:
                diameter = parse_quantity(given, LENGTH, unit_needed=unit_needed)
            except QuantityError:
                examples = '"1.6 mm", "2 mm2" or "14 AWG"'
                msg = f"expected a diameter, an area or a gauge, such as {examples}; got {_shown(given)}"
                raise QuantityError(msg) from None
            label = f"{_mm(diameter)} wire"
        _check_size(diameter, given)
        area = pi / 4 * diameter**2
        return Bare(diameter, diameter, area, area, label)
    if gauge is not None:
        area = awg_area(gauge)
        conducting, label = area / AWG_STRANDING, f"{awg_name(gauge)} cable"
        doubts: tuple[str, ...] = (
            f"{label}: resistance {AWG_STRANDING:g} times the solid wire's (stranding: 1.02 to 1.08, from memory)",
        )
    else:
        try:
            area = parse_quantity(given, AREA, unit_needed=unit_needed)
        except QuantityError:
            msg = f'expected an area or a gauge, such as "70 mm2" or "2/0 AWG"; got {_shown(given)}'
            raise QuantityError(msg) from None
        label = f"{area * 1e6:.4g} mm2 cable"
        if not area > 0:
            msg = f"a cable of {label[:-6]} has no conductor"
            raise ValueError(msg)
        resistance = flexible_resistances().get(round(area * 1e6, 6))
        conducting = area / FLEXIBLE_RATIO if resistance is None else 1 / (COPPER_CONDUCTIVITY * resistance)
        doubts = ()
        if resistance is None:
            doubts = (
                f"{label}: not a size of IEC 60228; resistance {FLEXIBLE_RATIO:g} times 1/58 ohm mm2/m over its area",
            )
    diameter = round_diameter(area / STRAND_FILL)
    _check_size(diameter, given)
    return Bare(diameter, diameter, area, conducting, label, doubts)


def read_outside(given: Given, unit_needed: bool = False) -> float | tuple[float, float]:
    """Read an outside diameter, or width and thickness [m].

    Raises
    ------
    ValueError
        If it cannot be read or has a size no winding has.
    """
    if isinstance(given, tuple) or (isinstance(given, str) and re.search(r"[x×]", given)):
        return _two_lengths(given, unit_needed)
    diameter = parse_quantity(given, LENGTH, unit_needed=unit_needed)
    _check_size(diameter, given)
    return diameter


def _outside(given: Given | None) -> float | tuple[float, float] | None:
    return None if given is None else read_outside(given)


def _two_lengths(given: Given, unit_needed: bool) -> tuple[float, float]:
    parts = re.split(r"\s*[x×]\s*", given) if isinstance(given, str) else given
    if not isinstance(parts, list | tuple) or len(parts) != 2:
        msg = f'expected width x thickness, such as "8 mm x 2 mm"; got {_shown(given)}'
        raise QuantityError(msg)
    width, thickness = (parse_quantity(part, LENGTH, unit_needed=unit_needed) for part in parts)
    _check_size(width, given)
    _check_size(thickness, given)
    return width, thickness


def _check_size(length: float, given: Given) -> None:
    if not SMALLEST <= length <= LARGEST:
        shown = format_quantity(length, "m")
        msg = f"{_shown(given)}: {shown} is outside {_mm(SMALLEST)} to {_mm(LARGEST)}"
        raise ValueError(msg)


def _is(text: str, dimension: Dimension) -> bool:
    try:
        parse_quantity(text, dimension)
    except QuantityError:
        return False
    return True


def _mm(length: float) -> str:
    return f"{length * 1e3:.4g} mm"


def _shown(given: object) -> str:
    return f'"{given}"' if isinstance(given, str) else str(given)
