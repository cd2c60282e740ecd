"""Meshes made without gmsh: graded tensor grids that follow a section, and rings of triangles round an axis."""

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from geometries.mesh import SectionMesh
from geometries.section import Role, Section

Array = NDArray[np.float64]


def graded(breaks: Sequence[float], sizes: Sequence[float], growth: float = 1.5) -> Array:
    """Return ticks through all breakpoints, of the wanted size at each and growing by a constant factor in between."""
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


def tensor_mesh(xs: Array, ys: Array, keep: Callable[[Array], NDArray[np.bool_]] | None = None) -> MeshTri:
    """Return the triangles of a tensor grid whose midpoints (2, m) are wanted."""
    mesh = MeshTri.init_tensor(xs, ys)
    return mesh if keep is None else mesh.restrict(np.flatnonzero(keep(midpoints(mesh.p, mesh.t))))


def midpoints(points: Array, triangles: NDArray[np.int64]) -> Array:
    """Return the centroids of triangles (2, m)."""
    return np.asarray(points[:, triangles].mean(axis=1))


def tensor_section_mesh(
    section: Section, *, corner: float, inner: float, far: float, growth: float = 1.5
) -> SectionMesh:
    """Triangulate a section by a tensor grid.

    Parameters
    ----------
    section
        What to mesh.
    corner, inner, far
        Size [m] of the elements at lines that bound iron, at other regions' edges and at the outline.
    growth
        Ratio of neighbouring sizes [-].
    """
    axes = []
    for low, high, least, most in (("x0", "x1", 0, 2), ("y0", "y1", 1, 3)):
        wanted = {section.outline[least]: far, section.outline[most]: far}
        for r in section.regions:
            size = corner if r.role in (Role.IRON, Role.SHUNT, Role.JOINT) else inner
            for value in (getattr(r, low), getattr(r, high)):
                near = next((v for v in wanted if abs(v - value) < 1e-9), value)
                wanted[near] = min(size, wanted.get(near, size))
        breaks = sorted(wanted)
        axes.append(graded(breaks, [wanted[b] for b in breaks], growth))
    mesh = MeshTri.init_tensor(*axes)
    x, y = midpoints(mesh.p, mesh.t)
    region = np.full(mesh.t.shape[1], -1, dtype=np.int64)
    for index, r in enumerate(section.regions):
        region[(r.x0 < x) & (x < r.x1) & (r.y0 < y) & (y < r.y1)] = index
    return SectionMesh(points=mesh.p, triangles=mesh.t.astype(np.int64), region=region, section=section, level=0)


def rings(radii: Array, around: int) -> MeshTri:
    """Return the triangles between concentric circles, each a polygon of the circle's area; a disc if radii[0] = 0.

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
