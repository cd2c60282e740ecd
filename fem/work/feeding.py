"""The machine that feeds a burst, warming as it goes, followed together with the work."""

from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.errors import TooHot
from fem.heat.coupled import circuit_at
from fem.heat.march import steps
from fem.heat.network import Network
from fem.heat.phases import Phase
from fem.work.burst import TOLERANCE, heat
from fem.work.chain import WorkPiece
from fem.work.feed import Drawn, Feed, feed_of, stretches
from fem.work.run import HeatingRun
from fem.work.step import Instant

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


class Warming:
    """A machine that warms up as it feeds a burst; the load line that the work sees moves along.

    Parameters
    ----------
    feed
        Of the machine.
    circuit, now
        Its resistances at a temperature [K].
    network
        Its lumps.
    start
        (nodes,) temperatures at the beginning [K].
    """

    def __init__(self, feed: Feed, circuit: Circuit, network: Network, start: Floats, *, now: float) -> None:
        self.feed, self.circuit, self.network, self.now = feed, circuit, network, now
        self._moments: list[tuple[float, float, Floats]] = []
        self.beyond: TooHot | None = None
        self._start = start
        self._course = (0.0, self._risen(start), 0.0)

    def at(self, resistance: float, time: float = 0.0) -> tuple[float, float]:
        """Return the current [A] and its slope [A/ohm] at a resistance between the lead ends [ohm] and a time [s]."""
        return self.feed.line.at(resistance + self._rise(time))

    def step(self, duration: float) -> float:
        """Return the longest step for a burst [s]."""
        fastest = float(np.max(self._made(self.feed.drawn([0.0]), self._start) / self.network.capacity))
        return max(min(duration / STEPS, _WARMS / max(fastest, 1e-30)), duration / MOST_STEPS)

    def follow(self, instant: Instant) -> None:
        """Let the machine warm up to an instant of the burst; the next step sees it go on as it then does."""
        loop = instant.state.resistance + self._rise(instant.time)
        if not self._moments:
            self._moments.append((instant.time, loop, self._start))
            self._expect(self.feed.drawn([loop]), self._start)
            return
        before, loop_before, temperatures = self._moments[-1]
        drawn = self.feed.drawn([loop_before, loop])
        passed = stretches(np.array([before, instant.time]), drawn)
        if self.beyond is None:
            try:
                for step in steps(self.network, passed, temperatures):
                    last = step
                temperatures = last.at(last.duration)
            except TooHot as error:
                temperatures = error.temperatures
                self.beyond = TooHot(error.part, error.ceiling, before + (error.time or 0.0), temperatures)
        self._moments.append((instant.time, loop, temperatures))
        self._expect(drawn, temperatures)

    def result(self) -> FedBurst:
        """Return the machine's side of what was followed."""
        time, loops, temperatures = (np.array(column) for column in zip(*self._moments, strict=True))
        drawn = self.feed.drawn(loops)
        made = [self._made(drawn, kelvin, place) for place, kelvin in enumerate(temperatures)]
        return FedBurst(
            time=time,
            drawn=drawn,
            temperatures=temperatures,
            heat=np.trapezoid(made, time, axis=0),
            energy=float(np.trapezoid(drawn.input_power, time)),
            beyond=self.beyond,
        )

    def _expect(self, drawn: Drawn, temperatures: Floats) -> None:
        """Note how the machine's resistance goes on from the last moment [s], [ohm], [ohm/s]."""
        risen, network, slope = self._risen(temperatures), self.network, 0.0
        if self.beyond is None:
            flows = self._made(drawn, temperatures) - network.cooling(temperatures)[0]
            rate = (flows - network.laplacian @ temperatures) / network.capacity
            slope = self._risen(temperatures + rate) - risen
        self._course = (self._moments[-1][0], risen, slope)

    def _made(self, drawn: Drawn, temperatures: Floats, place: int = -1) -> Floats:
        """Return the heat made in each part at one of some moments, (nodes,) [W]."""
        phase = Phase(
            duration=1.0,
            primary_current=float(drawn.primary_current[place]),
            secondary_current=float(drawn.secondary_current[place]),
            core_loss=float(drawn.core_loss[place]),
        )
        return self.network.losses(phase, temperatures)[0]

    def _rise(self, time: float) -> float:
        since, risen, slope = self._course
        return max(risen + slope * (time - since), 0.0)

    def _risen(self, temperatures: Floats) -> float:
        return self.feed.rise(circuit_at(self.circuit, self.network, temperatures, self.now))


def fed_burst(
    piece: WorkPiece,
    circuit: Circuit,
    network: Network,
    *,
    now: float,
    duration: float,
    start_temperature: float,
    switch_off: float | None = None,
    tolerance: float = TOLERANCE,
    feed: Feed | None = None,
    until: tuple[float, float] = (inf, inf),
) -> tuple[HeatingRun, FedBurst]:
    """Follow work and machine through a burst, the current falling or rising with the resistance of both.

    Parameters
    ----------
    piece, duration, start_temperature, switch_off, tolerance, until
        As `fem.work.burst.heat`.
    circuit
        Resistances at `now`.
    network
        As `machine_network`.
    now
        Temperature of the circuit, and of the whole machine at the beginning [K].
    feed
        As `feed_of` makes it, which is done where it is left out.

    Raises
    ------
    ValueError, OutOfRange, NotConverged
        As `heat`.
    """
    feed = feed or feed_of(piece, circuit, network, now=now)
    warming = Warming(feed, circuit, network, np.full(len(network.nodes), now), now=now)
    run = heat(
        piece,
        warming,
        duration=duration,
        start_temperature=start_temperature,
        frequency=circuit.frequency,
        switch_off=switch_off,
        tolerance=tolerance,
        longest=warming.step(switch_off or duration),
        follow=warming.follow,
        until=until,
    )
    return run, warming.result()
