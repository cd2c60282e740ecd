"""The discrete problem: curl (nu curl A) = J in two dimensions, its energy, its residual and its exact tangent.

Ampere's law curl H = J, Gauss's law div B = 0 by B = curl A, and H = nu(b2) B with b2 = |B|^2. In the plane A and J
have a z-component only and |B| = |grad A|: find A in V (0 on the fixed boundary, elsewhere H leaves at right angles)

    int nu(|grad A|^2) grad A . grad v dA = int J v dA            for all v in V.

It says where the energy functional is stationary [J/m],

    I(A) = int w(|grad A|) dA - int J A dA,    w(b) = int_0^b H db' = int_0^b nu(b'^2) b' db',

whose derivative is the residual r and whose second derivative is the tangent K, with A = sum_j A_j phi_j:

    r_i  = int nu grad A . grad phi_i dA - int J phi_i dA
    K_ij = int grad phi_i . (nu 1 + 2 nu' grad A grad A^T) . grad phi_j dA,        nu' = d nu / d b2.

The tensor in brackets has the eigenvalues nu across the gradient and nu + 2 b2 nu' = dH/db along it. Both are positive
where H rises with b, as any B-H curve does: K is positive definite, I strictly convex, its minimum the only solution.

On an element, with g^ the reference gradient of A, c = metric g^ and b2 = g^ . c, and w_q the weights of quadrature,

    r_i  = sum_q w_q |det T| nu grad^ phi_i . c            K_ij = sum_q w_q |det T| grad^ phi_i . D . grad^ phi_j,
    D = nu metric + 2 nu' c c^T:

an element's tangent is a constant tensor times three numbers per quadrature point, one matrix product for all elements,
then one weighted count into the sparsity pattern.

References
----------
P. P. Silvester and R. L. Ferrari, Finite Elements for Electrical Engineers, Cambridge 1996, on nonlinear magnetics.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.elements import GRADIENTS, POINTS, QUADRATURE, STIFFNESS
from fem.field.static.space import Geometry, Space, mean_over


class Law(Protocol):
    """What the solver asks of a material: its reluctivity as a function of the squared flux density."""

    def nu_dnu(self, b2: Floats) -> tuple[Floats, Floats]:
        """Return nu [m/H] and its derivative with respect to b2 [m/(H T2)]."""
        ...

    def energy_density(self, b: Floats) -> Floats:
        """Return w, the integral of H from 0 to b [J/m3]."""
        ...


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Problem:
    """A meshed section with materials and current-carrying blocks.

    Parameters
    ----------
    space, geometry
        The mesh's two sides.
    laws
        Materials by the elements they fill; elements that none fills are air.
    sources
        For each winding the vector (size,) that gives its flux linkage per turn and metre from A; the same vector
        times ampere-turns is the load. In a halved section this is the half of it that lies in the mesh.
    copies
        2 where the mesh is one half of a symmetric section, else 1.
    """

    space: Space
    geometry: Geometry
    laws: tuple[tuple[Integers, Law], ...]
    sources: Mapping[str, Floats]
    copies: int = 1

    def load(self, ampere_turns: Mapping[str, float]) -> Floats:
        """Return the load vector (size,) of these ampere-turns per winding [A]."""
        unknown = set(ampere_turns) - set(self.sources)
        if unknown:
            msg = f"no winding called {sorted(unknown)}; there are {sorted(self.sources)}"
            raise ValueError(msg)
        total = np.zeros(self.space.size)
        for name, value in ampere_turns.items():
            total += value * self.sources[name]
        return total

    def reference_gradient(self, A: Floats) -> tuple[Floats, Floats, Floats]:
        """Return g^ (2, points, m), c = metric g^ (2, points, m) and b2 (points, m) [T2] at the quadrature points."""
        g = (GRADIENTS.reshape(6, -1).T @ A[self.space.element_dofs]).reshape(2, POINTS, -1)
        xx, xy, yy = self.geometry.metric
        c = np.empty_like(g)
        np.multiply(g[0], xx, out=c[0])
        c[0] += g[1] * xy
        np.multiply(g[0], xy, out=c[1])
        c[1] += g[1] * yy
        return g, c, g[0] * c[0] + g[1] * c[1]

    def reluctivity(self, b2: Floats) -> tuple[Floats, Floats]:
        """Return nu [m/H] and nu' [m/(H T2)] at the quadrature points (points, m); air is 1 / MU0 and 0."""
        nu = np.full(b2.shape, 1 / MU0)
        dnu = np.zeros(b2.shape)
        for elements, law in self.laws:
            nu[:, elements], dnu[:, elements] = law.nu_dnu(b2[:, elements])
        return nu, dnu

    def internal(self, c: Floats, nu: Floats) -> Floats:
        """Return int nu grad A . grad phi_i, the field's side of the residual (size,) [A]."""
        flux = c * (nu * self.geometry.determinant) * QUADRATURE[1][:, None]
        return self.space.node_sum(GRADIENTS.reshape(6, -1) @ flux.reshape(2 * POINTS, -1))

    def tangent(self, c: Floats, nu: Floats, dnu: Floats) -> Floats:
        """Return the values of the lower triangle of the tangent K (entries,) [m/H]."""
        det = self.geometry.determinant
        nu_det, twice = nu * det, 2 * dnu * det
        xx, xy, yy = self.geometry.metric
        mapped = np.empty((POINTS, 3, self.space.elements))
        mapped[:, 0] = nu_det * xx + twice * c[0] * c[0]
        mapped[:, 1] = nu_det * xy + twice * c[0] * c[1]
        mapped[:, 2] = nu_det * yy + twice * c[1] * c[1]
        return self.space.matrix_values(STIFFNESS.T @ mapped.reshape(3 * POINTS, -1))

    def residual(self, A: Floats, load: Floats) -> Floats:
        """Return the residual r at the free nodes (k,) [A]."""
        _, c, b2 = self.reference_gradient(A)
        nu, _ = self.reluctivity(b2)
        return (self.internal(c, nu) - load)[self.space.free]

    def energy_per_m(self, A: Floats) -> float:
        """Return int w dA, the stored energy per metre of depth, of the whole section [J/m]."""
        _, _, b2 = self.reference_gradient(A)
        density = 0.5 * b2 / MU0
        for elements, law in self.laws:
            density[:, elements] = law.energy_density(np.sqrt(b2[:, elements]))
        return float(self.copies * (QUADRATURE[1] @ density) @ self.geometry.determinant)


def winding_source(space: Space, geometry: Geometry, parts: Sequence[tuple[Integers, float]]) -> Floats:
    """Return a winding's source vector (size,) from the elements and the signed share of turns of each of its blocks.

    One ampere-turn spread over a block of area a is J = 1 / a, so its load is s_i = int phi_i dA / a; a turn's flux
    linkage per metre is A at its place, on average over the block s . A: the same numbers. The sign is the block's
    sense times that of its share.
    """
    total = np.zeros(space.size)
    for elements, share in parts:
        total += share * mean_over(space, geometry, elements)
    return total
