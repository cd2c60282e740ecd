"""A saturating brick problem over many ampere-turns: solved at a few, then small and dense.

In the span of some fields, u = V q (Galerkin's method in that space), the coenergy of `field/bricks/saturating.py` is
least where

    V^T r(V q) = 0,    r(u) = F L_1 - K u + int_core B(H) . grad(v) dV,

as many unknowns as fields. Of a field in it Newton's step solves K_t d = r on the grid itself; d joins the fields, so
that what the step is worth, and more, is found among them. r . d is twice what the coenergy still lies above its least
value, to second order.

References
----------
J. S. Hesthaven, G. Rozza and B. Stamm, Certified Reduced Basis Methods, Springer 2016, chapter 3.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.cubics import Cubics
from fem.errors import NotConverged
from fem.field.bricks.saturating import Saturating

_TOLERANCE = 1e-6
"""Of r . d relative to F Phi, below which a small problem's last Newton step d is taken without another look."""
_MOST_STEPS = 60
_INDEPENDENT = 1e-6
"""Share of a field's size outside the others' span from which it joins them."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """What the small problem says at given ampere-turns.

    Parameters
    ----------
    ampere_turns
        [A].
    place, rate
        In the span, and its derivative by the ampere-turns (n,) [A], [-].
    flux, slope
        Of each winding per turn, and its derivative by the ampere-turns (windings,) [Wb], [H].
    """

    ampere_turns: float
    place: Floats
    rate: Floats
    flux: Floats
    slope: Floats

    def beyond(self, ampere_turns: float) -> Floats:
        """Return about where a state near by lies, on the straight line through this one (n,) [A]."""
        return np.asarray(self.place + (ampere_turns - self.ampere_turns) * self.rate)

    def towards(self, other: State, ampere_turns: float) -> Floats:
        """Return about where a state between lies, by Hermite's cubics in the logarithm of the ampere-turns (n,)."""
        ends = np.log([self.ampere_turns, other.ampere_turns])
        found = np.zeros((2, 2, max(self.place.size, other.place.size)))
        for k, state in enumerate((self, other)):
            found[:, k, : state.place.size] = state.place, state.rate * state.ampere_turns
        return np.asarray(Cubics.hermite(ends, *found)(np.log(ampere_turns)))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Core:
    """H, mu_s, mu_d - mu_s and the direction of H at the core's points: (3, points) and (points,)."""

    field: Floats
    secant: Floats
    excess: Floats
    unit: Floats

    def times(self, h: Floats) -> Floats:
        """Return dB/dH h (3, points) [T]."""
        along = self.excess * np.einsum("ip,ip->p", self.unit, h)
        return np.asarray(self.secant * h + along * self.unit)


