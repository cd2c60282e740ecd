"""Round conductors that lie in the grooves between those of the layer before."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

from geometries.shapes.dual import root

TOLERANCE = 1e-9
"""Lengths closer than this [m] are the same: 40 mm holds ten conductors of 4 mm whatever the rounding."""

Site = tuple[float, float]


@dataclass(frozen=True, kw_only=True, slots=True)
class Nest:
    """Staggered rows of round conductors in a rectangle of a given height.

    Parameters
    ----------
    build
        Least thickness that holds them [m].
    sites
        Centres above its lower left corner, across the build and along the height [m], at that thickness.
    diameter
        Outside diameter [m].
    """

    build: float
    sites: tuple[Site, ...]
    diameter: float

    def spread(self, build: float) -> tuple[Site, ...]:
        """Return the centres spread over a thickness [m] of at least `build`, from the leg outwards, up and down."""
        radius, room = self.diameter / 2, max(build - self.diameter, 0.0)
        across = self.build - self.diameter
        centred = [
            (radius + (x - radius) * room / across if across > TOLERANCE else build / 2, y) for x, y in self.sites
        ]
        columns: dict[int, list[Site]] = {}
        for x, y in sorted(centred):
            columns.setdefault(round(x / TOLERANCE), []).append((x, y))
        return tuple(
            site for k, column in enumerate(columns.values()) for site in (column if k % 2 == 0 else reversed(column))
        )


def nest(count: int, diameter: float, height: float) -> Nest:
    """Return the thinnest of the staggered layouts of some conductors.

    Rows run along the height or across the build, evenly spread over the height; every other row is moved by half a
    pitch and may hold one conductor less. Rows are as near to each other as the diameter allows: with the pitch equal
    to the diameter the layout is hexagonal.

    Parameters
    ----------
    count
        How many [-]; the effort grows with its square.
    diameter
        Outside diameter [m].
    height
        Of the rectangle [m], at least one diameter.
    """
    room = max(height - diameter, 0.0)
    layouts = [*_along(count, diameter, room), *_across(count, diameter, room)]
    rows, pitch, spacing, upright = min(layouts, key=lambda found: _thickness(*found))
    radius = diameter / 2
    sites = [
        (radius + k * spacing, radius + (j + 0.5 * (k % 2)) * pitch) for k, row in enumerate(rows) for j in range(row)
    ]
    if not upright:
        sites = [(y, x) for x, y in sites]
    sites = sorted(sites)[:count]
    return Nest(build=max(x for x, _ in sites) + radius, sites=tuple(sites), diameter=diameter)


_Layout = tuple[tuple[int, ...], float, float, bool]
"""Conductors in each row, their pitch in it, the rows' spacing [m], and whether rows run along the height."""


def _thickness(rows: tuple[int, ...], pitch: float, spacing: float, upright: bool) -> float:
    """Return the distance between the outermost centres across the build [m]."""
    return (len(rows) - 1) * spacing if upright else max((n - 1 + 0.5 * (k % 2)) * pitch for k, n in enumerate(rows))


def _along(count: int, diameter: float, room: float) -> Iterator[_Layout]:
    """Yield layouts whose rows run along the height: each fixes the pitch, and so how near the next row comes."""
    for each in range(1, count + 1):
        for fewer in (0, 1) if each > 1 else (0,):
            gaps = each - 1 if fewer else each - 0.5
            pitch = room / gaps
            if each > 1 and pitch < diameter - TOLERANCE:
                continue
            # Two rows on they lie level again, and must not touch there either.
            spacing = max(root(max(diameter**2 - (pitch / 2) ** 2, 0.0)), diameter / 2)
            yield _rows(count, each, fewer), pitch, spacing, True


def _across(count: int, diameter: float, room: float) -> Iterator[_Layout]:
    """Yield layouts whose rows run across the build: each fixes the rows' spacing, and so their pitch."""
    for number in range(1, count + 1):
        spacing = room / (number - 1) if number > 1 else 0.0
        if number > 2 and spacing < diameter / 2 - TOLERANCE:
            return
        for fewer in (0, 1):
            each = ceil((count + fewer * (number // 2)) / number)
            if each - fewer < 1 and number > 1:
                continue
            nearest = 2 * root(max(diameter**2 - spacing**2, 0.0)) if number > 1 else 0.0
            pitch = nearest if each == 1 else max(nearest, diameter)
            yield tuple(each - fewer * (k % 2) for k in range(number)), pitch, spacing, False


def _rows(count: int, each: int, fewer: int) -> tuple[int, ...]:
    rows: list[int] = []
    while sum(rows) < count:
        rows.append(each - fewer * (len(rows) % 2))
    return tuple(rows)
