"""March the work piece through time, the current solved along with the heat."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from fem.arrays import Floats
from fem.digits import brief
from fem.errors import NotConverged
from fem.work.bordered import Matrix
from fem.work.state import State
from fem.work.volumes import System

Line = Callable[[float, float], tuple[float, float]]
"""Current [A] and its slope [A/ohm] at a resistance [ohm] and a time [s]."""

_GAMMA = 2 - sqrt(2)
_D = _GAMMA / 2
_W = sqrt(2) / 4
_ERROR_WEIGHTS = ((4 * _W - 1) / 3, -1 / 3, 2 * _D / 3)
_NEWTON_STEPS = 12
_MOST_STEPS = 20000
_SMALLEST = 1e-12
_GREATEST_RISE = 20.0


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Instant:
    """Hold one accepted instant of a march.

    Parameters
    ----------
    time
        From the start [s].
    unknowns, rate
        (n,) as `State`.
    current
        R.m.s. [A].
    grown
        (s,) the most that each spot has grown so far [-].
    state
        At these unknowns and this current.
    energies
        (6,) integrals of `System.powers` since the start [J].
    """

    time: float
    unknowns: Floats
    rate: Floats
    current: float
    grown: Floats
    state: State
    energies: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Stage:
    """A solved stage: unknowns, current, their rate, the last matrix."""

    unknowns: Floats
    current: float
    rate: Floats
    state: State
    matrix: Matrix


def off(resistance: float, time: float) -> tuple[float, float]:
    """Return no current, whatever the resistance [ohm] and the time [s]: the line of a transformer switched off."""
    del resistance, time
    return 0.0, 0.0


def march(
    system: System,
    line: Line,
    start: Floats,
    *,
    duration: float,
    tolerance: float,
    first_time: float = 0.0,
    longest: float = inf,
    grown: Floats | None = None,
) -> Iterator[Instant]:
    """Yield the instants of a transient, the start first, each step as long as the error estimate allows.

    Parameters
    ----------
    system
        The work piece as finite volumes.
    line
        Current [A] and slope [A/ohm] from the resistance [ohm], at a time [s].
    start
        (n,) unknowns.
    duration
        [s].
    tolerance
        Greatest estimated error of one step [K].
    first_time
        Time of the start [s].
    longest
        Step [s].
    grown
        (s,) how far the spots had grown before the start [-]; 1 where not given.

    Raises
    ------
    NotConverged
        If a step shrinks to nothing or far too many are needed.

    Notes
    -----
    dy/dt = f(y, i) beside the algebraic i = I(R(y, i)), the load line at the piece's resistance, by the trapezoidal
    rule and the two-step backward difference after it, gamma = 2 - sqrt(2), d = gamma/2, w = sqrt(2)/4:

        y_g = y_n + d h (f_n + f_g),     y_(n+1) = y_n + h (w f_n + w f_g + d f_(n+1)).

    Second order, and stiff parts die out at once (L-stable): R. E. Bank et al., IEEE Trans. Electron Devices 32 (1985)
    1992. The error is the difference to the third-order formula of the same stages,
    h ((4 w - 1)/3 f_n - f_g/3 + 2 d/3 f_(n+1)), divided by 1 - d h df/dy: M. E. Hosea and L. F. Shampine, Appl. Numer.
    Math. 20 (1996) 21. The next step is 0.9 h (tolerance/error)^(1/3), at most 3 h and 20 K.

    Each stage is Newton's method on (y, i) together,

        | 1 - d h df/dy      -d h df/di   | |dy|   | known + d h f - y |
        | -I' dR/dy          1 - I' dR/di | |di| = | I(R) - i          |,

    whose first block is tridiagonal once the superheats of the spots, which their neighbours alone feel, are gone: two
    right-hand sides, then i eliminated last. How far spots have grown is taken over with each accepted step. Energies
    are summed with the weights of y_(n+1), and the unknown is enthalpy: the balance closes as far as Newton's method
    does, at melting too.

    Designs along a leading axis would share each step (the least of theirs) and its Newton iterations (the most of
    theirs), one elimination along the cells for all of them; what has melted through would have to leave the block.
    """
    y, time = start, first_time
    end = first_time + duration
    grown = np.ones(system.spot_faces.size) if grown is None else grown
    current, state = _initial_current(system, line, y, time, grown)
    energies = np.zeros(6)
    rate, powers = state.rate, system.powers(state)
    yield Instant(time=time, unknowns=y, rate=rate, current=current, grown=grown, state=state, energies=energies)
    fastest = float(np.abs(rate * system.kelvin).max())
    h = 0.5 / fastest if fastest > 0 else duration
    for _ in range(_MOST_STEPS):
        if time >= end:
            return
        # However straight the course, points are wanted along it, and a corner must not hide between two.
        h = min(h, _GREATEST_RISE / max(float(np.abs(rate * system.kelvin).max()), 1e-300), duration, longest)
        last = time + h >= end * (1 - 1e-14)
        if last:
            h = end - time
        taken = _step(system, line, time, y, rate, current, grown, h, tolerance)
        if taken is None:
            h *= 0.25
            if h < _SMALLEST * max(time, 1e-3):
                break
            continue
        second, third, error = taken
        if error > tolerance:
            h *= max(0.2, 0.9 * (tolerance / error) ** (1 / 3))
            continue
        before, powers = powers, system.powers(third.state)
        energies = energies + h * (_W * before + _W * system.powers(second.state) + _D * powers)
        y, rate, current, state = third.unknowns, third.rate, third.current, third.state
        grown = np.maximum(grown, state.at.spots.growth)
        time = end if last else time + h
        yield Instant(time=time, unknowns=y, rate=rate, current=current, grown=grown, state=state, energies=energies)
        h *= min(3.0, 0.9 * (tolerance / max(error, 1e-30)) ** (1 / 3))
    what = f"temperatures of the work piece {brief(time, 4)} s after switching on"
    raise NotConverged(what, residual=h, tolerance=_SMALLEST, tried=f"{_MOST_STEPS} steps or a step of {h:.3g} s")


def _step(
    system: System,
    line: Line,
    time: float,
    y: Floats,
    rate: Floats,
    current: float,
    grown: Floats,
    h: float,
    tolerance: float,
) -> tuple[_Stage, _Stage, float] | None:
    """Return both stages and the error estimate [K]; None where Newton's method fails."""
    middle, known, guess = time + _GAMMA * h, y + _D * h * rate, y + _GAMMA * h * rate
    second = _solve(system, line, middle, known, _D * h, guess, current, grown, tolerance)
    if second is None:
        return None
    known = y + _W * h * (rate + second.rate)
    guess = known + _D * h * second.rate
    third = _solve(system, line, time + h, known, _D * h, guess, second.current, grown, tolerance)
    if third is None:
        return None
    a, b, c = _ERROR_WEIGHTS
    raw = h * (a * rate + b * second.rate + c * third.rate)
    # Through the matrix once more: otherwise the quick small cells, long settled, would dictate the step.
    error = third.matrix.solve(raw[:, None])[:, 0]
    return second, third, float(np.abs(error * system.kelvin).max())


