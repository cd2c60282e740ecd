"""Machines that feed bursts, warming as they go, followed together with the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from fem.arrays import Floats, Integers
from fem.errors import TooHot
from fem.heat.phases import Phase
from fem.work.burst import Burst, side_by_side
from fem.work.course import Failed
from fem.work.feed import Drawn, Feeds, stretches
from fem.work.line import Lines
from fem.work.run import HeatingRun
from fem.work.warmer import Machine, Warmers

STEPS, MOST_STEPS = 40, 2000
"""Fewest steps of a burst, so that its mean squares are those of straight stretches within 1e-3, see the tests; and how
many more are taken where the machine warms fast."""
_WARMS = 10.0
"""How far the machine may warm in a step by its short-circuit current [K]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FedBurst:
    """Hold the machine's side of a burst: m moments while current flows.

    Parameters
    ----------
    time
        (m,) [s].
    drawn
        At these moments.
    temperatures
        (m, nodes) of the machine [K].
    heat
        (nodes,) made in each over the burst [J].
    energy
        Through the primary terminals [J].
    beyond
        Which part passed 900 K, after which the machine is taken as it was then.
    """

    time: Floats
    drawn: Drawn
    temperatures: Floats
    heat: Floats
    energy: float
    beyond: TooHot | None = None

    @property
    def phases(self) -> tuple[Phase, ...]:
        """The burst as stretches, see `stretches`, (m - 1)."""
        return stretches(self.time, self.drawn)

    def rms(self, values: Floats) -> float:
        """Return the root of the mean square over the burst of values at its moments, (m,), in their unit."""
        return sqrt(float(np.trapezoid(values**2, self.time) / (self.time[-1] - self.time[0])))


class _Warming(Lines):
    """Load lines of which some move along as their machines warm up."""

    def __init__(self, bursts: Sequence[Burst]) -> None:
        super().__init__([burst.line for burst in bursts])
        machines = [burst.line for burst in bursts if isinstance(burst.line, Machine)]
        self._machines, self._warmers, self._feeds = machines, Warmers(machines), Feeds([m.feed for m in machines])
        which = np.cumsum([isinstance(burst.line, Machine) for burst in bursts]) - 1
        self._which = np.where([isinstance(burst.line, Machine) for burst in bursts], which, -1)
        count = len(machines)
        self._moments: list[tuple[Integers, Floats, Floats, Floats]] = []
        self._time, self._currents = np.full(count, -1.0), np.zeros((3, count))
        self._cool = np.ones(count, dtype=bool)
        self.beyond: list[TooHot | None] = [None] * count

    def fastest(self) -> Floats:
        """Return how fast the quickest lump of each machine warms at first by its short-circuit current [K/s]."""
        shorted = np.array([machine.feed.line.current[0] for machine in self._machines])
        rows = np.arange(shorted.size)
        return self._warmers.fastest(self._feeds.currents(rows, np.zeros(shorted.size), shorted))

    def follow(self, rows: Integers, time: Floats, resistance: Floats, current: Floats) -> None:
        """Let machines warm up to an instant of their bursts; the next step sees them go on as they then do."""
        here = self._which[rows] >= 0
        rows, time = rows[here], time[here]
        if not rows.size:
            return
        own = self._which[rows]
        loop = self.loop(rows, resistance[here], time)
        currents = self._feeds.currents(own, loop, current[here])
        before = self._time[own]
        going = np.flatnonzero((before >= 0) & self._cool[own] & (time > before))
        if going.size:
            at, passed = own[going], self._currents[:, own[going]]
            mean = 0.5 * (passed + currents[:, going])
            mean[:2] = np.sqrt(0.5 * (passed[:2] ** 2 + currents[:2, going] ** 2))
            for place, hot in self._warmers.step(at, mean, (time - before)[going]):
                since = float(before[going[place]])
                self._cool[at[place]] = False
                self.beyond[int(at[place])] = TooHot(hot.part, hot.ceiling, since + (hot.time or 0.0), hot.temperatures)
        self._time[own], self._currents[:, own] = time, currents
        self._moments.append((own, time, loop, self._warmers.temperatures(own)))
        # how the machine's resistance goes on from here
        risen, slope = self._warmers.course(own, currents)
        self.course[rows] = np.column_stack([time, risen, np.where(self._cool[own], slope, 0.0)])

    def result(self, place: int) -> FedBurst | None:
        """Return the machine's side of a burst; None where it had none."""
        if (row := int(self._which[place])) < 0:
            return None
        whose, time, loops, temperatures = (np.concatenate(column) for column in zip(*self._moments, strict=True))
        time, loops, temperatures = time[whose == row], loops[whose == row], temperatures[whose == row]
        drawn = self._machines[row].feed.drawn(loops)
        currents = np.stack([drawn.primary_current, drawn.secondary_current, drawn.core_loss])
        made = self._warmers.made(row, currents, temperatures)
        return FedBurst(
            time=time,
            drawn=drawn,
            temperatures=temperatures,
            heat=np.trapezoid(made, time, axis=0),
            energy=float(np.trapezoid(drawn.input_power, time)),
            beyond=self.beyond[row],
        )


def fed_side_by_side(bursts: Sequence[Burst]) -> list[tuple[HeatingRun, FedBurst | None] | Failed]:
    """Follow bursts, and with them the machines of those that are fed by a `Machine`.

    Parameters
    ----------
    bursts
        (m,); `longest` of those that a machine feeds is set so that it warms little in a step.

    Returns
    -------
    Of each its run and the machine's side of it, or what it failed by.
    """
    if not any(isinstance(burst.line, Machine) for burst in bursts):
        return [run if not isinstance(run, HeatingRun) else (run, None) for run in side_by_side(bursts)]
    lines = _Warming(bursts)
    fastest = iter(lines.fastest().tolist())
    stepped = [
        replace(burst, longest=_longest(burst.on, next(fastest))) if isinstance(burst.line, Machine) else burst
        for burst in bursts
    ]
    runs = side_by_side(stepped, lines)
    return [run if not isinstance(run, HeatingRun) else (run, lines.result(place)) for place, run in enumerate(runs)]


def _longest(on: float, fastest: float) -> float:
    """Return the longest step for a burst [s] in which a lump warms by so much at first [K/s]."""
    return max(min(on / STEPS, _WARMS / max(fastest, 1e-30)), on / MOST_STEPS)
