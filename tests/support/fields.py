"""Problems on any triangles, and what is read from their fields."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from fem.constants import MU0
from fem.field.elements import QUADRATURE, shape_gradients
from fem.field.static.newton import FieldSolution, solve
from fem.field.static.problem import Law, Problem, winding_source
from fem.field.static.quantities import response_to
from fem.field.static.space import Where, build_geometry, build_space, node_locations, values_at

Array = NDArray[np.float64]
Elements = NDArray[np.int64]


def problem_on(
    mesh: MeshTri,
    *,
    windings: Mapping[str, Sequence[tuple[Elements, int]]] | None = None,
    laws: Sequence[tuple[Elements, Law]] = (),
    fixed: Where | None = None,
) -> Problem:
    """Build a problem on a mesh from the elements of each winding's blocks (with their sense) and of each material."""
    space = build_space(mesh.p, mesh.t, fixed)
    geometry = build_geometry(mesh.p, space.triangles)
    sources = {name: winding_source(space, geometry, list(parts)) for name, parts in (windings or {}).items()}
    return Problem(space=space, geometry=geometry, laws=tuple(laws), sources=sources)


def solve_imposed(problem: Problem, wanted: Array) -> FieldSolution:
    """Solve a linear problem without currents whose fixed nodes hold the values in `wanted` (size,) instead of 0."""
    lift = np.zeros(problem.space.size)
    held = np.setdiff1d(np.arange(problem.space.size), problem.space.free)
    lift[held] = wanted[held]
    _, c, b2 = problem.reference_gradient(lift)
    nu, _ = problem.reluctivity(b2)
    driven = replace(problem, sources={"edge": -problem.internal(c, nu)})
    solved = solve(driven, {"edge": 1.0})
    return replace(solved, A=solved.A + lift)


def locations(problem: Problem) -> Array:
    """Return the coordinates of all nodes (2, size) [m]."""
    return node_locations(problem.space, problem.geometry)


def potential_at(problem: Problem, A: Array, points: Sequence[tuple[float, float]]) -> Array:
    """Return A (n,) [Wb/m] at points (x, y) [m]."""
    return np.array([vector @ A for vector in values_at(problem.space, problem.geometry, points)])


def flux_density_at(problem: Problem, A: Array, points: Array) -> Array:
    """Return Bx, By (2, n) [T] at points (2, n) [m]: the mean over the elements that contain the point."""
    triangles, geometry = problem.space.triangles, problem.geometry
    p0, p1, p2 = (geometry.points[:, triangles[k]] for k in range(3))
    u, v = p1 - p0, p2 - p0
    det = u[0] * v[1] - u[1] * v[0]
    out = np.empty((2, points.shape[1]))
    for k, point in enumerate(points.T):
        d = point[:, None] - p0
        xi, eta = (d[0] * v[1] - d[1] * v[0]) / det, (u[0] * d[1] - u[1] * d[0]) / det
        inside = np.flatnonzero(np.minimum(np.minimum(xi, eta), 1 - xi - eta) > -1e-9)
        assert inside.size, f"the point {point} lies outside the mesh"
        g = shape_gradients(np.stack([xi[inside], eta[inside]]))  # (6, 2, n)
        g_xi, g_eta = np.einsum("idn,in->dn", g, A[problem.space.element_dofs[:, inside]])
        # grad A = T^-T g^; rows of T^-1 are (v_y, -v_x) and (-u_y, u_x), over det
        A_x = (v[1, inside] * g_xi - u[1, inside] * g_eta) / det[inside]
        A_y = (-v[0, inside] * g_xi + u[0, inside] * g_eta) / det[inside]
        out[:, k] = A_y.mean(), -A_x.mean()
    return out


def energy_in(problem: Problem, A: Array, elements: Elements) -> float:
    """Return the energy per metre [J/m] of some elements that hold air or copper."""
    _, _, b2 = problem.reference_gradient(A)
    density = 0.5 * b2[:, elements] / MU0
    return float((QUADRATURE[1] @ density) @ problem.geometry.determinant[elements])


def value_of_nodes(problem: Problem, x: float, y: float) -> int:
    """Return the number of the node at a place."""
    d = locations(problem) - np.array([[x], [y]])
    return int(np.argmin((d**2).sum(axis=0)))


def incremental_linkages_per_m(solution: FieldSolution, winding: str) -> dict[str, float]:
    """Return each winding's d(flux linkage per turn and metre)/d(ampere-turns of one winding) [H/m].

    The matrix so found, one column for each winding, is symmetric.
    """
    problem, free = solution.problem, solution.problem.space.free
    response = response_to(solution, winding)[free]
    # In a half section the source vector is that of one side, and so is the load: one factor of copies, not two.
    return {name: problem.copies * float(source[free] @ response) for name, source in problem.sources.items()}
