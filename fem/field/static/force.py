"""Forces on current-carrying parts of a planar field, from the currents: F = int J x B dA = int (-J By, J Bx) dA.

Per metre of depth, of what lies in the mesh: forces of a section's two sides are opposite and must not be doubled.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
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


def _edges(space: Space, geometry: Geometry, elements: Integers | slice) -> tuple[Floats, Floats, Floats]:
    """Return two edge vectors u, v (2, m) [m] of the elements, the columns of T, and det T (m,) [m2]."""
    p0, p1, p2 = (geometry.points[:, space.triangles[k, elements]] for k in range(3))
    u, v = p1 - p0, p2 - p0
    return u, v, u[0] * v[1] - u[1] * v[0]
