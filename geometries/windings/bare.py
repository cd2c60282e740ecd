"""Reading a bare conductor, or an outside size, from what a description gives."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import pi
from typing import Any

from geometries.described.faults import shown
from geometries.described.quantities import AREA, LENGTH, Dimension, QuantityError, format_quantity, parse_quantity
from geometries.windings.wire import (
    COPPER_CONDUCTIVITY,
    awg_area,
    awg_diameter,
    awg_name,
    awg_number,
    flexible_resistances,
    round_diameter,
)

STRAND_FILL = 0.58
"""Copper in the circle round a flexible stranded conductor [-]: typical, from memory; 0.52 to 0.65 is found."""

AWG_STRANDING = 1.05
"""Resistance of stranded cable against the solid wire of its gauge [-]: 1.02 to 1.08, from memory."""

FLEXIBLE_RATIO = 1.13
"""Largest resistance of class 5 cable against 1/58 ohm mm2/m over its nominal area [-].

The mean over the sizes of IEC 60228:2004, table 3; it spans 1.10 to 1.16.
"""

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


def size_given(value: Any) -> Given:
    """Return what was given for a size, or its text where it can be none: a table or a date makes the same message."""
    given = tuple(value) if isinstance(value, list) else value
    parts = given if isinstance(given, tuple) else (given,)
    plain = all(isinstance(part, str | int | float) for part in parts)
    return given if plain else repr(value)


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
        elif isinstance(given, str) and not _is(given, LENGTH) and _is(given, AREA):  # lengths are the quicker to tell
            diameter = round_diameter(parse_quantity(given, AREA))
            label = f"{_mm(diameter)} wire"
        else:
            try:
                diameter = parse_quantity(given, LENGTH, unit_needed=unit_needed)
            except QuantityError:
                examples = '"1.6 mm", "2 mm2" or "14 AWG"'
                msg = f"expected a diameter, an area or a gauge, such as {examples}; got {shown(given)}"
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
            msg = f'expected an area or a gauge, such as "70 mm2" or "2/0 AWG"; got {shown(given)}'
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


def _two_lengths(given: Given, unit_needed: bool) -> tuple[float, float]:
    parts = re.split(r"[x×]", given) if isinstance(given, str) else given
    if not isinstance(parts, list | tuple) or len(parts) != 2:
        msg = f'expected width x thickness, such as "8 mm x 2 mm"; got {shown(given)}'
        raise QuantityError(msg)
    width, thickness = (parse_quantity(part, LENGTH, unit_needed=unit_needed) for part in parts)
    _check_size(width, given)
    _check_size(thickness, given)
    return width, thickness


def _check_size(length: float, given: Given) -> None:
    if not SMALLEST <= length <= LARGEST:
        msg = f"{shown(given)}: {format_quantity(length, 'm')} is outside {_mm(SMALLEST)} to {_mm(LARGEST)}"
        raise ValueError(msg)


def _is(text: str, dimension: Dimension) -> bool:
    try:
        parse_quantity(text, dimension)
    except QuantityError:
        return False
    return True


def _mm(length: float) -> str:
    return f"{length * 1e3:.4g} mm"
