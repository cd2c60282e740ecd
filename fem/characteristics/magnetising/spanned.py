"""States of one saturating 3-D problem along ampere-turns, all in the span of the fields of a few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Floats
from fem.characteristics.magnetising.reduced import Reduced, State
from fem.field.bricks.cut_means import cut_weights
from fem.field.bricks.saturating import Saturating
from geometries.shapes.section import Cut

UNIFORM = (30.0,)
"""Relative permeabilities of uniform iron whose fields begin the basis."""
ROUGHLY, NEARLY = 1e-4, 1e-5
"""Tolerances, as of `Reduced.solve`, of states that fields come from, and of those whose fluxes are compared."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Spanned:
    """States at all points, in the span of one problem; what the last corrections changed flux by (levels,) [-]."""

    problem: Saturating
    span: Reduced
    states: list[State]
    change: Floats

    @property
    def flux(self) -> Floats:
        """Per turn (n, windings) [Wb]."""
        return np.array([state.flux for state in self.states])

    @property
    def slope(self) -> Floats:
        """Its derivative by the ampere-turns (n, windings) [H]."""
        return np.array([state.slope for state in self.states])

    @property
    def potentials(self) -> Floats:
        """The states' (size, n) [A]."""
        return self.span.fields @ np.stack([state.place for state in self.states], axis=1)

    def reading(self, cut: Cut) -> tuple[Saturating, Floats]:
        """Return the problem with what reads the flux density through a cut across a leg as a further winding's turns.

        And how the potentials move with each winding's ampere-turns and with those (size, n, windings + 1) [-].
        """
        problem = self.problem
        mean = cut_weights(problem, cut)[1] / problem.volumes
        responses = np.stack([self.span.responses(state, mean) for state in self.states], axis=1)
        more = replace(
            problem,
            turns=np.column_stack((problem.turns, mean / problem.copies)),
            loads=np.column_stack((problem.loads, np.zeros(problem.size))),
            products=np.append(problem.products, 0.0),
        )
        responses[..., -1] /= problem.copies
        return more, np.tensordot(self.span.fields, responses, axes=1)


def along(problem: Saturating, F: Floats, levels: Sequence[int]) -> Spanned:
    """Solve at the levels on the grid, and at all points in the span of what that gave.

    Of each factor four fields and two more are made: Newton's step, how the potential moves with the ampere-turns, what
    an error does to a turn of each winding, and the steps that this factor allows from the corrected state and from one
    half-way to the next level. In their span each winding's flux is then in error by the square of the field's. States
    between which fields are added need not be told to the last digit: that is for those of the whole span, which begin
    between them.
    """
    factor, reduced = problem.cholesky(), Reduced(problem)
    for mu_r in UNIFORM:
        matrix, right = problem.uniform(mu_r)
        factor.factor(matrix)
        reduced.add(factor.solve(right))
    change, near = np.empty(len(levels)), None
    known: list[State] = []
    for k, level in enumerate(levels):
        at = float(F[level])
        state = reduced.solve(at, None if near is None else near.beyond(at), tolerance=ROUGHLY)
        matrix, right = reduced.linearised(state)
        factor.factor(matrix)
        reduced.add(factor.solve(right))
        state = reduced.solve(at, state.place, tolerance=NEARLY)
        reduced.add(factor.solve(reduced.residual(state)[:, None]))
        near = reduced.solve(at, state.place, tolerance=NEARLY)
        change[k] = abs(near.flux[0] / state.flux[0] - 1)
        known.append(near)
        if k + 1 < len(levels):
            at = float(np.sqrt(F[level] * F[levels[k + 1]]))
            near = reduced.solve(at, near.beyond(at), tolerance=ROUGHLY)
            reduced.add(factor.solve(reduced.residual(near)[:, None]))
            known.append(near)
    states: list[State] = []
    for at in F[::-1].tolist():
        below = next((state for state in known if state.ampere_turns <= at), None)
        above = next((state for state in reversed(known) if state.ampere_turns > at), known[0])
        if below is None:
            start = states[-1].beyond(at) if states else above.beyond(at)
        else:
            start = below.place if below.ampere_turns == at else below.towards(above, at)
        states.append(reduced.solve(at, start))
    return Spanned(problem=problem, span=reduced, states=states[::-1], change=change)
