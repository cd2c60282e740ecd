"""How large a section's elements are to be: small at iron corners and in joints, growing away from them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil, inf, isfinite, pi

from geometries.shapes.section import GRID, Region, Role, Section, Shape

_COARSEST = 1 / 7
"""Largest element of level 0, as a share of the built part's larger side. A half section counts with twice its larger
side: it is meshed coarser than the whole, and still keeps the flux within 0.1 % (tests/physics/test_field_error.py)."""
_CORNER = 1 / 80
"""Element at an iron corner of level 0, as a share of the same."""
_SLENDER = 2.5
"""The larger side counts as at most that many times the smaller one: the field round a slender core goes by that."""
_ACROSS_IRON = 5
"""Elements at a corner for the width of the narrowest leg or yoke; in common proportions there are 6 to 18."""
_GROWTH = 0.7
"""Growth of the element size with the distance from the nearest iron corner, level 0."""
_FEWEST_SIDES = 24
"""Sides of the polygon that stands for a disc, level 0: a multiple of four, so that it is symmetric both ways."""
_SIZED_GROWTH = 0.5
"""Growth of the element size with the distance from a region of given element size, level 0."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sizes:
    """Element sizes of a section at one level.

    Parameters
    ----------
    corners
        Points (x, y) [m] by the element size wanted at them [m].
    regions
        Element size wanted in some regions, by their names [m].
    largest
        Anywhere within the built part [m].
    outside
        Anywhere outside of it [m].
    scale
        Up to which size elements grow from corners, and the larger side of the built part [m].
    built
        x0, y0, x1, y1 of the rectangle round all regions [m].
    growth, region_growth
        Of the element size with the distance from the nearest corner and from a region of given size [-].

    Notes
    -----
    With d the distance from a corner c or a region r, the size at a point is

        h = min(min_c(h_c + growth d_c), min_r(h_r + region_growth d_r), h_built),

    where h_built is `largest` within the built part and rises to `outside` away from it.
    """

    corners: Mapping[float, frozenset[tuple[float, float]]]
    regions: Mapping[str, float]
    largest: float
    outside: float
    scale: float
    built: tuple[float, float, float, float]
    growth: float
    region_growth: float


def sizes_of(section: Section, level: int, regions: Mapping[str, float]) -> Sizes:
    """Return the element sizes of a section.

    Parameters
    ----------
    section
        What is to be meshed.
    level
        Each halves the elements and cuts those at iron corners by eight.
    regions
        As `region_sizes` returns them.
    """
    x0, y0, x1, y1 = section.outline
    xs = [v for r in section.regions for v in (r.x0, r.x1)] or [x0, x1]
    ys = [v for r in section.regions for v in (r.y0, r.y1)] or [y0, y1]
    sides = max(xs) - min(xs), max(ys) - min(ys)
    scale = max(sides) * (2.0 if section.halved else 1.0)
    narrowest, slender = _narrowest_iron(section), scale
    if isfinite(narrowest):  # bars in a wide field of air are no slender core
        slender = min(scale, _SLENDER * min(sides[0] * (2.0 if section.halved else 1.0), sides[1]))
    largest = slender * _COARSEST / 2**level
    corner = min(scale * _CORNER, narrowest / _ACROSS_IRON) / 8**level
    # Outside the built part the corners alone let elements grow, at the same rate as far as a distant outline goes.
    distance_out = max(min(xs) - x0, x1 - max(xs), min(ys) - y0, y1 - max(ys))
    return Sizes(
        corners=_corner_sizes(section, corner, level),
        regions=regions,
        largest=largest,
        outside=max(3 * largest, distance_out / 6 / 2**level),
        scale=scale,
        built=(min(xs), min(ys), max(xs), max(ys)),
        growth=_GROWTH / 2**level,
        region_growth=_SIZED_GROWTH / 2**level,
    )


def region_sizes(section: Section, sizes: Mapping[str, float], level: int) -> dict[str, float]:
    """Return the element size [m] wanted in each region that has one of its own: all discs and those named in `sizes`.

    Raises
    ------
    ValueError
        If a size is not positive or names no region.
    """
    if unknown := set(sizes) - {r.name for r in section.regions}:
        msg = f"element sizes for {sorted(unknown)}, which the section does not have"
        raise ValueError(msg)
    wanted = {r.name: pi * (r.x1 - r.x0) / _FEWEST_SIDES for r in section.regions if r.shape is Shape.DISC}
    for name, size in sizes.items():
        if not size > 0:
            msg = f"element size of {name!r} must be above 0, got {size!r}"
            raise ValueError(msg)
        wanted[name] = min(size, wanted.get(name, size))
    return {name: size / 2**level for name, size in wanted.items()}


def sides_of(disc: Region, size: float) -> int:
    """Return the sides [-] of the polygon that stands for a disc, so that none is longer than `size` [m]."""
    return max(_FEWEST_SIDES, 4 * ceil(pi * (disc.x1 - disc.x0) / size / 4))


def _narrowest_iron(section: Section) -> float:
    """Return the least width of a leg or yoke [m]; infinite without iron."""
    widths = [
        side
        for r in section.regions
        if r.role is Role.IRON
        for side in ((r.x1 - r.x0) * (2.0 if section.halved and r.x0 <= GRID else 1.0), r.y1 - r.y0)
    ]
    return min(widths, default=inf)


def _corner_sizes(section: Section, corner: float, level: int) -> dict[float, frozenset[tuple[float, float]]]:
    """Return the element size wanted at each corner of iron; at a narrow joint no larger than the joint."""
    sizes: dict[tuple[float, float], float] = {}
    for r in section.regions:
        if r.role in (Role.IRON, Role.SHUNT):
            for p in _corners(r):
                sizes.setdefault(p, corner)
    for r in section.regions:
        # a gap in the leg is air with iron's corners
        if r.role is Role.JOINT or (
            r.role is Role.AIR and r.shape is Shape.RECTANGLE and set(_corners(r)) <= set(sizes)
        ):
            narrow = min(r.x1 - r.x0, r.y1 - r.y0)
            for p in _corners(r):
                sizes[p] = min(sizes.get(p, corner), max(narrow / 2**level, corner / 8))
    for r in section.regions:
        if r.role is Role.SHUNT:
            narrow = _gap_beside(r, section)
            for p in _corners(r):
                sizes[p] = min(sizes.get(p, corner), max(narrow / 2**level, corner / 8))
    grouped: dict[float, set[tuple[float, float]]] = {}
    for p, size in sizes.items():
        if not (section.halved and p[0] <= GRID):  # corners on the mirror line are none
            grouped.setdefault(size, set()).add(p)
    return {size: frozenset(points) for size, points in grouped.items()}


def _gap_beside(r: Region, section: Section) -> float:
    """Return the narrowest gap between a shunt and iron to its left or right [m]; its own width where there is none."""
    gaps = [
        max(other.x0 - r.x1, r.x0 - other.x1)
        for other in section.regions
        if other.role is Role.IRON and other.y0 < r.y1 and other.y1 > r.y0
    ]
    return min((gap for gap in gaps if gap > GRID), default=r.x1 - r.x0)


def _corners(r: Region) -> list[tuple[float, float]]:
    return [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)]
