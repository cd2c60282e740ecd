"""The search for the duty that machines allow, side by side."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.errors import NotConverged
from fem.heat.cycle import CLOSED, Cycles, SteadyCycle, cycles, newton_step, steady_from
from fem.heat.levels import LONGEST
from fem.heat.lumps import Lumps
from fem.heat.network import CEILING
from fem.heat.phases import Course
from fem.heat.settled import WIDEST, settle

Flows = Callable[[Floats], Floats]
"""What flows during a burst, (3, m) as `Course.flows`, of m machines as warm as (m, nodes) on its average [K]."""

_FAR = 2 * CEILING
"""Stands for the excess over a limit [K] of what does not settle within the data."""
_FIRST, _WIDER, _PASSES = 0.05, 8.0, 80
_FLAT = 2
"""After how many passes without a slope shares are bisected."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Duty:
    """Hold the duty that a current allows.

    Parameters
    ----------
    share
        On-time over period [-], from 0 to 1.
    on_time, period
        [s].
    limiting
        The part that sets it; None where continuous use is allowed.
    cycle
        At that duty; None at 0 and at 1.
    """

    share: float
    on_time: float
    period: float
    limiting: str | None
    cycle: SteadyCycle | None


def known(found: Duty | NotConverged) -> Duty:
    """Return a duty that was found, or raise why it was not."""
    if isinstance(found, NotConverged):
        raise found
    return found


