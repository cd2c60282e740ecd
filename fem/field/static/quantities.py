"""What is read from a solved field. Planar values are per metre of depth, of the whole section.

Flux through a surface is the contour integral of A round it, in the plane the difference of A between its edges:

    flux per metre of a cut from P to Q = int B . n ds = A(P) - A(Q)                                       [Wb/m]
    flux linkage per turn and metre     = lambda = sum_b share_b mean of A over block b = s . A            [Wb/m]

with s the winding's load per ampere-turn (`winding_source`). Energy W = int w dA and coenergy W' = sum lambda F - W, F
the ampere-turns [A]; in linear iron W = W' = sum lambda F / 2. A small change of F changes lambda by

    d lambda_i / d F_k = s_i . K^-1 s_k    [H/m],

K the tangent at the solution: a symmetric positive definite matrix of incremental permeances per metre.
"""

from __future__ import annotations

import numpy as np

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.elements import GRADIENTS, QUADRATURE
from fem.field.static.model import Grid, SolvedField
from fem.field.static.newton import FieldSolution


def flux_linkage_per_m(solution: FieldSolution, winding: str) -> float:
    """Return a winding's flux linkage per turn and metre [Wb/m]."""
    return solution.problem.copies * float(solution.problem.sources[winding] @ solution.A)


def response_to(solution: FieldSolution, winding: str) -> Floats:
    """Return K^-1 s, what a further ampere-turn of a winding adds to A (size,) [Wb/(m A)]; K stays factored."""
    problem = solution.problem
    free = problem.space.free
    _, c, b2 = problem.reference_gradient(solution.A)
    problem.space.factor.factor(problem.tangent(c, *problem.reluctivity(b2)))
    response = np.zeros(problem.space.size)
    response[free] = problem.space.factor.solve(problem.sources[winding][free])
    return response


def cut_fluxes_per_m(grid: Grid, solution: FieldSolution) -> dict[str, float]:
    """Return the flux per metre through each of the section's cuts [Wb/m]."""
    return {name: float(vector @ solution.A) for name, vector in grid.cuts.items()}


def flux_density(solution: FieldSolution) -> Floats:
    """Return |B| at the quadrature points (points, elements) [T], averaged over sheet and insulation."""
    _, _, b2 = solution.problem.reference_gradient(solution.A)
    return np.sqrt(b2)


def quadrature_areas(solution: FieldSolution) -> Floats:
    """Return the area that each quadrature point stands for, in the mesh (points, elements) [m2]."""
    return QUADRATURE[1][:, None] * solution.problem.geometry.determinant


def mean_field_along_y(solution: FieldSolution, elements: Integers) -> float:
    """Return the mean of H's component along y over some elements [A/m]."""
    problem = solution.problem
    geometry, triangles = problem.geometry, problem.space.triangles[:, elements]
    origin, second, third = (geometry.points[:, corner] for corner in triangles)
    along_xi, along_eta = second - origin, third - origin
    g_xi, g_eta = np.einsum("idq,im->dqm", GRADIENTS, solution.A[problem.space.element_dofs[:, elements]])
    det = along_xi[0] * along_eta[1] - along_xi[1] * along_eta[0]
    b_x = (along_xi[0] * g_eta - along_eta[0] * g_xi) / det
    b_y = (along_xi[1] * g_eta - along_eta[1] * g_xi) / det
    nu = np.full(b_y.shape, 1 / MU0)
    for filled, law in problem.laws:
        here = np.isin(elements, filled)
        nu[:, here] = law.nu_dnu(b_x[:, here] ** 2 + b_y[:, here] ** 2)[0]
    weights = QUADRATURE[1][:, None] * np.abs(det)
    return float(np.sum(weights * nu * b_y) / np.sum(weights))


def both(field: SolvedField, winding: str) -> tuple[float, float]:
    """Return a winding's flux linkage per turn and metre on the coarse and on the fine mesh [Wb/m]."""
    return flux_linkage_per_m(field.coarse, winding), flux_linkage_per_m(field.fine, winding)
