"""Nonlinear magnetostatics in unbounded air on straight tetrahedra of second or third order.

H = F T0 - grad u minimises the coenergy; any discrete u lies above, and the flux per turn (T0 / F, B) is the coenergy's
derivative with respect to F. The laws are evaluated at the points of integration themselves. Besides the dimensions and
the sheet's law nothing is shared with the package: other elements, other far field, other solver.

Import this module only after `needed("ngsolve")`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from fem.constants import MU0
from tests.support.open_elements import EDGES, FACES, rule, slopes
from tests.support.open_laws import Law
from tests.support.open_linear import Factored
from tests.support.open_mesh import OpenMesh

Floats = NDArray[np.float64]
PER_MM = 1e3
"""A/mm in A/m."""
AREA = 1e-6
"""T mm2 in Wb."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Point:
    """What a state carries.

    Parameters
    ----------
    ampere_turns
        [A].
    fluxes
        Mean flux per turn of each winding [Wb].
    coenergy
        [J].
    largest
        Largest flux density at a point of integration in iron [T].
    """

    ampere_turns: tuple[float, ...]
    fluxes: tuple[float, ...]
    coenergy: float
    largest: float


class _Part:
    """Elements with their gradients at points of integration."""

    def __init__(self, fields: "OpenField", members: NDArray[np.intp], order: int) -> None:
        self.members = members
        at, self.weights = rule(order)
        self.G = np.einsum("qai,eix->eqax", slopes(at, fields.order), fields.gradients[members], optimize=True)
        self.places = np.einsum("qi,eix->eqx", at, fields.points[fields.corners[members]])
        self.scale = fields.volumes[members, None] * self.weights
        self.dofs = fields.dofs[members]

    def gradient(self, u: Floats) -> Floats:
        return np.einsum("eqax,ea->eqx", self.G, u[self.dofs], optimize=True)

    def test(self, flux: Floats, size: int) -> Floats:
        """Return the integral of flux . grad v."""
        local = np.einsum("eqax,eqx->ea", self.G, flux * self.scale[..., None], optimize=True)
        return np.bincount(self.dofs.ravel(), local.ravel(), minlength=size)


