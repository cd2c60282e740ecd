"""March the work piece through time, the current solved along with the heat."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from fem.arrays import Floats
from fem.digits import brief
from fem.errors import NotConverged
from fem.work.coupled import Coupled
from fem.work.paths import Joined, Line, Paths

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
        (n,) as `Joined`.
    current
        From the lead ends, r.m.s. [A].
    currents
        (paths,) r.m.s. [A].
    grown
        (s,) the most that each spot has grown so far [-].
    state
        At these unknowns and currents.
    energies
        (paths, 6) integrals of `System.powers` since the start [J].
    """

    time: float
    unknowns: Floats
    rate: Floats
    current: float
    currents: Floats
    grown: Floats
    state: Joined
    energies: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Stage:
    """A solved stage: unknowns, currents, their rate, the last matrix."""

    unknowns: Floats
    currents: Floats
    rate: Floats
    state: Joined
    matrix: Coupled


def off(resistance: float, time: float) -> tuple[float, float]:
    """Return no current, whatever the resistance [ohm] and the time [s]: the line of a transformer switched off."""
    del resistance, time
    return 0.0, 0.0


def march(
    system: Paths,
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
    dy/dt = f(y, i) beside the algebraic i = I(R(y, i)), the load line at the piece's resistance (of two paths both
    currents, `Paths.drawn`), by the trapezoidal rule and the two-step backward difference after it,
    gamma = 2 - sqrt(2), d = gamma/2, w = sqrt(2)/4:

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
    grown = np.ones(system.spot_count) if grown is None else grown
    currents, state = _initial_currents(system, line, y, time, grown)
    rate, powers = state.rate, system.powers(state)
    energies = np.zeros_like(powers)

    def instant(grown: Floats) -> Instant:
        return Instant(
            time=time,
            unknowns=y,
            rate=rate,
            current=system.whole(currents, state),
            currents=currents,
            grown=grown,
            state=state,
            energies=energies,
        )

    yield instant(grown)
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
        taken = _step(system, line, time, y, rate, currents, grown, h, tolerance)
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
        y, rate, currents, state = third.unknowns, third.rate, third.currents, third.state
        grown = np.maximum(grown, state.growth)
        time = end if last else time + h
        yield instant(grown)
        h *= min(3.0, 0.9 * (tolerance / max(error, 1e-30)) ** (1 / 3))
    what = f"temperatures of the work piece {brief(time, 4)} s after switching on"
    raise NotConverged(what, residual=h, tolerance=_SMALLEST, tried=f"{_MOST_STEPS} steps or a step of {h:.3g} s")


def _step(
    system: Paths,
    line: Line,
    time: float,
    y: Floats,
    rate: Floats,
    currents: Floats,
    grown: Floats,
    h: float,
    tolerance: float,
) -> tuple[_Stage, _Stage, float] | None:
    """Return both stages and the error estimate [K]; None where Newton's method fails."""
    middle, known, guess = time + _GAMMA * h, y + _D * h * rate, y + _GAMMA * h * rate
    second = _solve(system, line, middle, known, _D * h, guess, currents, grown, tolerance)
    if second is None:
        return None
    known = y + _W * h * (rate + second.rate)
    guess = known + _D * h * (rate + (second.rate - rate) / _GAMMA)
    third = _solve(system, line, time + h, known, _D * h, guess, second.currents, grown, tolerance)
    if third is None:
        return None
    a, b, c = _ERROR_WEIGHTS
    raw = h * (a * rate + b * second.rate + c * third.rate)
    # Through the matrix once more: otherwise the quick small cells, long settled, would dictate the step.
    error, _ = third.matrix.solve(raw, np.zeros(currents.size), np.zeros((currents.size, currents.size)))
    return second, third, float(np.abs(error * system.kelvin).max())


def _solve(
    system: Paths,
    line: Line,
    time: float,
    known: Floats,
    weight: float,
    guess: Floats,
    currents: Floats,
    grown: Floats,
    tolerance: float,
) -> _Stage | None:
    """Solve y = known + weight rate(y, i) together with i = line(resistance(y, i)); None after too many steps."""
    y = guess
    for attempt in range(_NEWTON_STEPS):
        state = system.evaluate(y, currents, grown)
        drawn, slopes = system.drawn(state, line, time)
        matrix = Coupled(state.paths, weight, system.faces, system.parts)
        try:
            # Every node feels the current and every node moves it: eliminated last.
            step, change = matrix.solve(known + weight * state.rate - y, drawn - currents, slopes)
        except ArithmeticError:
            return None
        y = y + step
        currents = currents + change
        moved = float(np.abs(step * system.kelvin).max())
        if not moved < 1e6 or (currents < 0).any():
            return None
        # Energies are those of the state before this correction: a guess, and a spot that has only just met its new
        # neighbours, would leave a part of them unaccounted for.
        settled = attempt > (1 if system.spot_count else 0)
        if settled and moved < 0.01 * tolerance and (np.abs(change) <= 1e-6 * np.abs(currents)).all():
            return _Stage(unknowns=y, currents=currents, rate=(y - known) / weight, state=state, matrix=matrix)
    return None


def _initial_currents(system: Paths, line: Line, y: Floats, time: float, grown: Floats) -> tuple[Floats, Joined]:
    """Return the currents at given unknowns, and the state there."""
    # A drop that carbon keeps, and cold steel in a weak field, are a large resistance to a small current, which may be
    # a state too, or lead astray: begin from a large one.
    first = np.full(len(system.parts), line(0.0, time)[0])
    currents, _ = system.drawn(system.evaluate(y, first, grown), line, time)
    for _ in range(50):
        state = system.evaluate(y, currents, grown)
        drawn, slopes = system.drawn(state, line, time)
        bends = np.array([one.resistance_by_current for one in state.paths])
        change = np.linalg.solve(np.eye(currents.size) - slopes * bends, drawn - currents)
        if np.all(np.abs(change) <= 1e-10 * np.abs(currents)):
            return currents, state
        currents = currents + change
    what = "current at the start"
    worst = float(np.abs(change / currents).max())
    raise NotConverged(what, residual=worst, tolerance=1e-10, tried="50 Newton steps")
