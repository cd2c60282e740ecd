"""March heat networks through time, side by side, in steps that are exact for constant conductances."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from fem.arrays import Floats, positive
from fem.errors import TooHot
from fem.heat.lumps import Lumps
from fem.heat.network import CEILING
from fem.heat.phases import Course
from fem.heat.tangent import Step, Tangent, tangent
from fem.roots import root

TOLERANCE = 0.02
"""Error allowed per step [K]."""


class March:
    """Walk a block of networks through sequences of phases; every member takes steps of its own.

    Parameters
    ----------
    lumps
        With a leading axis, m members.
    course
        As many phases for each, of finite duration.
    start
        (m, nodes) temperatures at the beginning [K].
    tolerance
        Error allowed per step [K].

    Attributes
    ----------
    beyond
        By member, of those of whom a node passes 900 K, where the data end: they stop there.

    Notes
    -----
    Exponential steps of order 3, see `Tangent`. The next is h = 0.9 h (tolerance/error)^(1/3), at most 5 h; a step with
    too large an error is taken again, and one in which a mode grows lasts two of its time constants at most. What a
    member does depends on no other one.
    """

    def __init__(self, lumps: Lumps, course: Course, start: Floats, *, tolerance: float = TOLERANCE) -> None:
        positive(tolerance=tolerance)
        if start.shape != lumps.capacity.shape:
            msg = f"{lumps.capacity.shape} start temperatures expected, got shape {start.shape}"
            raise ValueError(msg)
        self._lumps, self._course, self._now, self._tolerance = lumps, course, start, tolerance
        self.beyond: dict[int, TooHot] = {}
        self._going = start.max(axis=-1) <= CEILING
        for member in np.flatnonzero(~self._going).tolist():
            self._end(member, 0.0, start[member])

    def _end(self, member: int, time: float, temperatures: Floats) -> None:
        hottest = self._lumps.parts[int(np.argmax(temperatures))]
        self.beyond[member] = TooHot(hottest, CEILING, time, temperatures)
        self._going[member] = False

    def stop(self, members: Any) -> None:
        """Walk no further with some members, by their places or by a mask."""
        self._going[members] = False

    def __iter__(self) -> Iterator[Step]:
        """Yield the steps that were accepted, of all members that were going; up to the data's end where one ends."""
        durations, flows, going = self._course.durations, self._course.flows, self._going
        on = np.flatnonzero(going)
        lumps, now = (self._lumps, self._now) if going.all() else (self._lumps.take(on), self._now[on])
        which, clock = np.zeros(len(on), dtype=np.intp), np.zeros(len(on))
        left = durations[0, on]
        h, flow, over = left, flows[0][:, on, None], 1e-12 * left
        while on.size:
            here = tangent(lumps, flow, now)
            # A growing mode must not run off within one trial.
            h = np.minimum(np.minimum(h, left), 2.0 / np.maximum(here.values[:, -1], 1e-30))
            step = here.step(h, on, which, clock)
            growth = 0.9 * (self._tolerance / np.maximum(step.error, 1e-12)) ** (1 / 3)
            good = step.error <= self._tolerance
            hot = np.flatnonzero(good & (step.end.max(axis=-1) > CEILING))
            good[hot] = False
            if good.all():
                yield step
                now, clock, left, h = step.end, clock + h, left - h, h * np.minimum(growth, 5.0)
            else:
                if good.any():
                    yield step.take(good)
                # What happened on the way to the end of the data is still good.
                for place in hot.tolist():
                    last = _up_to_the_ceiling(here, step, place)
                    yield last
                    self._end(int(on[place]), float(last.start[0] + last.duration[0]), last.end[0])
                now, taken = np.where(good[:, None], step.end, now), np.where(good, h, 0.0)
                clock, left = clock + taken, left - taken
                h = h * np.where(good, np.minimum(growth, 5.0), np.maximum(growth, 0.05))
            if (ended := left <= over).any():
                which = which + ended
                going[on[which == len(durations)]] = False
                place = np.minimum(which, len(durations) - 1)
                next_one = durations[place, on]
                left, h = np.where(ended, next_one, left), np.where(ended, next_one, h)
                flow, over = flows[place, :, on].T[..., None], 1e-12 * next_one
            if not (kept := going[on]).all():
                on, lumps, now, flow = on[kept], lumps.take(kept), now[kept], flow[:, kept]
                which, clock, left, h, over = which[kept], clock[kept], left[kept], h[kept], over[kept]


def _up_to_the_ceiling(here: Tangent, step: Step, place: int) -> Step:
    one = step.take(place)

    def excess(time: float) -> float:
        return float(one.at(time).max()) - CEILING

    alone = slice(place, place + 1)
    lasts = np.array([root(excess, 0.0, float(one.duration))])
    return here.take(alone).step(lasts, step.members[alone], step.phase[alone], step.start[alone])
