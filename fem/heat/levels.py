"""When parts of machines side by side reach a temperature, and when all have cooled down to one."""

from functools import partial
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers
from fem.errors import TooHot
from fem.heat.lumps import Lumps
from fem.heat.march import March
from fem.heat.phases import Course, Phase
from fem.heat.tangent import Step
from fem.roots import roots

LONGEST = 48 * 3600.0
"""Time [s] after which a machine is taken as settled: two days against hours of its slowest time constant."""


def first_times(
    lumps: Lumps,
    course: Course,
    start: Floats,
    nodes: Integers,
    levels: Floats,
    *,
    all_of_them: bool = True,
) -> tuple[Floats, dict[int, TooHot]]:
    """Return when each node of each member, or a member's first, reaches its level (m, l) [s], and where data end.

    Infinite if never, and where the data end before.

    Parameters
    ----------
    lumps, course, start
        As `March`.
    nodes, levels
        (l,) places, and temperatures [K].
    all_of_them
        Whether to go on once one level is reached.
    """
    times = np.full((len(start), len(nodes)), inf)
    walk = March(lumps, course, start)
    fractions = np.linspace(0.0, 1.0, 5)
    for step in walk:
        seen = step.at(step.duration[:, None] * fractions)[..., nodes]
        above = (seen >= levels) & np.isinf(times[step.members])[:, None, :]
        if not above.any():
            continue
        here, level = np.nonzero(above.any(axis=1))
        mark = np.argmax(above[here, :, level], axis=1)
        times[step.members[here], level] = step.start[here] + _crossings(step, here, mark, nodes[level], levels[level])
        reached = np.isfinite(times[step.members])
        walk.stop(step.members[reached.all(axis=1) if all_of_them else reached.any(axis=1)])
    return times, walk.beyond


def _crossings(step: Step, here: Integers, mark: Integers, nodes: Integers, levels: Floats) -> Floats:
    """Return when in their steps nodes (p,) of the members at places (p,) reach levels [s], before quarter marks."""
    steps = step.take(here)
    low, high = (0.25 * np.maximum(mark - back, 0) * steps.duration for back in (1, 0))
    order = np.arange(len(here))
    return roots(lambda time: steps.at(time)[order, nodes] - levels, low, high, xtol=1e-9 * steps.duration)


def cool_down_times(lumps: Lumps, start: Floats, target: ArrayLike, *, off: Phase) -> Floats:
    """Return how long until every part of each is at or below a temperature (m,) [s]; infinite if not within two days.

    Parameters
    ----------
    lumps
        With a leading axis.
    start
        (m, nodes) [K].
    target
        Of all or each (m,) [K].
    off
        What goes on meanwhile; its duration is replaced.

    Raises
    ------
    ValueError
        If a target is not above ambient, or as `march`.

    Notes
    -----
    The root of max_k T_k(t) = target within the step that first ends below it.
    """
    ambient, wanted = lumps.ambient[:, 0], np.broadcast_to(np.asarray(target, dtype=np.float64), len(start))
    if not np.all(wanted > ambient):
        msg = f"target {float(wanted.min())!r} K must lie above the ambient temperature, {float(ambient.max()):g} K"
        raise ValueError(msg)
    times = np.where(start.max(axis=-1) <= wanted, 0.0, inf)
    walk = March(lumps, Course.of([off.lasting(LONGEST)], len(start)), start)
    walk.stop(np.isfinite(times))
    marks = np.linspace(0.0, 1.0, 5)
    for step in walk:
        if not np.any(step.end.max(axis=-1) <= wanted[step.members]):
            continue
        cooled = step.take(step.end.max(axis=-1) <= wanted[step.members])
        level, h = wanted[cooled.members], cooled.duration
        below = cooled.at(h[:, None] * marks).max(axis=-1) <= level[:, None]
        after = np.argmax(below, axis=1)
        ends = (marks[np.maximum(after - back, 0)] * h for back in (1, 0))
        within = roots(partial(_above, cooled, level), *ends, xtol=1e-6)
        times[cooled.members] = cooled.start + within
        walk.stop(cooled.members)
    return times


def _above(step: Step, level: Floats, time: Floats) -> Floats:
    return np.asarray(step.at(time).max(axis=-1) - level)
