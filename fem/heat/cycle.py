"""Where temperatures settle under a cycle of phases repeated for good."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.errors import NotConverged, TooHot
from fem.heat.lumps import Lumps
from fem.heat.march import TOLERANCE, March
from fem.heat.network import CEILING
from fem.heat.phases import Course
from fem.heat.settled import WIDEST

CLOSED = 0.01
"""How well the end of the steady cycle meets its beginning [K], and how close its Newton step must come."""
_ITERATIONS = 60


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SteadyCycle:
    """Hold the cycle into which a repeated sequence of phases settles.

    Parameters
    ----------
    start
        (nodes,) at the beginning of every cycle [K].
    peak, lowest
        (nodes,) highest and lowest within it [K].
    peak_time
        (nodes,) from the cycle's beginning to the peak [s].
    period
        [s].
    cycles
        How many cycles from the cold machine until the next one's peaks come within 1 K of the steady peaks [-]; 0
        where they were not counted.
    energy_in, energy_out
        Per cycle; they agree but for what the cycle fails to close [J].
    iterations
        Cycles marched to find it [-].
    to_end
        (nodes, nodes) how a small change at the beginning arrives at the end [-].
    """

    start: Floats
    peak: Floats
    lowest: Floats
    peak_time: Floats
    period: float
    cycles: int
    energy_in: float
    energy_out: float
    iterations: int
    to_end: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Cycles:
    """One pass of m members through their phases, (m, nodes) each, (m, nodes, nodes), (m,).

    Parameters
    ----------
    end, peak, lowest, peak_time
        Temperatures at the end, highest, lowest [K]; when they are highest [s].
    to_end, to_peak
        How a small change at the start arrives at the end, and at each node's peak (to the end of that step) [-].
    energy_in, energy_out
        Heat made and given off [J].
    beyond
        Whose data end before.
    """

    end: Floats
    peak: Floats
    lowest: Floats
    peak_time: Floats
    to_end: Floats
    to_peak: Floats
    energy_in: Floats
    energy_out: Floats
    beyond: dict[int, TooHot]


_QUARTERS = np.array([0.25, 0.5, 0.75, 1.0])


def cycles(lumps: Lumps, course: Course, start: Floats, *, tolerance: float = TOLERANCE) -> Cycles:
    """March members once through their phases from temperatures (m, nodes) [K]."""
    peak, lowest, peak_time, end = start.copy(), start.copy(), np.zeros_like(start), start.copy()
    to_end = np.repeat(np.eye(start.shape[-1])[None], len(start), axis=0)
    to_peak = to_end.copy()
    energy_in, energy_out = np.zeros(len(start)), np.zeros(len(start))
    walk = March(lumps, course, start, tolerance=tolerance)
    for step in walk:
        own = step.members
        inside = step.duration[:, None] * _QUARTERS
        seen = step.at(inside)
        highest, at = seen.max(axis=1), np.argmax(seen, axis=1)
        to_end[own] = step.propagator @ to_end[own]
        higher = highest > peak[own]
        peak_time[own] = np.where(higher, step.start[:, None] + np.take_along_axis(inside, at, axis=1), peak_time[own])
        to_peak[own] = np.where(higher[..., None], to_end[own], to_peak[own])
        peak[own], lowest[own] = np.maximum(peak[own], highest), np.minimum(lowest[own], seen.min(axis=1))
        made, lost = step.energies
        energy_in[own] += made
        energy_out[own] += lost
        end[own] = step.end
    # of those that left the data no cycle is known; as they are it would be one that nothing dies away in
    to_end[list(walk.beyond)] = 0.0
    return Cycles(
        end=end,
        peak=peak,
        lowest=lowest,
        peak_time=peak_time,
        to_end=to_end,
        to_peak=to_peak,
        energy_in=energy_in,
        energy_out=energy_out,
        beyond=walk.beyond,
    )


def newton_step(to_end: Floats, gap: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return (1 - M')^-1 of (m, nodes) that cycles miss to close, and of which members a mode grows, (m,).

    M' has no negative element, heat flowing from hot to cold: then (1 - M') y = 1 has a positive y only where all
    modes die away (A. Berman, R. J. Plemmons, Nonnegative Matrices in the Mathematical Sciences, chapter 6).
    """
    right = np.stack([gap, np.ones_like(gap)], axis=-1)
    found: Floats = np.linalg.solve(np.eye(gap.shape[-1]) - to_end, right).astype(np.float64, copy=False)
    return found[..., 0], found[..., 1].min(axis=-1) <= 0


