"""Forces on current-carrying parts of a planar field: from the currents, and from the stress around them.

    F = int J x B dA = int (-J By, J Bx) dA,
    F_i = closed int T_ij n_j ds,    T_ij = (B_i B_j - delta_ij B^2 / 2) / mu0,

for a body in air: as div T = 0 there, any contour round it gives the same, and so does a mean over contours. Per metre
of depth, of what lies in the mesh: forces of a section's two sides are opposite and must not be doubled.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.elements import GRADIENTS, POINTS, QUADRATURE
from fem.field.static.problem import Problem
from fem.field.static.space import Geometry, Space

Number = TypeVar("Number", np.float64, np.complex128)
ALL = slice(None)


def flux_density_components(
    space: Space, geometry: Geometry, A: NDArray[Number], elements: Integers | slice = ALL
) -> NDArray[Number]:
    """Return Bx and By at the quadrature points of some elements (2, points, m) [T], of a real field or of a phasor."""
    g = (GRADIENTS.reshape(6, -1).T @ A[space.element_dofs[:, elements]]).reshape(2, POINTS, -1)
    (ux, uy), (vx, vy), det = _edges(space, geometry, elements)
    # grad A = T^-T g^ with rows (v_y, -v_x) and (-u_y, u_x) of det T^-1; Bx = dA/dy, By = -dA/dx
    return np.stack([(ux * g[1] - vx * g[0]) / det, (uy * g[1] - vy * g[0]) / det])


def lorentz_force_per_m(problem: Problem, A: Floats, elements: Integers, current: float) -> Floats:
    """Return the force on a current spread evenly over some elements: the integral of J x B (2,) [N/m].

    Parameters
    ----------
    problem
        The section.
    A
        Vector potential (size,) [Wb/m].
    elements
        Where the current flows.
    current
        Signed, positive out of the page: a block's ampere-turns times its sense [A].
    """
    Bx, By = flux_density_components(problem.space, problem.geometry, A, elements)
    det = problem.geometry.determinant[elements]
    mean_x, mean_y = (float((QUADRATURE[1] @ B) @ det) / (0.5 * float(det.sum())) for B in (Bx, By))
    return np.array([-current * mean_y, current * mean_x])


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


def _edges(space: Space, geometry: Geometry, elements: Integers | slice) -> tuple[Floats, Floats, Floats]:
    """Return two edge vectors u, v (2, m) [m] of the elements, the columns of T, and det T (m,) [m2]."""
    p0, p1, p2 = (geometry.points[:, space.triangles[k, elements]] for k in range(3))
    u, v = p1 - p0, p2 - p0
    return u, v, u[0] * v[1] - u[1] * v[0]
