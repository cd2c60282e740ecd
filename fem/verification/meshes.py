"""Meshes without the mesher, for shapes that rectangles in a box cannot give: rings, and edges graded by powers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from fem.arrays import Floats
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.section import Section, Shape


def graded(breaks: Sequence[float], sizes: Sequence[float], growth: float = 1.5) -> Floats:
    """Return ticks through all breakpoints, of the wanted size at each and growing by a constant factor in between.

    Parameters
    ----------
    breaks
        Rising places that become ticks [m].
    sizes
        Wanted step at each of them [m].
    growth
        Ratio of neighbouring steps [-].
    """
    ticks = [np.array([breaks[0]])]
    for a, b, size_a, size_b in zip(breaks[:-1], breaks[1:], sizes[:-1], sizes[1:], strict=True):
        left, right = [0.0], [0.0]
        while left[-1] + right[-1] < b - a:
            side, size = (
                (left, size_a) if size_a * growth ** len(left) < size_b * growth ** len(right) else (right, size_b)
            )
            side.append(side[-1] + size * growth ** (len(side) - 1))
        steps = np.concatenate([np.diff(left), np.diff(right)[::-1]])
        ticks.append(a + np.cumsum(steps) * (b - a) / steps.sum())
        ticks[-1][-1] = b
    return np.concatenate(ticks)


def tensor_mesh(xs: Floats, ys: Floats, keep: Callable[[Floats], NDArray[np.bool_]] | None = None) -> MeshTri:
    """Return the triangles of a tensor grid whose midpoints (2, m) [m] are wanted."""
    mesh = MeshTri.init_tensor(xs, ys)
    return mesh if keep is None else mesh.restrict(np.flatnonzero(keep(midpoints(mesh.p, mesh.t))))


def midpoints(points: Floats, triangles: NDArray[np.int64]) -> Floats:
    """Return the centroids of triangles (2, m) [m]."""
    return np.asarray(points[:, triangles].mean(axis=1))


def rings(radii: Floats, around: int) -> MeshTri:
    """Return the triangles between concentric circles, each a polygon of the circle's area; a disc if radii[0] = 0.

    Parameters
    ----------
    radii
        Rising [m].
    around
        Sides of each polygon [-].

    Notes
    -----
    With equal areas the polygon's error in a mean square radius is of fourth order in the angle of a side, where an
    inscribed polygon's is of second order.
    """
    angle = 2 * np.pi / around
    polar = MeshTri.init_tensor(np.asarray(radii), np.arange(around + 1) * angle)
    r, phi = polar.p
    # Radii of every circle grow by the same factor, so the quadrilaterals between them keep their proportions.
    p = r * np.sqrt(angle / np.sin(angle)) * np.stack([np.cos(phi), np.sin(phi)])
    _, first, inverse = np.unique(np.round(p / radii[-1], 12), axis=1, return_index=True, return_inverse=True)
    t = inverse.ravel()[polar.t]
    proper = (t[0] != t[1]) & (t[1] != t[2]) & (t[0] != t[2])
    return MeshTri(p[:, first].copy(), t[:, proper].copy())


def as_section_mesh(mesh: MeshTri, section: Section) -> SectionMesh:
    """Give each triangle the first region of a section that holds its midpoint, discs by their radius."""
    x, y = midpoints(mesh.p, mesh.t)
    region = np.full(mesh.t.shape[1], -1, dtype=np.int64)
    for index in reversed(range(len(section.regions))):
        r = section.regions[index]
        inside = (r.x0 < x) & (x < r.x1) & (r.y0 < y) & (y < r.y1)
        if r.shape is Shape.DISC:
            inside &= np.hypot(x - (r.x0 + r.x1) / 2, y - (r.y0 + r.y1) / 2) < (r.x1 - r.x0) / 2
        region[inside] = index
    return SectionMesh(points=mesh.p, triangles=mesh.t.astype(np.int64), region=region, section=section, level=0)
