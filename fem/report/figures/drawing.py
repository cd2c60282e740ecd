"""From a solved field to triangles that can be drawn: the whole plane, four straight triangles to a quadratic one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.field.elements import shape_gradients
from fem.field.static.model import SolvedField
from fem.field.static.space import node_locations
from fem.materials.mixture import Reluctivity

PARTS = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
"""Corners of the four parts of a quadratic triangle among its six nodes: corners, then midpoints 01, 12, 02."""
CENTRES = np.array([[1 / 6, 2 / 3, 1 / 6, 1 / 3], [1 / 6, 1 / 6, 2 / 3, 1 / 3]])
"""Reference coordinates of the parts' centres (2, 4)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Drawing:
    """A field on straight triangles.

    Parameters
    ----------
    triangles
        Of the whole plane (k triangles, n nodes), for matplotlib.
    A
        Vector potential at the nodes (n,) [Wb/m].
    b
        Modulus of the flux density in each triangle (k,) [T]: in laminations the iron's own, else the average.
    region
        Index of each triangle's region in the mesh's section, -1 in air outside all of them (k,).
    """

    triangles: Triangulation
    A: Floats
    b: Floats
    region: NDArray[np.int64]


def draw(field: SolvedField) -> Drawing:
    """Return a field's finer solution on the whole plane; a half model is mirrored, where A is odd."""
    grid, A = field.model.fine, field.fine.A
    space = grid.problem.space
    x, y = node_locations(space, grid.problem.geometry)
    corners = space.element_dofs[PARTS].transpose(0, 2, 1).reshape(-1, 3)
    b = np.hypot(*flux_density(field, CENTRES))
    for elements, law in grid.problem.laws:
        if isinstance(law, Reluctivity):
            b[:, elements] = law.iron_flux_density(b[:, elements])
    b, region = b.ravel(), np.tile(grid.region, 4)
    if field.model.mesh.section.halved:
        x, y, A = np.concatenate((x, -x)), np.concatenate((y, y)), np.concatenate((A, -A))
        corners = np.concatenate((corners, corners + space.size))
        b, region = np.tile(b, 2), np.tile(region, 2)
    return Drawing(triangles=Triangulation(x, y, corners), A=A, b=b, region=region)


def flux_density(field: SolvedField, points: Floats) -> tuple[Floats, Floats]:
    """Return Bx and By, averaged over iron and air, at reference points of each element (points, elements) [T].

    Parameters
    ----------
    field
        Its finer solution is read.
    points
        Reference coordinates (2, points).
    """
    problem = field.model.fine.problem
    corners = problem.geometry.points[:, problem.space.triangles]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    det = u[0] * v[1] - u[1] * v[0]
    g = np.einsum("idp,im->dpm", shape_gradients(points), field.fine.A[problem.space.element_dofs])
    along_x = (g[0] * v[1] - g[1] * u[1]) / det
    along_y = (g[1] * u[0] - g[0] * v[0]) / det
    return along_y, -along_x
