"""Standard E-I lamination sizes."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from geometries.described.faults import shown, unknown
from geometries.described.tables import table_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Lamination:
    """One E-I size; lengths in [m], `status` says how far the row can be trusted, `note` what to look out for."""

    name: str
    leg_width: float
    outer_leg_width: float
    yoke_height: float
    window_width: float
    window_height: float
    status: str
    note: str


@lru_cache(maxsize=1)
def standard_laminations() -> tuple[Lamination, ...]:
    """Return all known sizes, smallest first."""
    return tuple(
        Lamination(
            name=row["name"],
            leg_width=float(row["tongue_mm"]) / 1e3,
            outer_leg_width=float(row["side_leg_and_yoke_mm"]) / 1e3,
            yoke_height=float(row["side_leg_and_yoke_mm"]) / 1e3,
            window_width=float(row["window_width_mm"]) / 1e3,
            window_height=float(row["window_height_mm"]) / 1e3,
            status=row["status"],
            note=row["note"],
        )
        for row in table_rows(__package__, "ei_laminations.csv")
    )


def lamination(name: str) -> Lamination:
    """Return the size of that name; spaces, hyphens and case do not matter.

    Raises
    ------
    ValueError
        If there is none, with the nearest names; or if the name stands for two different shapes.
    """
    known = {_plain(found.name): found for found in standard_laminations()}
    plain = _plain(name)
    if plain == "EI150":
        msg = 'EI 150 is sold with a 40 mm and with a 50 mm leg: measure it, then write "EI 150N" (50 mm) or all sizes'
        raise ValueError(msg)
    if plain not in known:
        raise ValueError(_nearest(plain, name))
    return known[plain]


def _nearest(plain: str, name: str) -> str:
    size = re.fullmatch(r"EI([0-9]+(?:\.[0-9]+)?)[A-Z]*", plain)
    if size is None:
        return unknown(name, [found.name for found in standard_laminations()], "lamination")
    # The number in the name is the overall width in millimetres, three times the leg.
    near = sorted(standard_laminations(), key=lambda found: abs(3e3 * found.leg_width - float(size.group(1))))[:2]
    return f"unknown lamination {shown(name)}; the nearest are {' and '.join(found.name for found in near)}"


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]", "", name).upper()
