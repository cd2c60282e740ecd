"""Wire and cable: sizes by gauge, IEC 60228 and enamel, and the bare conductor that a description gives."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import pi, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from geometries.described.faults import shown
from geometries.described.quantities import (
    AREA,
    LENGTH,
    NUMBER,
    Dimension,
    QuantityError,
    format_quantity,
    parse_quantity,
    split_quantity,
    units_of,
)
from geometries.described.spellings import comma_hint
from geometries.described.tables import table_rows
from geometries.described.tolerances import ToldText, ToleranceError, half_width, split_tolerance

COPPER_CONDUCTIVITY = 58e6
"""Of standard annealed copper at 20 degC [S/m], IEC 60028: 1/58 ohm mm2/m."""

STRAND_FILL = 0.58
"""Copper in the circle round a flexible stranded conductor [-]."""

AWG_STRANDING = 1.05
"""Resistance of stranded cable against the solid wire of its gauge [-]."""

Given = str | float | tuple[float, float]

SMALLEST, LARGEST = 0.05e-3, 0.1

BY = re.compile(r"[x×X]|\bby\b")
_AWG = re.compile(r"\s*(?:(?:AWG|#)\s*)?([0-9]/0|[0-9]{1,4})\s*(?:AWG|ga)?\s*", re.IGNORECASE)


def awg_number(designation: str) -> int | None:
    """Return the gauge number of "14 AWG", "AWG 14", "2/0 AWG" or "2/0" (-1), or None if the text is no gauge."""
    match = _AWG.fullmatch(designation)
    # a number alone may be of another gauge, or a length that lacks its unit; aughts alone are cable's
    if match is None or not re.search(r"AWG|^\s*[1-9]/0\s*$", designation, re.IGNORECASE):
        return None
    size = match.group(1)
    if size.endswith("/0"):
        number = 1 - int(size[0])
    elif set(size) == {"0"}:
        number = 1 - len(size)
    else:
        number = int(size)
    return number


def awg_name(number: int) -> str:
    """Return the usual name of a gauge number: 14 is "14 AWG", -1 is "2/0 AWG"."""
    return f"{1 - number}/0 AWG" if number < 1 else f"{number} AWG"


def awg_diameter(number: int) -> float:
    """Return the diameter of a solid wire of this gauge number (-3 for 4/0 to 40) [m].

    Notes
    -----
    ``d = 0.005 in * 92**((36 - n) / 39)``: 39 equal ratios between 0.460 in (4/0) and 0.005 in (36).

    References
    ----------
    ASTM B258, standard specification for nominal diameters of AWG sizes.

    Raises
    ------
    ValueError
        If the gauge is outside 4/0 to 40.
    """
    if not -3 <= number <= 40:
        msg = f"{number if number > 0 else awg_name(number)}: AWG sizes from 4/0 to 40 are known"
        raise ValueError(msg)
    return float(0.005 * 0.0254 * 92 ** ((36 - number) / 39))


def awg_area(number: int) -> float:
    """Return the cross-section of a solid wire of this gauge number [m2]."""
    return pi / 4 * awg_diameter(number) ** 2


@lru_cache(maxsize=1)
def flexible_resistances() -> dict[float, float]:
    """Return the largest d.c. resistance at 20 degC of flexible (class 5) plain copper by nominal area [mm2: ohm/m].

    References
    ----------
    IEC 60228:2004, table 3.
    """
    return {
        float(row["area_mm2"]): float(row["class5_ohm_per_km"]) / 1e3 for row in table_rows(__package__, "iec60228.csv")
    }


@lru_cache(maxsize=1)
def _enamel() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = table_rows(__package__, "enamelled_wire.csv")
    bare = np.array([float(row["bare_mm"]) for row in rows])
    return bare, np.array([float(row["overall_mm"]) for row in rows]) - bare


def enamelled_diameter(bare: float) -> float:
    """Return the largest overall diameter of enamelled wire, grade 2, of this bare diameter [m].

    Notes
    -----
    After IEC 60317-0-1, rows from memory; between them the growth is interpolated over the logarithm of the diameter,
    beyond them it is held.
    """
    sizes, growth = _enamel()
    return bare + float(np.interp(np.log(bare * 1e3), np.log(sizes), growth)) / 1e3


def flexible_ratio(area: float) -> float:
    """Return the largest resistance of flexible copper cable over 1/58 ohm mm2/m over its nominal area [m2] [-].

    Notes
    -----
    Of a size of IEC 60228, class 5, that of the standard; between sizes on a line over the logarithm of the area, as
    such cable is made of its neighbours' strands; beyond them that of the last. All of them are 1.10 to 1.16.
    """
    sizes = np.array(list(flexible_resistances().items()))
    ratios = COPPER_CONDUCTIVITY * 1e-6 * sizes[:, 0] * sizes[:, 1]
    return float(np.interp(np.log(area * 1e6), np.log(sizes[:, 0]), ratios))


def round_diameter(area: float) -> float:
    """Return the diameter of a circle of this area [m2] [m]."""
    return sqrt(4 * area / pi)


@dataclass(frozen=True, slots=True)
class Bare:
    """A bare conductor: size across build and along leg [m], nominal and conducting area [m2]; its ohms in words."""

    width: float
    height: float
    area: float
    conducting_area: float
    label: str
    ohms: str = "of its section"


def size_given(value: Any) -> Given:
    """Return what was given for a size, or its text where it can be none: a table or a date makes the same message."""
    given = tuple(value) if isinstance(value, list) else value
    parts = given if isinstance(given, tuple) else (given,)
    plain = all(isinstance(part, str | int | float) for part in parts)
    return given if plain else repr(value)


def size_and_tolerance(kind: str, value: Any) -> tuple[Any, float | None]:
    """Return what was given for a size without its tolerance, and that [m], which only a round wire's diameter has.

    Raises
    ------
    ToleranceError
        If it is no tolerance, or the size no diameter.
    """
    if isinstance(value, ToldText):
        return str(value), value.within
    parts = split_tolerance(value) if isinstance(value, str) else None
    if parts is None:
        return value, None
    nominal, tolerance = parts
    if kind != "round" or not _is(nominal, LENGTH):
        msg = f"{shown(value)}: of conductors only a round wire's diameter takes a tolerance"
        raise ToleranceError(msg)
    return nominal, half_width(value, nominal, tolerance, _length, signed=False, units=units_of(LENGTH))


def _length(text: str) -> float:
    return parse_quantity(text, LENGTH)


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
                msg = f"expected a diameter, an area or a gauge, such as {examples}; got {_got(given)}"
                raise QuantityError(msg) from None
            label = f"{_mm(diameter)} wire"
        _check_size(diameter, given)
        area = pi / 4 * diameter**2
        return Bare(diameter, diameter, area, area, label)
    if gauge is not None:
        area = awg_area(gauge)
        conducting, label = area / AWG_STRANDING, f"{awg_name(gauge)} cable"
        ohms = f"{AWG_STRANDING:g} times the solid wire's, for stranding"
    else:
        try:
            area = parse_quantity(given, AREA, unit_needed=unit_needed)
        except QuantityError:
            msg = f'expected an area or a gauge, such as "70 mm2" or "2/0 AWG"; got {_got(given)}'
            raise QuantityError(msg) from None
        label = f"{area * 1e6:.4g} mm2 cable"
        if not area > 0:
            msg = f"a cable of {label[:-6]} has no conductor"
            raise ValueError(msg)
        ratio = flexible_ratio(area)
        conducting, named = area / ratio, round(area * 1e6, 6) in flexible_resistances()
        ohms = f"{ratio:.3f} times its section's, {'the most of IEC 60228' if named else 'as sizes beside it'}, class 5"
    diameter = round_diameter(area / STRAND_FILL)
    _check_size(diameter, given)
    return Bare(diameter, diameter, area, conducting, label, ohms)


def _got(given: Given) -> str:
    hint = comma_hint(given) if isinstance(given, str) else ""
    return ": ".join(filter(None, (shown(given), hint)))


def read_outside(given: Given, unit_needed: bool = False) -> float | tuple[float, float]:
    """Read an outside diameter, or width and thickness [m].

    Raises
    ------
    ValueError
        If it cannot be read or has a size no winding has.
    """
    if isinstance(given, tuple) or (isinstance(given, str) and BY.search(given)):
        return _two_lengths(given, unit_needed)
    diameter = parse_quantity(given, LENGTH, unit_needed=unit_needed)
    _check_size(diameter, given)
    return diameter


def _two_lengths(given: Given, unit_needed: bool) -> tuple[float, float]:
    parts: Any = BY.split(given) if isinstance(given, str) else given
    if not isinstance(parts, list | tuple) or len(parts) != 2:
        msg = f'expected width x thickness, such as "8 mm x 2 mm"; got {shown(given)}'
        raise QuantityError(msg)
    if (
        isinstance(given, str)
        and re.fullmatch(rf"\s*{NUMBER}\s*", parts[0])
        and (told := split_quantity(parts[1].strip()))
    ):
        parts = [f"{parts[0]} {told[1]}", parts[1]]  # "8 x 2 mm"
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
