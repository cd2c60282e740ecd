"""Newton's method for the static field: exact tangent, line search on a convex energy, and a robust start.

The field is where the energy functional I(A) of `problem` is least. From A_k the step is

    K(A_k) p = -r(A_k),    A_k+1 = A_k + t p,

with r the gradient of I and K its Hessian, both exact. K is positive definite, so r . p = -p . K p < 0: p points
downhill. Along it I'(t) = r(A_k + t p) . p rises, as I is convex, from r . p < 0 through the one zero where I is least
on the line. The line search takes a t at which |I'| (Wolfe's curvature condition) or |r| is down to 0.7 of what it was;
such t always exist round that zero. I itself is not computed, so nothing proves that it falls at every step: what does
not get there in `MOST_STEPS` is told. Near the solution t = 1 is taken and the error squares from step to step.

A tangent that left less than a tenth of the residual serves once more (a chord step): the error then falls by about as
much again, for a back-substitution instead of a factorisation.

References
----------
J. Nocedal and S. J. Wright, Numerical Optimization, Springer 2006, chapter 3. J. E. Dennis and R. B. Schnabel,
Numerical Methods for Unconstrained Optimization and Nonlinear Equations, SIAM 1996, chapters 5 and 6.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.errors import NotConverged
from fem.field.static.problem import Law, Problem

TOLERANCE = 1e-8
"""Residual, relative to the load, at which an iteration stops."""
MOST_STEPS = 60
_SERVED_WELL = 0.1
"""Share of the residual that a step leaves at most for its tangent to be used once more."""
_START_MU_R = 4000.0
_START_B: Final = np.geomspace(1e-4, 10.0, 200)
"""Flux densities [T] between which the start interpolates: a law need not know its inverse."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FieldSolution:
    """A solved static field.

    Parameters
    ----------
    problem
        What was solved.
    ampere_turns
        Per winding [A].
    A
        Vector potential at the nodes (size,) [Wb/m].
    residual
        Relative to the load.
    steps
        Steps taken; some share a factored tangent.
    """

    problem: Problem
    ampere_turns: Mapping[str, float]
    A: Floats
    residual: float
    steps: int


@dataclass(slots=True)
class _Iterate:
    """A point of the iteration with everything computed there, so that nothing is computed twice."""

    problem: Problem
    load: Floats
    A: Floats
    c: Floats = field(init=False)
    nu: Floats = field(init=False)
    dnu: Floats = field(init=False)
    r: Floats = field(init=False)

    def __post_init__(self) -> None:
        _, self.c, b2 = self.problem.reference_gradient(self.A)
        self.nu, self.dnu = self.problem.reluctivity(b2)
        self.r = (self.problem.internal(self.c, self.nu) - self.load)[self.problem.space.free]

    def factor_tangent(self) -> None:
        """Factor K here."""
        self.problem.space.factor.factor(self.problem.tangent(self.c, self.nu, self.dnu))

    def direction(self) -> Floats:
        """Return Newton's direction by the tangent last factored, here or at an earlier iterate."""
        return self.problem.space.factor.solve(-self.r)

    def rounding(self) -> float:
        """Return the norm of what the last digit of A does to the residual: no step gets below some third of it."""
        last_digit = np.finfo(float).eps * np.where(np.arange(self.A.size) % 2, 1.0, -1.0)
        return float(np.linalg.norm(_Iterate(self.problem, self.load, self.A * (1 + last_digit)).r - self.r))

    def moved(self, direction: Floats, length: float) -> _Iterate:
        """Return the iterate at A + length p."""
        A = self.A.copy()
        A[self.problem.space.free] += length * direction
        return _Iterate(self.problem, self.load, A)