class OpenField:
    """The scalar potential on one mesh; `solve` starts from the last state.

    Parameters
    ----------
    opened
        The mesh.
    turns
        From places (..., 3) [mm] to the field of each winding's ampere-turn [1/mm], (windings, ..., 3).
    laws
        Of the materials that are not air.
    order
        Of the elements, 2 or 3.
    """

    def __init__(
        self, opened: OpenMesh, turns: Callable[[Floats], Floats], laws: Mapping[str, Law], *, order: int
    ) -> None:
        self.opened, self.order = opened, order
        mesh = opened.mesh.ngmesh
        self.points = np.array([p.p for p in mesh.Points()])
        elements = mesh.Elements3D()
        self.corners = np.sort(np.array([[v.nr - 1 for v in e.vertices] for e in elements]), axis=1)
        kind = np.array([mesh.GetMaterial(e.index) for e in elements])
        p = self.points[self.corners]
        spans = p[:, 1:] - p[:, :1]
        self.volumes = np.abs(np.linalg.det(spans)) / 6
        inverse = np.transpose(np.linalg.inv(spans), (0, 2, 1))
        self.gradients = np.concatenate([-inverse.sum(axis=1, keepdims=True), inverse], axis=1)
        self._number()
        self.laws = [(law, _Part(self, np.flatnonzero(kind == n), 2 * order)) for n, law in laws.items() if n in kind]
        shell = _Part(self, np.flatnonzero(kind == "shell"), 2 * order + 2)
        air = np.flatnonzero((kind != "shell") & ~np.isin(kind, list(laws)))
        rows, columns = np.tril_indices(self.dofs.shape[1])
        self.lower = rows, columns
        at, weights = rule(2 * order)
        S = slopes(at, order)
        reference = np.einsum("q,qai,qbj->ijab", weights, S, S, optimize=True)[:, :, rows, columns].reshape(16, -1)
        inner = np.einsum("eix,ejx->eij", self.gradients[air], self.gradients[air]).reshape(len(air), 16)
        local = [inner * (MU0 * PER_MM * self.volumes[air, None]) @ reference]
        stretched = opened.stretched_at(shell.places)
        flux = np.einsum("eqxy,eqay->eqax", stretched, shell.G, optimize=True)
        local.append(MU0 * PER_MM * self._local(shell, flux))
        parts = [air, shell.members, *(part.members for _, part in self.laws)]
        d = self.dofs[np.concatenate(parts)]
        pairs = np.maximum(d[:, rows], d[:, columns]) * self.size + np.minimum(d[:, rows], d[:, columns])
        keys, self.slots = np.unique(pairs.ravel(), return_inverse=True)
        self.rows, self.columns = keys // self.size, keys % self.size
        self.fixed = np.concatenate(local).ravel()
        # The windings' fields in air, by a rule fine enough for the kinks at their edges.
        middles = turns(self.points[self.corners[air]]).any(axis=(0, 2, 3)) | turns(p[air].mean(axis=1)).any(
            axis=(0, 2)
        )
        source = _Part(self, air[middles], 8)
        t = turns(source.places)
        self.driven = np.array([source.test(MU0 * PER_MM * one, self.size) for one in t])
        self.products = MU0 * PER_MM * np.einsum("ieqx,jeqx,eq->ij", t, t, source.scale, optimize=True)
        self.t = [turns(part.places) for _, part in self.laws]
        self.u = np.zeros(self.size)
        linear = np.bincount(self.slots[: self.fixed.size], self.fixed, minlength=self.rows.size)
        self.linear = self._matrix(linear)

    def _number(self) -> None:
        """Number the unknowns: corners, edges and, of third order, edges again and faces; none at infinity."""
        c, n = self.corners, len(self.points)
        edges, edge = np.unique(np.concatenate([c[:, i] * n + c[:, j] for i, j in EDGES]), return_inverse=True)
        edge = edge.reshape(6, -1).T
        blocks = [c, n + edge]
        size = n + len(edges)
        if self.order == 3:
            # An edge number and the third corner tell a face; two of its edges would do as well.
            faces, face = np.unique(
                np.concatenate([(c[:, i] * n + c[:, j]) * n + c[:, k] for i, j, k in FACES]), return_inverse=True
            )
            face = face.reshape(4, -1).T
            blocks += [size + edge, size + len(edges) + face]
            size += len(edges) + len(faces)
        self.dofs, self.size = np.concatenate(blocks, axis=1), size
        r = np.linalg.norm(self.points - self.opened.centre, axis=1)
        far = r > self.opened.outer * (1 - 1e-6)
        if self.opened.odd:
            far |= self.points[:, 2] < 1e-6
        free = np.ones(size, dtype=bool)
        free[:n] = ~far
        ends = np.stack([edges // n, edges % n])
        held = far[ends].all(axis=0)
        free[n : n + len(edges)] = ~held
        if self.order == 3:
            free[n + len(edges) : n + 2 * len(edges)] = ~held
            triples = np.stack([faces // n // n, faces // n % n, faces % n])
            free[n + 2 * len(edges) :] = ~far[triples].all(axis=0)
        self.free = free
        self.system = Factored(free, np.concatenate([self.points, self.points[ends].mean(axis=0)]))

    def density_at(self, places: Floats, ampere_turns: Floats, t: Floats) -> Floats:
        """Return B [T] at places in iron (n, 3) [mm], where the windings' fields are t (windings, n, 3)."""
        found = np.full(places.shape, np.nan)
        for law, part in self.laws:
            corners = self.points[self.corners[part.members]]
            g = self.gradients[part.members]
            for k, place in enumerate(places):
                away = place - corners
                inside = 1 + np.einsum("eix,eix->ei", g, away)
                e = int(np.argmax(inside.min(axis=1)))
                if inside[e].min() < -1e-6:
                    continue
                shape = slopes(inside[e][None], self.order)[0] @ g[e]
                H = PER_MM * (ampere_turns @ t[:, k] - self.u[part.dofs[e]] @ shape)
                size = np.linalg.norm(H)
                found[k] = law.flux(np.array([size]))[0] / size * H
        return found

    def _local(self, part: _Part, flux: Floats) -> Floats:
        """Return the lower triangles of the elements' integrals of flux_a . grad v_b."""
        e, _, a, _ = part.G.shape
        left = np.transpose(part.G, (0, 2, 1, 3)).reshape(e, a, -1)
        right = np.transpose(flux * part.scale[..., None, None], (0, 2, 1, 3)).reshape(e, a, -1)
        full = left @ np.transpose(right, (0, 2, 1))
        return full[:, self.lower[0], self.lower[1]]

    def _matrix(self, values: Floats) -> sparse.csr_matrix:
        lower = sparse.csr_matrix((values, (self.rows, self.columns)), shape=(self.size, self.size))
        return (lower + sparse.tril(lower, -1).T).tocsr()

    def _state(self, F: Floats, u: Floats) -> tuple[Floats, Floats, float, float, list[tuple[Floats, ...]]]:
        """Return residual, fluxes, coenergy, largest flux density and what tangents need."""
        source = F @ self.driven
        Ku = self.linear @ u
        residual = source - Ku
        fluxes = self.products @ F - self.driven @ u
        coenergy = 0.5 * (F @ self.products @ F - 2 * source @ u + u @ Ku)
        largest, tangents = 0.0, []
        for (law, part), t in zip(self.laws, self.t, strict=True):
            H = PER_MM * (np.tensordot(F, t, axes=1) - part.gradient(u))
            size = np.maximum(np.sqrt((H * H).sum(axis=-1)), 1e-9)
            b, slope = law.flux(size)
            mu = b / size
            B = mu[..., None] * H
            residual = residual + part.test(B, self.size)
            fluxes = fluxes + np.einsum("ieqx,eqx,eq->i", t, B, part.scale, optimize=True)
            coenergy += float(((size * b - law.energy(b)) * part.scale).sum()) / PER_MM
            largest = max(largest, float(b.max()))
            tangents.append((mu, slope, H / size[..., None]))
        residual[~self.free] = 0.0
        return residual, fluxes, coenergy, largest, tangents

    def _tangent(self, tangents: list[tuple[Floats, ...]]) -> sparse.csr_matrix:
        local = [self.fixed]
        for (_, part), (mu, slope, e) in zip(self.laws, tangents, strict=True):
            along = np.einsum("eqax,eqx->eqa", part.G, e, optimize=True)
            flux = mu[..., None, None] * part.G + ((slope - mu)[..., None] * along)[..., None] * e[:, :, None, :]
            local.append(PER_MM * self._local(part, flux).ravel())
        values = np.bincount(self.slots, np.concatenate(local), minlength=self.rows.size)
        return self._matrix(values)

    def solve(self, *ampere_turns: float, scale: float = 1.0, tolerance: float = 1e-6, most: int = 60) -> Point:
        """Solve by Newton steps, shortened until the coenergy falls as it should.

        Parameters
        ----------
        ampere_turns
            Of each winding [A].
        scale
            By which the last state is multiplied to start from.
        tolerance
            Of the Newton decrement over the coenergy, before the last step.

        Raises
        ------
        ArithmeticError
            If it does not converge.
        """
        F = np.array(ampere_turns)
        self.u = scale * self.u
        residual, fluxes, energy, largest, tangents = self._state(F, self.u)
        for _ in range(most):
            step = self.system.solve(self._tangent(tangents), residual)
            slope, share = float(step @ residual), 1.0
            last = slope <= tolerance * energy
            while True:
                trial = self._state(F, self.u + share * step)
                if last or trial[2] <= energy - 1e-4 * share * slope or share < 1e-3:
                    break
                share *= 0.4
            self.u = self.u + share * step
            residual, fluxes, energy, largest, tangents = trial
            if last:
                return self._point(F, fluxes, energy, largest)
        msg = f"no field found at {ampere_turns} A"
        raise ArithmeticError(msg)

    def permeances(self, *ampere_turns: float) -> Floats:
        """Return flux per turn by ampere-turns, windings by windings [H], where iron keeps its secant permeability.

        That of the state at `u`, the last one solved, whose ampere-turns are given; the state itself satisfies them.
        Potentials per ampere-turn are left in `responses`, to begin a like state with.
        """
        *_, tangents = self._state(np.array(ampere_turns), self.u)
        K = self._tangent([(mu, mu, e) for mu, _, e in tangents])
        driven, products = self.driven.copy(), self.products.copy()
        for (_, part), t, (mu, *_) in zip(self.laws, self.t, tangents, strict=True):
            flux = PER_MM * mu[..., None] * t
            driven += np.array([part.test(one, self.size) for one in flux])
            products += np.einsum("ieqx,jeqx,eq->ij", t, flux, part.scale, optimize=True)
        self.system.stale = True
        each = [self.system.solve(K, np.where(self.free, one, 0.0), tolerance=1e-6) for one in driven]
        self.system.stale = True
        self.responses = np.array(each)
        return np.asarray((products - driven @ self.responses.T) * self.opened.copies * AREA)

    def _point(self, F: Floats, fluxes: Floats, energy: float, largest: float) -> Point:
        whole = self.opened.copies * AREA
        carried = tuple(float(v) * whole for v in fluxes)
        return Point(ampere_turns=tuple(F), fluxes=carried, coenergy=float(whole * energy), largest=largest)
