"""The machine that feeds a burst: what it draws against the resistance in its secondary's loop, warming as it goes."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import sqrt

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicSpline

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import Loaded, loaded
from fem.errors import TooHot
from fem.heat.coupled import circuit_at
from fem.heat.march import steps
from fem.heat.network import Network
from fem.heat.phases import Phase
from fem.work.burst import TOLERANCE, heat
from fem.work.chain import WorkPiece
from fem.work.line import LoadLine
from fem.work.run import HeatingRun
from fem.work.step import Instant
from fem.work.volumes import System

STEPS = 40
"""Fewest steps of a burst: its mean squares are then those of straight stretches within 1e-3, see the tests."""
_POINTS = 60
_HOTTEST = 3.0
"""Resistance of copper at 900 K over that at 293 K, less one, rounded up: how far a table must reach."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Drawn:
    """Hold what a machine draws at each of some moments, (n,) each.

    Parameters
    ----------
    secondary_current, primary_current
        R.m.s. [A].
    core_loss, input_power
        In the core; at the primary terminals, what a wattmeter reads [W].
    terminal_voltage
        At the primary terminals, r.m.s. [V].
    """

    secondary_current: Floats
    primary_current: Floats
    core_loss: Floats
    input_power: Floats
    terminal_voltage: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Feed:
    """Tabulate a machine's states against the resistance in its secondary's loop beyond that of the machine itself.

    Parameters
    ----------
    circuit
        As cold as it ever is.
    states
        At rising resistances between the lead ends, at least 8.

    Notes
    -----
    Winding, leads and load of the secondary are in series, so that a warmer secondary and warmer leads are exactly a
    larger load. A warmer primary is taken to the other side as (N_2/N_1)^2 times its rise: what the magnetising current
    drops there is left out, and the core keeps its flux. That is 2e-5 of the currents a kelvin, 1e-4 of the primary
    current where the core saturates, and 4e-4 of the core loss. Between the points cubic splines, in 1/I^2 (`LoadLine`)
    and over the root of the resistance.
    """

    circuit: Circuit
    states: Sequence[Loaded]
    line: LoadLine = field(init=False)
    _others: CubicSpline = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Prepare the tables."""
        ohms = np.array([state.load_resistance for state in self.states])
        line = LoadLine(resistance=ohms, current=np.array([state.secondary_current_rms for state in self.states]))
        others = [
            (s.primary_current_rms, s.core_loss, s.input_power, s.input_apparent_power / s.primary_current_rms)
            for s in self.states
        ]
        object.__setattr__(self, "line", line)
        object.__setattr__(self, "_others", CubicSpline(np.sqrt(ohms), others))

    def rise(self, warm: Circuit) -> float:
        """Return what a warm machine has more of resistance than the coldest, seen from the lead ends [ohm]."""
        cold, ratio = self.circuit, self.circuit.secondary_turns / self.circuit.primary_turns
        secondary = warm.secondary_resistance + warm.lead_resistance - cold.secondary_resistance - cold.lead_resistance
        return max(secondary + (warm.primary_resistance - cold.primary_resistance) * ratio**2, 0.0)

    def drawn(self, resistance: ArrayLike) -> Drawn:
        """Return what is drawn with resistances (n,) in the loop beyond the coldest machine's [ohm]."""
        ohms = np.asarray(resistance, dtype=np.float64)
        primary, core, power, volts = np.moveaxis(self._others(np.sqrt(ohms)), -1, 0)
        current = np.array([self.line.at(float(r))[0] for r in ohms.ravel()]).reshape(ohms.shape)
        return Drawn(
            secondary_current=current,
            primary_current=primary,
            core_loss=core,
            input_power=power,
            terminal_voltage=volts,
        )


@dataclass(frozen=True, kw_only=True, slots=True)
class Warm:
    """A machine that stays as warm as it is, as a load line for the work: its resistance is `rise` more [ohm]."""

    feed: Feed
    rise: float

    def at(self, resistance: float, time: float = 0.0) -> tuple[float, float]:
        """Return the current [A] and its slope [A/ohm] at a resistance between the lead ends [ohm], at any time."""
        return self.feed.line.at(resistance + self.rise, time)


def feed_of(piece: WorkPiece, circuit: Circuit, network: Network, *, now: float) -> Feed:
    """Tabulate a machine over every resistance that a piece can have, and over its own up to 900 K.

    Parameters
    ----------
    piece
        Between the lead ends.
    circuit
        Resistances at `now`.
    network
        As `machine_network`: its ambient temperature, if lower, is the coldest that the machine is.
    now
        [K].
    """
    cold = circuit_at(circuit, network, np.full(len(network.nodes), min(now, network.ambient)), now)
    ratio = circuit.secondary_turns / circuit.primary_turns
    own = cold.secondary_resistance + cold.lead_resistance + cold.primary_resistance * ratio**2
    highest = System(piece, circuit.frequency).highest_resistance() + _HOTTEST * own
    ohms = highest * np.linspace(0.0, 1.0, _POINTS) ** 2
    return Feed(circuit=cold, states=[loaded(cold, float(value)) for value in ohms])


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


def stretches(time: Floats, drawn: Drawn) -> tuple[Phase, ...]:
    """Return what is drawn at moments (m,) [s] as stretches of the mean squares of their ends, (m - 1)."""
    used = np.diff(time) > 0
    pairs = [np.stack([values[:-1], values[1:]]) for values in (drawn.primary_current, drawn.secondary_current)]
    rows = [np.diff(time), *(np.sqrt(np.mean(pair**2, axis=0)) for pair in pairs)]
    rows.append((drawn.core_loss[1:] + drawn.core_loss[:-1]) / 2)
    return tuple(
        Phase(duration=t, primary_current=i1, secondary_current=i2, core_loss=core)
        for t, i1, i2, core in np.array(rows)[:, used].T.tolist()
    )


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
                self.beyond = error
                temperatures = error.temperatures
        self._moments.append((instant.time, loop, temperatures))
        self._expect(drawn, temperatures)

    def result(self) -> FedBurst:
        """Return the machine's side of what was followed."""
        time, loops, temperatures = (np.array(column) for column in zip(*self._moments, strict=True))
        drawn = self.feed.drawn(loops)
        made = np.array(
            [
                self.network.losses(
                    Phase(duration=1.0, primary_current=i1, secondary_current=i2, core_loss=core), kelvin
                )[0]
                for i1, i2, core, kelvin in zip(
                    drawn.primary_current.tolist(),
                    drawn.secondary_current.tolist(),
                    drawn.core_loss.tolist(),
                    temperatures,
                    strict=True,
                )
            ]
        )
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
            phase = Phase(
                duration=1.0,
                primary_current=float(drawn.primary_current[-1]),
                secondary_current=float(drawn.secondary_current[-1]),
                core_loss=float(drawn.core_loss[-1]),
            )
            flows = network.losses(phase, temperatures)[0] - network.cooling(temperatures)[0]
            rate = (flows - network.laplacian @ temperatures) / network.capacity
            slope = self._risen(temperatures + rate) - risen
        self._course = (self._moments[-1][0], risen, slope)

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
) -> tuple[HeatingRun, FedBurst]:
    """Follow work and machine through a burst, the current falling or rising with the resistance of both.

    Parameters
    ----------
    piece, duration, start_temperature, switch_off, tolerance
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
        longest=(switch_off or duration) / STEPS,
        follow=warming.follow,
    )
    return run, warming.result()