def solve(
    problem: Problem,
    ampere_turns: Mapping[str, float],
    *,
    start: Floats | None = None,
    tolerance: float = TOLERANCE,
) -> FieldSolution:
    """Solve for the static field of given ampere-turns: the A at which the energy functional is least.

    Parameters
    ----------
    problem
        Mesh, materials and windings.
    ampere_turns
        Per winding [A]; windings left out carry none.
    start
        A to start from (size,), for instance a neighbouring solution; a linear field if None.
    tolerance
        Norm of the residual relative to the load's. In flat triangles, as at a joint of some micrometres, rounding
        alone may leave more; then the iteration stops when it no longer gains and is down to that.

    Raises
    ------
    NotConverged
        If the tolerance is not reached; the message says after what.
    """
    load = problem.load(ampere_turns)
    scale = float(np.linalg.norm(load[problem.space.free]))
    if scale == 0:
        return FieldSolution(
            problem=problem, ampere_turns=dict(ampere_turns), A=np.zeros(problem.space.size), residual=0.0, steps=0
        )
    at = _Iterate(problem, load, _linear_start(problem, load) if start is None else start)
    history = [float(np.linalg.norm(at.r)) / scale]
    while history[-1] > tolerance:
        if len(history) > 1 and history[-1] > 0.5 * history[-2] and history[-1] * scale <= at.rounding():
            break
        if len(history) > MOST_STEPS or not np.isfinite(history[-1]):
            raise _failure(ampere_turns, history, tolerance)
        # Factoring is most of a step: where the last tangent has served well it serves again.
        if len(history) < 2 or history[-1] > _SERVED_WELL * history[-2]:
            at.factor_tangent()
        at = _line_search(at, at.direction())
        history.append(float(np.linalg.norm(at.r)) / scale)
    return FieldSolution(
        problem=problem, ampere_turns=dict(ampere_turns), A=at.A, residual=history[-1], steps=len(history) - 1
    )


def _line_search(at: _Iterate, direction: Floats) -> _Iterate:
    """Return a point along the direction where the energy's slope I' or the residual has shrunk to 0.7 or less.

    I' = r . p rises along the line from its negative value at the start; the full step is kept unless it lands where
    I' is nearly as steep the other way. Then false position between the two, t = t_0 - I'_0 (t_1 - t_0)/(I'_1 - I'_0),
    kept off the ends, which cannot fail on a rising function.
    """
    slope = float(at.r @ direction)
    low, low_slope = 0.0, slope
    high, high_slope = None, 0.0
    length = 1.0
    for _ in range(30):
        trial = at.moved(direction, length)
        trial_slope = float(trial.r @ direction)
        if abs(trial_slope) <= 0.7 * abs(slope) or np.linalg.norm(trial.r) <= 0.7 * np.linalg.norm(at.r):
            return trial
        if trial_slope < 0:  # still downhill and still steep: the law stiffened; go on
            low, low_slope = length, trial_slope
            length = 2 * length if high is None else _between(low, low_slope, high, high_slope)
        else:
            high, high_slope = length, trial_slope
            length = _between(low, low_slope, high, high_slope)
    return trial


def _between(low: float, low_slope: float, high: float, high_slope: float) -> float:
    """Return where the straight line between two slopes is zero, a tenth off either end at least."""
    share = -low_slope / (high_slope - low_slope)
    return low + (high - low) * min(max(share, 0.1), 0.9)


def _linear_start(problem: Problem, load: Floats) -> Floats:
    """Solve with linear iron, then once more with the reluctivity nu(b2) that goes with the H so found.

    Iron that carries a given H rather than a given B keeps far from the wild flux densities a linear core would show.
    """
    space = problem.space
    A = np.zeros(space.size)
    _, c, b2 = problem.reference_gradient(A)
    nu = np.full(b2.shape, 1 / MU0)
    no_slope = np.zeros(b2.shape)
    for elements, _ in problem.laws:
        nu[:, elements] /= _START_MU_R
    for again in (True, False):
        space.factor.factor(problem.tangent(c, nu, no_slope))
        A[space.free] = space.factor.solve(load[space.free])
        if again:
            _, _, b2 = problem.reference_gradient(A)
            for elements, law in problem.laws:
                nu[:, elements] = _carrying(law, np.sqrt(b2[:, elements]) / (MU0 * _START_MU_R))
    return A


def _carrying(law: Law, H: Floats) -> Floats:
    """Return the reluctivity [m/H] of a material that carries H [A/m], near enough to start from."""
    b2 = _START_B**2
    b = np.interp(H, _START_B * law.nu_dnu(b2)[0], _START_B)
    return law.nu_dnu(b**2)[0]


def _failure(ampere_turns: Mapping[str, float], history: list[float], tolerance: float) -> NotConverged:
    at = ", ".join(f"{name} {value:.4g} A" for name, value in ampere_turns.items())
    last = ", ".join(f"{r:.1e}" for r in history[-3:])
    tried = f"{len(history) - 1} Newton steps with line search (the last: {last})"
    return NotConverged(f"field at ampere-turns {at}", residual=history[-1], tolerance=tolerance, tried=tried)