def _solve(
    system: System,
    line: Line,
    time: float,
    known: Floats,
    weight: float,
    guess: Floats,
    current: float,
    grown: Floats,
    tolerance: float,
) -> _Stage | None:
    """Solve y = known + weight rate(y, i) together with i = line(resistance(y, i)); None after too many steps."""
    y = guess
    right = np.empty((y.size, 2), order="F")
    for attempt in range(_NEWTON_STEPS):
        state = system.evaluate(y, current, grown)
        drawn, slope = line(state.resistance, time)
        matrix = Matrix(state, weight, system.spot_faces)
        right[:, 0] = known + weight * state.rate - y
        right[:, 1] = weight * np.concatenate([state.rate_by_current, state.spots.to[:, 3]])
        try:
            solved = matrix.solve(right)
        except ArithmeticError:
            return None
        # Every node feels the current and every node moves it: eliminate it last.
        by_unknown = slope * np.concatenate([state.resistance_by_unknown, state.spots.of_resistance])
        change = (drawn - current + float(by_unknown @ solved[:, 0])) / (
            1 - slope * state.resistance_by_current - float(by_unknown @ solved[:, 1])
        )
        step = solved[:, 0] + solved[:, 1] * change
        y = y + step
        current += change
        moved = float(np.abs(step * system.kelvin).max())
        if not moved < 1e6 or current < 0:
            return None
        # Energies are those of the state before this correction: a guess, and a spot that has only just met its new
        # neighbours, would leave a part of them unaccounted for.
        settled = attempt > (1 if system.spot_faces.size else 0)
        if settled and moved < 0.01 * tolerance and abs(change) <= 1e-6 * abs(current):
            return _Stage(unknowns=y, current=current, rate=(y - known) / weight, state=state, matrix=matrix)
    return None


def _initial_current(system: System, line: Line, y: Floats, time: float, grown: Floats) -> tuple[float, State]:
    """Return the current at given unknowns, and the state there."""
    # A drop that carbon keeps is a large resistance to a small current, which is a state too: begin from a large one.
    first = line(0.0, time)[0] if system.contacts.drops else 0.0
    current = line(system.evaluate(y, first, grown).resistance, time)[0]
    for _ in range(50):
        state = system.evaluate(y, current, grown)
        drawn, slope = line(state.resistance, time)
        change = (drawn - current) / (1 - slope * state.resistance_by_current)
        if abs(change) <= 1e-10 * abs(current):
            return current, state
        current += change
    what = "current at the start"
    raise NotConverged(what, residual=abs(change / current), tolerance=1e-10, tried="50 Newton steps")
