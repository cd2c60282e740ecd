"""Derivatives of what is read from a field by where the mesh's vertices are and by the materials' laws: adjoints.

A number Q(A, X) is read from the field A on vertices X, with r(A, X) = 0 the residual of `problem`. Moving the vertices
with velocity V changes it by

    dQ = dQ/dX . V - z . (dr/dX . V),    K z = dQ/dA,

K the tangent, symmetric: one back-substitution by its factor tells Q's derivatives by everything.

Nodal values stay with their nodes, so on an element, on which V is linear with gradient D_ij = dV_i/dx_j, the gradient
of a field u changes by -D^T grad u and the area by tr D. An integral of l(grad A, grad z) therefore changes by

    int T : D dA,    T_ij = l delta_ij - (grad A)_i dl/d(grad A)_j - (grad z)_i dl/d(grad z)_j,

for z . r, with l = nu grad A . grad z, by the symmetric

    T = nu (grad A . grad z) 1 - nu (grad A grad z^T + grad z grad A^T) - 2 nu' (grad A . grad z) grad A grad A^T,

which for z = A in air is Maxwell's stress times -2. The integrals are the assembly's own sums over quadrature points,
so these are the derivatives of the numbers computed, not of the continuous problem.

References
----------
J. Sokolowski and J.-P. Zolesio, Introduction to Shape Optimization, Springer 1992, chapter 2: the material derivative.
M. B. Giles and N. A. Pierce, Flow, Turbulence and Combustion 65 (2000) 393: adjoints.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Integers
from fem.field.elements import GRADIENTS, POINTS, QUADRATURE, SHAPE_INTEGRALS, shape_gradients
from fem.field.static.model import Grid
from fem.field.static.newton import FieldSolution
from fem.field.static.problem import Problem
from fem.field.static.space import located
from geometries.shapes.section import Role

Density = Callable[[Floats], tuple[Floats, Floats]]
"""From grad A (2, points, m) [T] a function of it (points, m) and its derivatives by both components (2, points, m)."""
_TRACE = np.array([0, 3])
"""Places of the diagonal among xx, xy, yx, yy."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Reading:
    """A number read from a field, with what it changes by.

    Parameters
    ----------
    value
        The number.
    by_field
        Derivatives by the nodal values (size,) per [Wb/m].
    stress
        T's integrals (4, m): what T : D changes the number by, the nodal values held.
    """

    value: float
    by_field: Floats
    stress: Floats