class Search:
    """Members under way: shares, beginnings, what flows, and between which shares each lies."""

    def __init__(
        self,
        lumps: Lumps,
        flows: Flows,
        given: Floats,
        off: Floats,
        keeps_on: NDArray[np.bool_],
        resolution: float,
    ) -> None:
        self.lumps, self.flows, self.given, self.off, self.keeps_on = lumps, flows, given, off, keeps_on
        self.resolution = resolution
        count = lumps.members
        self.found: list[Duty | None] = [None] * count
        self.idle, too_hot = settle(lumps, off[..., None])
        self.never = self._over(self.idle)
        self.on = np.array(np.broadcast_to(flows(lumps.at_ambient()), (3, count)))
        always = self._always(np.arange(count))
        for i in range(count):
            if always[i] <= 0:
                self.found[i] = self._duty(i, 1.0, None, None)
            elif i in too_hot or self.never[i] > 0:
                part = too_hot[i].part if i in too_hot else self._hottest(self.idle[i])
                self.found[i] = self._duty(i, 0.0, part, None)
        self.least = np.where(keeps_on, given / (given + LONGEST), 0.0)
        # of a machine that is straight in its heat that would be it
        straight = (always < _FAR) & (always > self.never)
        self.share = np.where(straight, self.never / np.where(straight, self.never - always, 1.0), _FIRST)
        self.share = np.maximum(np.minimum(self.share, 0.9), np.maximum(self.least, 1e-9))
        self.low, self.high = np.zeros(count), np.ones(count)
        self.before = np.stack([np.zeros(count), self.never])
        self.slope, self.uneven = np.zeros(count), np.zeros(count, dtype=int)
        self.start = lumps.at_ambient()

    def _over(self, temperatures: Floats) -> Floats:
        """Return the largest excess over a limit, (m,) [K]."""
        return np.asarray((temperatures - self.lumps.limits).max(axis=-1))

    def _hottest(self, temperatures: Floats) -> str:
        return self.lumps.parts[int(np.argmax(temperatures - self.lumps.limits))]

    def _always(self, on: Integers) -> Floats:
        """Return the excess of members that are never switched off [K]."""
        settled, beyond = settle(self.lumps.take(on), self.on[:, on, None])
        over = self._over(settled)
        over[list(beyond)] = _FAR
        return over

    def _lengths(self, on: Integers) -> Floats:
        """Return on-time and pause of members, (2, k) [s]."""
        share, given = self.share[on], self.given[on]
        period = np.where(self.keeps_on[on], given / share, given)
        return np.stack([period * share, period * (1 - share)])

    def _duty(self, i: int, share: float, limiting: str | None, cycle: SteadyCycle | None) -> Duty:
        given = float(self.given[i])
        period = (given / share if share > 0 else inf) if self.keeps_on[i] else given
        on_time = given if self.keeps_on[i] else share * given
        return Duty(share=share, on_time=on_time, period=period, limiting=limiting, cycle=cycle)

    def run(self) -> list[Duty | NotConverged]:
        """Search until all are found, or given up."""
        for _ in range(_PASSES):
            on = np.array([i for i, one in enumerate(self.found) if one is None], dtype=np.intp)
            if not on.size:
                break
            course = Course(durations=self._lengths(on), flows=np.stack([self.on[:, on], self.off[:, on]]))
            run = cycles(self.lumps.take(on), course, self.start[on])
            beyond = np.zeros(on.size, dtype=bool)
            beyond[list(run.beyond)] = True
            gap = run.end - self.start[on]
            moved, grows = newton_step(run.to_end, gap)
            hot = beyond | grows
            self._cooler(on[hot])
            if not hot.all():
                self._next(on[~hot], run, np.flatnonzero(~hot), moved[~hot])
        return [self._given_up(i) if one is None else one for i, one in enumerate(self.found)]

    def _given_up(self, i: int) -> NotConverged:
        left, tried = float(self.high[i] - self.low[i]) / float(self.share[i]), f"{_PASSES} cycles"
        return NotConverged("duty allowed", residual=left, tolerance=self.resolution, tried=tried)

    def _cooler(self, on: Integers) -> None:
        """Try less with members that were too hot."""
        share = self.share[on]
        self.high[on] = share
        low = np.maximum(self.low[on], self.least[on])
        given_up = share <= self.least[on]
        for i in on[given_up].tolist():
            self.found[i] = self._duty(i, 0.0, self._hottest(self.start[i]), None)
        self.share[on] = np.maximum(np.where(low > 0, np.sqrt(low * share), share / 4), self.least[on])
        self.start[on] = self.idle[on]

    def _next(self, on: Integers, run: Cycles, rows: Integers, moved: Floats) -> None:
        """Take the next share of members whose cycles keep within the data, or be done with them."""
        share, size = self.share[on], np.abs(moved).max(axis=-1)
        part = np.minimum(1.0, WIDEST / np.maximum(size, 1e-30))[:, None]
        settled = self.start[on] + part * moved
        peak = run.peak[rows] + np.matmul(run.to_peak[rows], (part * moved)[..., None])[..., 0]
        over = self._over(peak)
        flows = self.on.copy()
        warmth = np.array(self.lumps.at_ambient())
        warmth[on] = np.minimum(0.5 * (settled + peak), CEILING)
        self.on[:, on] = np.broadcast_to(self.flows(warmth), self.on.shape)[:, on]
        changed = np.abs(np.sqrt(self.on[:2, on] / np.maximum(flows[:2, on], 1e-30)) - 1)
        changed = np.where(flows[:2, on] > 0, changed, 0.0).max(axis=0)
        slope = (over - self.never[on]) / share
        before, before_over = self.before[:, on]
        # shares as near as is asked for tell of what is not settled rather than of the slope, which is kept
        apart = np.abs(share - before) > self.resolution * share
        secant = (over - before_over) / np.where(apart, share - before, 1.0)
        even = (secant > 0.2 * slope) & (secant < 5 * slope)
        slope = np.where(apart, np.where(even, secant, slope), self.slope[on])
        self.slope[on] = slope
        fine = self.resolution * slope * share
        still = (size <= CLOSED) & (changed <= 1e-4)
        sure = still & (size <= 0.1 * fine)
        within = np.maximum(over, self._over(run.peak[rows])) <= 0
        done = within & (sure & (over >= -0.5 * fine) | still & (self.high[on] <= share * (1 + self.resolution)))
        none = sure & (over > 0) & (share <= self.least[on])
        for i, row, ends, nothing in zip(on.tolist(), rows.tolist(), done, none, strict=True):
            if nothing:
                self.found[i] = self._duty(i, 0.0, self._hottest(run.peak[row]), None)
            elif ends:
                cycle = steady_from(run, row, self.start[i], self._duty(i, self.share[i], None, None).period, 1)
                self.found[i] = self._duty(i, float(self.share[i]), self._hottest(run.peak[row]), cycle)
        near = (size < np.minimum(1.0, np.abs(over))) & (changed < 1e-2)
        self.low[on] = np.where(near & (over <= 0), share, self.low[on])
        self.high[on] = np.where(near & (over > 0), share, self.high[on])
        self.before[:, on] = share, over
        wanted = share - (over + 0.25 * fine) / slope
        wanted = np.minimum(np.maximum(wanted, share / _WIDER), share * _WIDER)
        low, high = self.low[on], self.high[on]
        shut = high <= low * (1 + 0.1 * self.resolution)
        self.low[on], self.high[on] = np.where(shut, 0.0, low), np.where(shut, 1.0, high)
        low, high = self.low[on], self.high[on]
        # where peaks hardly go with the share, pass after pass, the secant tells nothing
        self.uneven[on] = np.where(near & apart & ~even, self.uneven[on] + 1, 0)
        flat = self.uneven[on] >= _FLAT
        wanted = np.where(flat, 0.5 * (share + np.where(over > 0, low, high)), wanted)
        wanted = np.where(wanted <= low, 0.5 * (low + np.minimum(share, high)), wanted)
        wanted = np.where(wanted >= high, 0.5 * (high + np.maximum(share, low)), wanted)
        wanted = np.where(high <= low * (1 + self.resolution), low, wanted)
        wanted = np.maximum(wanted, self.least[on])
        self._all_the_time(on[wanted > 1 - self.resolution])
        self.share[on] = wanted
        self.start[on] = settled + (settled - self.idle[on]) * (wanted / share - 1)[:, None]

    def _all_the_time(self, on: Integers) -> None:
        """Be done with members that as warm as they now are may be left on for good."""
        if on.size:
            for i, over in zip(on.tolist(), self._always(on), strict=True):
                if over <= 0:
                    self.found[i] = self._duty(i, 1.0, None, None)
