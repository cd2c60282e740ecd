"""The force on a coil by Maxwell's stress in the air around it: another route to it than by its currents.

    F_i = closed int T_ij n_j ds,    T_ij = (B_i B_j - delta_ij B^2 / 2) / mu0,

for a body in air: as div T = 0 there, any contour round it gives the same, and so does a mean over contours.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.characteristics.leakage.planar import RIGHT
from fem.constants import MU0
from fem.field.elements import QUADRATURE
from fem.field.static.force import ALL, _edges, flux_density_components, lorentz_force_per_m
from fem.field.static.model import SolvedField
from fem.field.static.problem import Problem


def stress_force_per_m(problem: Problem, A: Floats, elements: Integers) -> Floats:
    """Return the force on some elements from Maxwell's stress in the layer of elements around them (2,) [N/m].

    Parameters
    ----------
    problem
        The section.
    A
        Vector potential (size,) [Wb/m].
    elements
        The body; not magnetic, off the outline, and with air around it for at least one layer of elements.

    Raises
    ------
    ValueError
        If the layer is not of air: it touches another winding or a magnetic material.

    Notes
    -----
    F_i = - int T_ij dg/dx_j over the layer, T_ij = (B_i B_j - delta_ij B^2/2)/mu0, with g = 1 on the body falling
    linearly to 0 through the layer. J. L. Coulomb, IEEE Trans. Magn. 19 (1983) 2514, in its form for rigid bodies.
    """
    space, geometry = problem.space, problem.geometry
    inside = np.zeros(geometry.points.shape[1], dtype=bool)
    inside[space.triangles[:, elements]] = True
    g = inside[space.triangles].astype(np.float64)  # (3, m)
    layer: NDArray[np.bool_] = np.any(g > 0, axis=0)
    layer[elements] = False
    _check_air(problem, np.flatnonzero(layer))
    (ux, uy), (vx, vy), det = _edges(space, geometry, ALL)
    d_xi, d_eta = g[1] - g[0], g[2] - g[0]
    gx, gy = (vy * d_xi - uy * d_eta) / det, (ux * d_eta - vx * d_xi) / det
    Bx, By = flux_density_components(space, geometry, A)
    xx, xy = QUADRATURE[1] @ (Bx**2 - By**2) / 2, QUADRATURE[1] @ (Bx * By)
    scale = -geometry.determinant * layer / MU0
    return np.array([float(((xx * gx + xy * gy) * scale).sum()), float(((xy * gx - xx * gy) * scale).sum())])


def _check_air(problem: Problem, layer: Integers) -> None:
    """Refuse a layer that is not all air."""
    for elements, _ in problem.laws:
        if np.isin(layer, elements).any():
            msg = "the layer of elements around the body reaches into a magnetic material"
            raise ValueError(msg)
    # A source weighs the midpoints of its own elements' sides: all three only where the element itself carries current.
    for name, source in problem.sources.items():
        middle = np.abs(source[problem.space.element_dofs[3:, layer]])
        if np.any(np.all(middle > 0, axis=0)):
            msg = f"the layer of elements around the body reaches into {name}"
            raise ValueError(msg)


def stress_difference(field: SolvedField, coil: str) -> float | None:
    """Return how far stress and currents differ on a coil's right side, relative to its force; None without air around.

    A check of the mesh: some 1e-3 with a millimetre of air all round, up to 0.2 with a tenth, where the stress in one
    layer of elements is the poorer of the two.
    """
    grid, by_current, by_stress = field.model.fine, np.zeros(2), np.zeros(2)
    for k, r in enumerate(grid.regions):
        if r.coil == coil and r.name.endswith(RIGHT):
            elements = np.flatnonzero(grid.region == k)
            current = field.fine.ampere_turns[r.winding] * r.sense * r.share
            by_current += lorentz_force_per_m(grid.problem, field.fine.A, elements, current)
            if not _in_air(field, k):
                return None
            by_stress += stress_force_per_m(grid.problem, field.fine.A, elements)
    return float(np.linalg.norm(by_stress - by_current) / np.linalg.norm(by_current))


def _in_air(field: SolvedField, index: int) -> bool:
    """Return whether a block has air on all sides: for the stress there must be a layer of it."""
    block, section = field.model.mesh.section.regions[index], field.model.mesh.section
    x0, y0, x1, y1 = section.outline
    clear = 1e-6
    if block.x0 - x0 < clear or x1 - block.x1 < clear or block.y0 - y0 < clear or y1 - block.y1 < clear:
        return False
    return all(
        max(r.x0 - block.x1, block.x0 - r.x1, r.y0 - block.y1, block.y0 - r.y1) > clear
        for k, r in enumerate(section.regions)
        if k != index
    )