class Moving:
    """A mesh whose vertices move with some keys.

    Parameters
    ----------
    grid
        The mesh, its materials and windings.
    vertices
        Derivatives of the vertices' places (2, vertices, keys).
    """

    def __init__(self, grid: Grid, vertices: Floats) -> None:
        space, geometry = grid.problem.space, grid.problem.geometry
        self.grid, self.vertices = grid, vertices
        p0, p1, p2 = (geometry.points[:, space.triangles[k]] for k in range(3))
        u, v = p1 - p0, p2 - p0
        det = u[0] * v[1] - u[1] * v[0]
        self.xi, self.eta = np.stack([v[1], -v[0]]) / det, np.stack([-u[1], u[0]]) / det
        at = vertices[:, space.triangles]  # (2, 3, m, keys)
        along = at[:, 1] - at[:, 0], at[:, 2] - at[:, 0]
        D = [along[0][i] * self.xi[j, :, None] + along[1][i] * self.eta[j, :, None] for i in (0, 1) for j in (0, 1)]
        self.stretch = np.concatenate(D)  # D's components element by element (4 m, keys)
        self.strain = np.concatenate((D[0], D[1] + D[2], D[3]))  # what a symmetric T meets of them
        self.weights = QUADRATURE[1][:, None] * geometry.determinant
        blocks = [(k, r) for k, r in enumerate(grid.regions) if r.role is Role.CONDUCTOR]
        self._blocks = [(np.flatnonzero(grid.region == k), r.winding, r.sense * r.share) for k, r in blocks]

    def gradient(self, u: Floats, elements: Integers | slice = slice(None)) -> Floats:
        """Return the gradients of nodal fields (size, ...) at the quadrature points (2, points, m, ...)."""
        dofs = self.grid.problem.space.element_dofs[:, elements]
        g = GRADIENTS.reshape(6, -1).T @ u[dofs].reshape(6, -1)
        g = g.reshape(2, POINTS, dofs.shape[1], -1)
        xi, eta = self.xi[:, elements, None], self.eta[:, elements, None]
        return np.stack([xi[i] * g[0] + eta[i] * g[1] for i in (0, 1)]).reshape(2, POINTS, dofs.shape[1], *u.shape[1:])

    def tested(self, flux: Floats, elements: Integers | slice = slice(None)) -> Floats:
        """Return the integrals of flux . grad phi_i (size,), of a flux (2, points, m) times its points' areas."""
        space = self.grid.problem.space
        g = [(direction[:, None, elements] * flux).sum(0) for direction in (self.xi, self.eta)]
        entries, dofs = GRADIENTS.reshape(6, -1) @ np.concatenate(g), space.element_dofs[:, elements]
        total = np.bincount(dofs.ravel(), weights=entries.ravel(), minlength=space.size)
        return total.astype(np.float64, copy=False)

    def element_means(self, u: Floats) -> Floats:
        """Return the integrals of nodal fields (size, ...) over the reference triangle, half of the means (m, ...)."""
        return np.tensordot(SHAPE_INTEGRALS, u[self.grid.problem.space.element_dofs], axes=1)

    def dilated(self, values: Floats, winding: str) -> Floats:
        """Return W v (m, ...): a winding's source changes by W's product of both where elements dilate by tr D.

        s . u is a sum of means m = sum_e det_e m_e / area over blocks, m_e the integral of u over the reference
        triangle. It changes by sum_e det_e tr D_e (m_e - m / 2) / area, in which m_e and tr D change places:
        W v = share det (v - det . v / (2 area)) / area.
        """
        found, determinant = np.zeros_like(values), self.grid.problem.geometry.determinant
        for inside, name, share in self._blocks:
            if name == winding:
                det, v = determinant[inside], values[inside]
                area = 0.5 * float(det.sum())
                found[inside] = ((share / area) * det * (v - det @ v / (2 * area)).T).T
        return found

    def passing(self, points: Sequence[tuple[float, float]], motion: Floats) -> Callable[[Floats], Floats]:
        """Return what tells by how much A (size,) at points changes as they move on in the mesh (points, keys).

        Parameters
        ----------
        points
            (x, y) [m].
        motion
            Derivatives of their places (points, 2, keys); what the mesh around them moves is taken off.
        """
        space = self.grid.problem.space
        elements, reference = located(space, self.grid.problem.geometry, points)
        corners = np.stack([1 - reference[0] - reference[1], reference[0], reference[1]])
        relative = motion - np.einsum("cp,icpk->pik", corners, self.vertices[:, space.triangles[:, elements]])
        shapes, dofs = shape_gradients(reference), space.element_dofs[:, elements]
        xi, eta = self.xi[:, elements], self.eta[:, elements]

        def change(A: Floats) -> Floats:
            g = np.einsum("idp,ip->dp", shapes, A[dofs])
            return np.asarray(np.einsum("ip,pik->pk", xi * g[0] + eta * g[1], relative))

        return change


