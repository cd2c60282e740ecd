"""One mesh for many sections: moved, not made anew, so that whatever knows only its topology can be kept.

Sections whose edges come in the same order along x and y have one topology; the lines between map one onto the other,
straight between neighbouring edges. The mesh that is moved is never that of another design but a canonical one: every
distance between neighbouring edges is rounded to the nearest of a few sizes in equal ratios, and the section so made is
meshed. So a mesh depends on its own section alone, whatever was meshed before, and no element is stretched by more than
the square root of that ratio either way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from math import log, sqrt

import numpy as np

from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.arrays import Floats
from geometries.shapes.section import GRID, Section, Shape

RATIO = 1.5
"""Between neighbouring canonical sizes."""
POOREST = 0.5
"""Least quality of a moved triangle as a share of what it was before; see `quality`. Stretched by up to root 1.5 along
one axis and shrunk by as much along the other, the worst keep two thirds; anything poorer is meshed anew."""
_KEPT_BASES = 128
"""Some 100 kB each."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Edges:
    """The distinct coordinates of a section's edges, rising (n,) [m]."""

    x: Floats
    y: Floats


def edges(section: Section) -> Edges:
    """Return where a section's regions and its outline begin and end; what differs by less than `GRID` is one edge."""
    x0, y0, x1, y1 = section.outline
    xs = [x0, x1, *(v for r in section.regions for v in (r.x0, r.x1))]
    ys = [y0, y1, *(v for r in section.regions for v in (r.y0, r.y1))]
    return Edges(x=_distinct(xs), y=_distinct(ys))


def topology(section: Section) -> tuple[object, ...]:
    """Return what two sections share where one's mesh can be moved onto the other: their regions by numbers of edges.

    Raises
    ------
    ValueError
        If a region is a disc, which no such map keeps round.
    """
    if any(r.shape is not Shape.RECTANGLE for r in section.regions):
        msg = "a section with discs cannot be moved onto another"
        raise ValueError(msg)
    found = edges(section)
    return (
        section.halved,
        found.x.size,
        found.y.size,
        tuple(
            (r.name, r.role, r.winding, r.sense, *_numbers(found.x, r.x0, r.x1), *_numbers(found.y, r.y0, r.y1))
            for r in section.regions
        ),
    )


def moved(base: SectionMesh, section: Section) -> SectionMesh:
    """Return a mesh moved onto another section of the same topology; the triangles' array is the same object.

    Raises
    ------
    ValueError
        If the topologies differ.
    """
    if topology(base.section) != topology(section):
        msg = "the section's edges come in another order than those of the mesh"
        raise ValueError(msg)
    old, new = edges(base.section), edges(section)
    points = np.stack([np.interp(base.points[0], old.x, new.x), np.interp(base.points[1], old.y, new.y)])
    return replace(base, points=points, section=section, base=base)


def quality(mesh: SectionMesh) -> Floats:
    """Return each triangle's area over that of the equilateral one with its root-mean-square side, signed (m,) [-]."""
    a, b, c = (mesh.points[:, mesh.triangles[k]] for k in range(3))
    u, v = b - a, c - a
    sides = (u**2).sum(0) + (v**2).sum(0) + ((c - b) ** 2).sum(0)
    return np.asarray(2 * sqrt(3) * (u[0] * v[1] - u[1] * v[0]) / sides)


def canonical(section: Section) -> Section:
    """Return the section of the same topology whose edges stand apart by rounded distances.

    Cuts stay behind: they take no part in meshing.
    """
    found = edges(section)
    x, y = _rounded(found.x), _rounded(found.y)
    regions = tuple(
        replace(
            r,
            x0=float(x[i]),
            x1=float(x[j]),
            y0=float(y[k]),
            y1=float(y[m]),
        )
        for r in section.regions
        for (i, j), (k, m) in [(_numbers(found.x, r.x0, r.x1), _numbers(found.y, r.y0, r.y1))]
    )
    outline = (float(x[0]), float(y[0]), float(x[-1]), float(y[-1]))
    return replace(section, regions=regions, outline=outline, cuts=())


def morphed_section(section: Section, *, level: int = 0) -> SectionMesh:
    """Mesh a section by moving its canonical mesh onto it; meshed anew where that would make poor triangles.

    A drop-in for `mesh_section`. All sections of one canonical section share the array of triangles. Finer levels are
    meshed anew: they are asked for where level 0 was not good enough.

    Raises
    ------
    MesherUnavailable, ValueError
        As `mesh_section`; also if a region is a disc.
    """
    if level > 0:
        return mesh_section(section, level=level)
    base = base_mesh(section)
    mesh = moved(base, section)
    if float((quality(mesh) / quality(base)).min()) < POOREST:
        return mesh_section(section)
    return mesh


def base_mesh(section: Section) -> SectionMesh:
    """Return the canonical mesh that `morphed_section` moves."""
    return _base(canonical(section))


@lru_cache(maxsize=_KEPT_BASES)
def _base(section: Section) -> SectionMesh:
    mesh = mesh_section(section)
    for values in (mesh.points, mesh.triangles, mesh.region):
        values.flags.writeable = False
    return mesh


def _distinct(values: list[float]) -> Floats:
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    return ordered[np.concatenate(([True], np.diff(ordered) > GRID))]


def _numbers(found: Floats, first: float, last: float) -> tuple[int, int]:
    i, j = (int(np.abs(found - value).argmin()) for value in (first, last))
    return i, j


def _rounded(found: Floats) -> Floats:
    """Return edges apart by rounded distances; the one nearest to 0, where the mirror line is, stays there."""
    steps = np.array([RATIO ** round(log(d) / log(RATIO)) for d in np.diff(found)])
    at = np.concatenate(([0.0], np.cumsum(steps)))
    return np.asarray(at - at[np.abs(found).argmin()])
