"""Where temperatures settle: under one state for good, and under a cycle of phases repeated for good."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite, log

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.errors import NotConverged, TooHot
from fem.heat.march import TOLERANCE, steps
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase

_CLOSED = 0.01
"""How well the end of the steady cycle meets its beginning [K], and how close its Newton step must come."""
_ITERATIONS = 60
_WIDEST = 150.0
_COUNTED = 2000


def _check_ways_out(network: Network) -> None:
    """Refuse a network some part of which can never lose its heat."""
    slopes = network.cooling(network.at_ambient() + 10.0)[1]
    least = float(np.linalg.eigvalsh(network.laplacian + np.diag(slopes))[0])
    if least <= 1e-12 * float(np.abs(network.laplacian).max(initial=1.0)):
        msg = f"some node has no surface and no link to one: least conductance {least:.3g} W/K"
        raise ValueError(msg)


def steady_state(network: Network, phase: Phase) -> Floats:
    """Find the temperatures at which one state settles, (nodes,) [K].

    Parameters
    ----------
    network
        Every node must have a way for its heat to leave.
    phase
        Its duration plays no part.

    Raises
    ------
    TooHot
        If a node would settle above 900 K, or nowhere.
    NotConverged
        If Newton's method fails.
    ValueError
        If a node has no way for its heat to leave.

    Notes
    -----
    P(T) - Q(T) - L T = 0 in the symbols of `Network`, by Newton's method with steps of 150 K at most; where
    L + Q' - P' is not positive definite, resistance rising faster than cooling, L + Q' takes its place. Machines along
    a leading axis would need stacks of these (`eigvalsh` and `solve` take them) and a mask for what has settled.
    """
    _check_ways_out(network)
    now = network.at_ambient()
    worst = inf
    for _ in range(_ITERATIONS):
        made, made_slope = network.losses(phase, now)
        lost, lost_slope = network.cooling(now)
        excess = made - lost - network.laplacian @ now
        tangent = network.laplacian + np.diag(lost_slope - made_slope)
        if np.linalg.eigvalsh(tangent)[0] <= 0:
            tangent = network.laplacian + np.diag(lost_slope)
        step = np.linalg.solve(tangent, excess)
        worst = float(np.abs(step).max())
        now = now + step * min(1.0, _WIDEST / max(worst, 1e-30))
        if worst < 1e-9 * CEILING:
            return now
        if now.max() > 2 * CEILING:
            break
    if now.max() > CEILING:
        raise TooHot(network.parts[int(np.argmax(now))], CEILING, None, now)
    what, tried = "steady temperatures", f"{_ITERATIONS} Newton steps"
    raise NotConverged(what, residual=worst / CEILING, tolerance=1e-9, tried=tried)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SteadyCycle:
    """Hold the cycle into which a repeated sequence of phases settles.

    Parameters
    ----------
    names
        Of the nodes.
    start
        (nodes,) at the beginning of every cycle [K].
    peak, lowest
        (nodes,) highest and lowest within it [K].
    peak_time
        (nodes,) from the cycle's beginning to the peak [s].
    period
        [s].
    cycles
        How many cycles from the cold machine until the next one's peaks come within 1 K of the steady peaks [-].
    energy_in, energy_out
        Per cycle; they agree but for what the cycle fails to close [J].
    iterations
        Cycles marched to find it [-].
    """

    names: tuple[str, ...]
    start: Floats
    peak: Floats
    lowest: Floats
    peak_time: Floats
    period: float
    cycles: int
    energy_in: float
    energy_out: float
    iterations: int


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Cycle:
    """One pass through the phases: end, peaks, lows, moments of the peaks, propagator, heat made and given off."""

    end: Floats
    peak: Floats
    lowest: Floats
    peak_time: Floats
    propagator: Floats
    energy_in: float
    energy_out: float


def _cycle(network: Network, phases: Sequence[Phase], start: Floats, tolerance: float) -> _Cycle:
    peak, lowest, peak_time = start.copy(), start.copy(), np.zeros_like(start)
    propagator = np.eye(start.size)
    end, energy_in, energy_out = start, 0.0, 0.0
    for step in steps(network, phases, start, tolerance=tolerance):
        inside = step.duration * np.array([0.25, 0.5, 0.75, 1.0])
        seen = step.at(inside)
        at = np.argmax(seen, axis=0)
        highest = seen.max(axis=0)
        peak_time = np.where(highest > peak, step.start + inside[at], peak_time)
        peak, lowest = np.maximum(peak, highest), np.minimum(lowest, seen.min(axis=0))
        propagator = step.propagator @ propagator
        energy_in += step.energy_in
        energy_out += step.energy_out
        end = seen[-1]
    return _Cycle(
        end=end,
        peak=peak,
        lowest=lowest,
        peak_time=peak_time,
        propagator=propagator,
        energy_in=energy_in,
        energy_out=energy_out,
    )


def _proven(network: Network, phases: Sequence[Phase], start: Floats, tolerance: float) -> _Cycle:
    """Return the cycle from temperatures below the steady one's; beyond the data's end there is none."""
    try:
        return _cycle(network, phases, start, tolerance)
    except TooHot as error:
        raise TooHot(error.part, error.ceiling, None, error.temperatures) from error


def steady_cycle(
    network: Network,
    phases: Sequence[Phase],
    *,
    guess: ArrayLike | None = None,
    tolerance: float = TOLERANCE,
    count: bool = True,
) -> SteadyCycle:
    """Find the periodic state of a repeated sequence of phases without running through all the cycles before it.

    Parameters
    ----------
    network
        Every node must have a way for its heat to leave.
    phases
        One cycle, such as a burst and a pause.
    guess
        (nodes,) temperatures at the beginning of the cycle to start from [K]; left out, ambient.
    tolerance
        Error allowed per step [K].
    count
        Whether to count the cycles it takes from cold; 0 is given where not.

    Raises
    ------
    TooHot
        If a node passes 900 K in the end, or never settles.
    NotConverged
        If the cycle does not close.
    ValueError
        As `march`.

    Notes
    -----
    The fixed point of the map M from the beginning of a cycle to its end, by Newton's method,

        (1 - M') dT = M(T) - T,     M' = exp(h_n J_n) ... exp(h_1 J_1),

    the product of the steps' own propagators. A step that leads beyond 900 K is halved. What is hotter stays hotter, so
    a cycle that ends no cooler than it began lies below the steady one: where even the next plain cycle from there
    passes 900 K, so does the steady one. Where M' has an eigenvalue of 1 or more, a growing mode, steps along the
    cycle's own change are taken, each twice as long as the last, so that a machine that runs away is found out by doing
    so. Machines along a leading axis would march together, see `steps`, and solve stacks; what settles, runs away or is
    halved would be masked.
    """
    if not phases:
        msg = "at least one phase is needed, got 0"
        raise ValueError(msg)
    _check_ways_out(network)
    start = network.at_ambient() if guess is None else np.array(guess, dtype=np.float64)
    try:
        found = _cycle(network, phases, start, tolerance)
    except TooHot:
        # a guess proves nothing: the cold machine does
        start = network.at_ambient()
        found = _proven(network, phases, start, tolerance)
    marched, stretch = 1, 1.0
    while True:
        gap = found.end - start
        runaway = float(np.abs(np.linalg.eigvals(found.propagator)).max()) >= 1
        stretch = 2 * stretch if runaway else 1.0
        step = stretch * gap if runaway else np.linalg.solve(np.eye(start.size) - found.propagator, gap)
        worst = float(np.abs(step).max())
        if not runaway and worst <= _CLOSED:
            break
        if marched >= _ITERATIONS:
            what, tried = "steady cycle", f"{_ITERATIONS} cycles"
            raise NotConverged(what, residual=worst / CEILING, tolerance=_CLOSED / CEILING, tried=tried)
        step = step * min(1.0, _WIDEST / max(worst, 1e-30))
        while True:
            trial = np.maximum(start + step, 0.8 * network.ambient)
            marched += 1
            try:
                found = _cycle(network, phases, trial, tolerance)
                break
            except TooHot:
                step = 0.5 * step
                if float(np.abs(step).max()) <= float(np.abs(gap).max()):
                    trial = found.end
                    found = _proven(network, phases, trial, tolerance)
                    break
        start = trial
    return SteadyCycle(
        names=network.names,
        start=start,
        peak=found.peak,
        lowest=found.lowest,
        peak_time=found.peak_time,
        period=sum(p.duration for p in phases),
        cycles=_count(network, phases, found, tolerance) if count else 0,
        energy_in=found.energy_in,
        energy_out=found.energy_out,
        iterations=marched,
    )


def _count(network: Network, phases: Sequence[Phase], steady: _Cycle, tolerance: float) -> int:
    """Count cycles from ambient until all peaks come within 1 K; far beyond 2000, by the slowest mode."""
    now = network.at_ambient()
    short = 0.0
    for done in range(_COUNTED):
        cycle = _cycle(network, phases, now, tolerance)
        short = float((steady.peak - cycle.peak).max())
        if short <= 1.0:
            return done
        now = cycle.end
    slowest = float(np.abs(np.linalg.eigvals(steady.propagator)).max())
    return _COUNTED + int(np.ceil(log(short) / -log(slowest))) if isfinite(short) else _COUNTED