class Adjoint:
    """A solved field on a moving mesh, ready to tell the derivatives of what is read from it.

    Parameters
    ----------
    moving
        The mesh.
    solution
        The field on it.
    """

    def __init__(self, moving: Moving, solution: FieldSolution) -> None:
        self.moving, self.solution = moving, solution
        self._gradient = moving.gradient(solution.A)
        self._law = moving.grid.problem.reluctivity((self._gradient**2).sum(0))

    def gradient(self, elements: Integers) -> Floats:
        """Return grad A at the quadrature points of some elements (2, points, m) [T]."""
        return np.asarray(self._gradient[..., elements])

    def integral(self, elements: Integers, density: Density) -> Reading:
        """Read the integral of a density over some elements."""
        mesh, space = self.moving, self.moving.grid.problem.space
        w, a = mesh.weights[:, elements], self.gradient(elements)
        value, slope = density(a)
        flux = w * slope
        stress = np.zeros((4, space.elements))
        stress[:, elements] = -(a[:, None] * flux).sum(2).reshape(4, -1)
        stress[_TRACE[:, None], elements] += (w * value).sum(0)
        return Reading(value=float((w * value).sum()), by_field=mesh.tested(flux, elements), stress=stress)

    def linkage(self, winding: str) -> Reading:
        """Read a winding's flux linkage per turn and metre, of the whole section [Wb/m]."""
        problem, A = self.moving.grid.problem, self.solution.A
        stress = np.zeros((4, problem.space.elements))
        stress[_TRACE] = problem.copies * self.moving.dilated(self.moving.element_means(A), winding)
        source = problem.copies * problem.sources[winding]
        return Reading(value=float(source @ A), by_field=source, stress=stress)

    def nodal(self, vector: Floats) -> Reading:
        """Read a combination of the nodal values (size,) at nodes that stay the same."""
        nothing = np.zeros((4, self.moving.grid.problem.space.elements))
        return Reading(value=float(vector @ self.solution.A), by_field=vector, stress=nothing)

    def responses(self, readings: Sequence[Reading]) -> Floats:
        """Solve K z = dQ/dA, the tangent factored anew (size, readings); zero where A is held."""
        problem = self._factor()
        z = np.zeros((problem.space.size, len(readings)))
        right = np.stack([r.by_field[problem.space.free] for r in readings], axis=1)
        z[problem.space.free] = problem.space.factor.solve(right)
        return z

    def _factor(self) -> Problem:
        problem = self.moving.grid.problem
        _, c, _ = problem.reference_gradient(self.solution.A)
        problem.space.factor.factor(problem.tangent(c, *self._law))
        return problem

    def by_key(self, readings: Sequence[Reading], responses: Floats | None = None) -> Floats:
        """Return readings' derivatives by the keys, the field following (readings, keys).

        Parameters
        ----------
        readings
            What is read from this field.
        responses
            As `responses` gives them, where they are known (size, readings).
        """
        z = self.responses(readings) if responses is None else responses
        mesh, a, (nu, dnu) = self.moving, self._gradient, self._law
        g = (GRADIENTS.reshape(6, -1).T @ z[mesh.grid.problem.space.element_dofs].reshape(6, -1)).reshape(
            2, POINTS, -1, len(readings)
        )  # the reference gradient; grad z = xi g_0 + eta g_1
        twice = np.stack([a[0] * a[0], a[0] * a[1], a[1] * a[1]]) * (2 * mesh.weights * dnu)
        along = np.stack([(direction[:, None] * a).sum(0) for direction in (mesh.xi, mesh.eta)])
        stress = np.einsum("cdqm,dqmk->cmk", twice[:, None] * along, g)  # xx, xy and yy
        p = np.einsum("cqm,dqmk->cdmk", mesh.weights * nu * a, g)
        xx, xy, yx, yy = (
            mesh.xi[j, :, None] * p[i, 0] + mesh.eta[j, :, None] * p[i, 1] for i in (0, 1) for j in (0, 1)
        )
        dilation, means = -(xx + yy), mesh.element_means(z)
        for winding, F in self.solution.ampere_turns.items():
            dilation += F * mesh.dilated(means, winding)
        stress += np.stack([2 * xx + dilation, xy + yx, 2 * yy + dilation])
        explicit = np.stack([r.stress.ravel() for r in readings])
        return np.asarray(explicit @ mesh.stretch + stress.reshape(-1, len(readings)).T @ mesh.strain)

    def field_by_key(self) -> Floats:
        """Return the derivatives of A by the keys, K^-1 (-dr/dX . V), with the tangent factored anew (size, keys).

        dr/dX . V tested with phi is int w . grad phi less the sources', w = nu (tr D - D - D^T) a - 2 nu' (a . D a) a,
        a = grad A.
        """
        mesh, a, (nu, dnu), space = self.moving, self._gradient, self._law, self.moving.grid.problem.space
        right = np.zeros((space.size, mesh.stretch.shape[1]))
        for k, D in enumerate(mesh.stretch.T.reshape(-1, 2, 2, 1, space.elements)):
            turned, trace = ((D + D.swapaxes(0, 1)) * a).sum(1), D[0, 0] + D[1, 1]
            right[:, k] = mesh.tested(mesh.weights * (nu * (trace * a - turned) - dnu * (a * turned).sum(0) * a))
            for winding, F in self.solution.ampere_turns.items():
                right[:, k] -= F * space.node_sum(SHAPE_INTEGRALS[:, None] * mesh.dilated(trace[0], winding))
        self._factor()
        found = np.zeros_like(right)
        found[space.free] = -space.factor.solve(right[space.free])
        return found

    def by_reluctivity(self, response: Floats, elements: Integers) -> tuple[Floats, Floats]:
        """Return |B| at the quadrature points of some elements [T] and a reading's derivatives by nu there.

        Both (points, m). A law that changes by dnu(b) changes the reading by the sum of the product.
        """
        a, z = self._gradient[..., elements], self.moving.gradient(response, elements)
        return np.sqrt((a * a).sum(0)), -self.moving.weights[:, elements] * (a * z).sum(0)
