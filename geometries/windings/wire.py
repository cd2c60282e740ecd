"""Wire and cable sizes: American wire gauge, IEC 60228 conductors, enamelled wire."""

from __future__ import annotations

import re
from functools import lru_cache
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

from geometries.described.tables import table_rows

COPPER_CONDUCTIVITY = 58e6
"""Of standard annealed copper at 20 degC [S/m], IEC 60028: 1/58 ohm mm2/m."""

_AWG = re.compile(r"\s*(?:(?:AWG|#)\s*)?([0-9]/0|[0-9]{1,4})\s*(?:AWG|ga)?\s*", re.IGNORECASE)


def awg_number(designation: str) -> int | None:
    """Return the gauge number of "14 AWG", "AWG 14" or "2/0 AWG" (-1), or None if the text is no gauge designation."""
    match = _AWG.fullmatch(designation)
    if match is None or not re.search(r"AWG", designation, re.IGNORECASE):
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


def round_diameter(area: float) -> float:
    """Return the diameter of a circle of this area [m2] [m]."""
    return sqrt(4 * area / pi)