def steady_cycles(
    lumps: Lumps,
    course: Course,
    guess: Floats | None = None,
    *,
    tolerance: float = TOLERANCE,
    closed: float = CLOSED,
) -> list[SteadyCycle | TooHot]:
    """Find the periodic state of each member's repeated phases, or which part settles beyond the data.

    Parameters
    ----------
    lumps
        With a leading axis; every node must have a way for its heat to leave.
    course
        One cycle of each.
    guess
        (m, nodes) temperatures at the beginning of the cycle to start from [K]; left out, ambient.
    tolerance
        Error allowed per step [K].
    closed
        How close the last Newton step must come [K].

    Raises
    ------
    NotConverged
        If a cycle does not close.

    Notes
    -----
    The fixed point of the map M from the beginning of a cycle to its end, by Newton's method,

        (1 - M') dT = M(T) - T,     M' = exp(h_n J_n) ... exp(h_1 J_1),

    the product of the steps' own propagators. A step that leads beyond 900 K is halved. What is hotter stays hotter, so
    a cycle that ends no cooler than it began lies below the steady one: where even the next plain cycle from there
    passes 900 K, so does the steady one. Where M' has a growing mode, steps along the cycle's own change are taken,
    each twice as long as the last, so that a machine that runs away is found out by doing so. What is there drops out;
    the others march on side by side.
    """
    ambient = lumps.at_ambient()
    trial = ambient.copy() if guess is None else np.array(guess, dtype=np.float64)
    count = len(trial)
    # What a cycle beyond the data's end means: of a plain one from below the steady one's temperatures, all is said.
    proven, guessed = np.full(count, guess is None), np.full(count, guess is not None)
    start, end, gap, step = trial.copy(), trial.copy(), np.zeros_like(trial), np.zeros_like(trial)
    stretch, marched = np.ones(count), 0
    found: list[SteadyCycle | TooHot | None] = [None] * count
    on = np.arange(count)
    while on.size:
        if marched >= _ITERATIONS:
            what, tried = "steady cycle", f"{_ITERATIONS} cycles"
            residual = float(np.abs(step[on]).max()) / CEILING
            raise NotConverged(what, residual=residual, tolerance=CLOSED / CEILING, tried=tried)
        run, marched = cycles(lumps.take(on), course.take(on), trial[on], tolerance=tolerance), marched + 1
        for local, error in run.beyond.items():
            i = int(on[local])
            if proven[i]:
                found[i] = TooHot(error.part, error.ceiling, None, error.temperatures)
            elif guessed[i]:
                # a guess proves nothing: the cold machine does
                trial[i], guessed[i], proven[i] = ambient[i], False, True
            else:
                step[i] *= 0.5
                proven[i] = np.abs(step[i]).max() <= np.abs(gap[i]).max()
                trial[i] = end[i] if proven[i] else _within(start[i] + step[i], ambient[i])
        kept = np.array([local for local in range(on.size) if local not in run.beyond], dtype=np.intp)
        if kept.size:
            whose = on[kept]
            start[whose], end[whose] = trial[whose], run.end[kept]
            gap[whose] = end[whose] - start[whose]
            solved, grows = newton_step(run.to_end[kept], gap[whose])
            stretch[whose] = np.where(grows, 2 * stretch[whose], 1.0)
            step[whose] = np.where(grows[:, None], stretch[whose, None] * gap[whose], solved)
            worst = np.abs(step[whose]).max(axis=-1)
            for local, i in zip(kept[~grows & (worst <= closed)], whose[~grows & (worst <= closed)], strict=True):
                found[i] = steady_from(run, int(local), start[i], course.durations[:, i].sum(), marched)
            step[whose] *= np.minimum(1.0, WIDEST / np.maximum(worst, 1e-30))[:, None]
            trial[whose] = _within(start[whose] + step[whose], ambient[whose])
            proven[whose] = guessed[whose] = False
        on = on[[found[i] is None for i in on]]
    return [one for one in found if one is not None]


def _within(temperatures: Floats, ambient: Floats) -> Floats:
    return np.maximum(temperatures, 0.8 * ambient)


def steady_from(run: Cycles, local: int, start: Floats, period: float, marched: int) -> SteadyCycle:
    """Return the cycle of one of those marched from its steady beginning, (nodes,) [K]."""
    return SteadyCycle(
        start=start.copy(),
        peak=run.peak[local],
        lowest=run.lowest[local],
        peak_time=run.peak_time[local],
        period=float(period),
        cycles=0,
        energy_in=float(run.energy_in[local]),
        energy_out=float(run.energy_out[local]),
        iterations=marched,
        to_end=run.to_end[local],
    )