class Reduced:
    """The problem in a span of fields that grows.

    Parameters
    ----------
    problem
        On its grid.
    """

    def __init__(self, problem: Saturating) -> None:
        from scipy.sparse import tril

        self.problem = problem
        self._weights = problem.weights.ravel()
        self._turns = np.repeat(problem.turns, problem.weights.shape[1], axis=0)
        lower = problem.lower(problem.air)
        self._matrix = lower + tril(lower, -1).T
        self.fields, self._slopes = np.empty((problem.size, 0)), np.empty((3, self._weights.size, 0))
        self._air_fields, self._air = np.empty((problem.size, 0)), np.empty((0, 0))
        self._loads = np.empty((0, problem.loads.shape[1]))

    def add(self, fields: Floats) -> None:
        """Let potentials (size, n) [A] join, as far as the others do not hold them already."""
        new = fields / np.linalg.norm(fields, axis=0)
        kept = self.fields.shape[1]
        together = np.concatenate((self.fields, np.empty_like(new)), axis=1)
        for column in new.T:
            before = together[:, :kept]
            for _ in range(2):
                column = column - before @ (before.T @ column)
            if (left := float(np.linalg.norm(column))) > _INDEPENDENT:
                column /= left
                column -= before @ (before.T @ column)
                together[:, kept] = column / np.linalg.norm(column)
                kept += 1
        new = together[:, self.fields.shape[1] : kept]
        air = self._matrix @ new
        across, problem = self.fields.T @ air, self.problem
        self._air = np.block([[self._air, across], [across.T, new.T @ air]])
        self._loads = np.concatenate((self._loads, new.T @ problem.loads))
        self.fields, self._air_fields = together[:, :kept], np.concatenate((self._air_fields, air), axis=1)
        self._slopes = np.concatenate((self._slopes, problem.slopes(new)), axis=2)

    def solve(self, ampere_turns: float, start: Floats | None = None, *, tolerance: float = _TOLERANCE) -> State:
        """Solve the small problem, from a place (n,) near by where one is known; of fewer fields it may be.

        Parameters
        ----------
        ampere_turns
            [A].
        start
            Where to begin [A].
        tolerance
            As `_TOLERANCE`.

        Raises
        ------
        NotConverged
            If Newton's method fails.
        """
        F, place = ampere_turns, np.zeros(self.fields.shape[1])
        if start is not None:
            place[: start.size] = start
        core = self._core(F, place)
        left = self._residual(F, place, core)
        for _ in range(_MOST_STEPS):
            tangent = self._tangent(core)
            step = np.linalg.solve(tangent, left)
            gain, share = float(left @ step), 1.0
            if gain <= tolerance * self._scale(F, place, core):
                return self._state(F, place, core, tangent, left)
            for _ in range(30):
                trial = place + share * step
                core = self._core(F, trial)
                left = self._residual(F, trial, core)
                # W is convex along the step: it falls at least until its slope changes its sign.
                if (after := float(left @ step)) >= -0.5 * gain:
                    break
                share *= max(0.1, gain / (gain - after))
            place = trial
        what, tried = "field of the primary in three dimensions", f"{_MOST_STEPS} Newton steps"
        raise NotConverged(what, residual=gain, tolerance=tolerance, tried=tried)

    def linearised(self, state: State) -> tuple[Floats, Floats]:
        """Return the grid's tangent at a state (entries,) [H] and what drives it (size, 1 + windings) [Wb/A], [H].

        The residual r, whose solution is Newton's step, and the windings' fields: how the potential moves with the
        ampere-turns, and what a turn of each winding sees of any error.
        """
        problem = self.problem
        cells, points = problem.weights.shape
        core = self._core(state.ampere_turns, state.place)
        drives = [problem.tested(core.times(self._drive(k))) for k in range(problem.loads.shape[1])]
        right = np.column_stack((self.residual(state), problem.loads + np.stack(drives, axis=1)))
        secant, excess = (mu.reshape(cells, points) for mu in (core.secant, core.excess))
        return problem.matrix(secant, excess, core.unit.reshape(3, cells, points)), right

    def responses(self, state: State, reading: Floats) -> Floats:
        """Return how a state moves with the ampere-turns of each winding (n, windings + 1) [-].

        And, last, with those of a field along y in the core's cells (cells,) [1/m].
        """
        core = self._core(state.ampere_turns, state.place)
        along = np.zeros_like(core.field)
        along[1] = np.repeat(reading, self.problem.weights.shape[1])
        driven = np.column_stack((self._driven(core), self._tested(core.times(along))))
        return np.asarray(np.linalg.solve(self._tangent(core), driven))

    def residual(self, state: State) -> Floats:
        """Return r (size,) [Wb/A]."""
        problem, F = self.problem, state.ampere_turns
        core = self._core(F, state.place)
        air = F * problem.loads[:, 0] - self._air_fields @ state.place
        return np.asarray(air + problem.tested(core.secant * core.field))

    def _drive(self, winding: int) -> Floats:
        drive = np.zeros((3, self._weights.size))
        drive[1] = self._turns[:, winding]
        return drive

    def _core(self, F: float, place: Floats) -> _Core:
        field = -(self._slopes @ place)
        field[1] += F * self._turns[:, 0]
        size = np.sqrt(np.einsum("ip,ip->p", field, field))
        secant, slope = self.problem.permeabilities(size)
        return _Core(field=field, secant=secant, excess=slope - secant, unit=field / np.maximum(size, 1e-30))

    def _tested(self, flux: Floats) -> Floats:
        """Return the span's int B . grad(v) over the core, of flux densities (3, points) [T]: (n,) [Wb/A]."""
        return np.asarray((self._weights * flux).ravel() @ self._slopes.reshape(flux.size, -1))

    def _residual(self, F: float, place: Floats, core: _Core) -> Floats:
        return np.asarray(F * self._loads[:, 0] - self._air @ place + self._tested(core.secant * core.field))

    def _tangent(self, core: _Core) -> Floats:
        n = self._slopes.shape[2]
        flat = (np.sqrt(self._weights * core.secant)[:, None] * self._slopes).reshape(-1, n)
        along = np.einsum("ip,ipn->pn", core.unit, self._slopes)
        found: Floats = self._air + flat.T @ flat + along.T @ ((self._weights * core.excess)[:, None] * along)
        return found

    def _flux(self, F: float, place: Floats, flux: Floats) -> Floats:
        through = (self._weights * flux[1]) @ self._turns
        return np.asarray(F * self.problem.products - self._loads.T @ place + through)

    def _scale(self, F: float, place: Floats, core: _Core) -> float:
        return F * float(self._flux(F, place, core.secant * core.field)[0])

    def _driven(self, core: _Core) -> Floats:
        """Return what drives how the potential moves with each winding's ampere-turns (n, windings) [Wb/A]."""
        drives = [self._tested(core.times(self._drive(k))) for k in range(self._loads.shape[1])]
        return np.asarray(self._loads + np.stack(drives, axis=1))

    def _state(self, F: float, place: Floats, core: _Core, tangent: Floats, left: Floats) -> State:
        """Take the last step, by which a winding's flux changes by what its response makes of the residual."""
        drive, copies, windings = self._drive(0), self.problem.copies, self._loads.shape[1]
        right = np.column_stack((self._driven(core), left))
        solved = np.asarray(np.linalg.solve(tangent, right), dtype=np.float64)
        responses, step = solved[:, :windings], solved[:, windings]
        rate = responses[:, 0].copy()
        return State(
            ampere_turns=F,
            place=place + step,
            rate=rate,
            flux=copies * (self._flux(F, place, core.secant * core.field) - left @ responses),
            slope=copies * self._flux(1.0, rate, core.times(drive - self._slopes @ rate)),
        )
