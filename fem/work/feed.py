"""What a machine draws against the resistance in its secondary's loop, tabulated: cold, and as warm as it may get."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import Loaded
from fem.circuit.steady.load_line import over_loads
from fem.cubics import Cubics
from fem.heat.coupled import circuit_at
from fem.heat.network import Network
from fem.heat.phases import Phase
from fem.work.chain import WorkPiece
from fem.work.line import LoadLine
from fem.work.paths import Paths

_POINTS = 40
_HOTTEST = 4.0
"""Rise of a metal's resistance from 240 K to 900 K, 3.3 times, rounded up: how far a table must reach."""


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
        At rising resistances between the lead ends, at least 8, fields (n,).
    left_out
        What warm circuits count as the secondary's and this one does not, as it is the work's [ohm].

    Notes
    -----
    Winding, leads and load of the secondary are in series, so that a warmer secondary and warmer leads are exactly a
    larger load. A warmer primary is taken to the other side as (N_2/N_1)^2 times its rise: what the magnetising current
    drops there is left out, and the core keeps its flux. That is 2e-5 of the currents a kelvin, 1e-4 of the primary
    current where the core saturates, and 4e-4 of the core loss. Between the points cubic splines, in 1/I^2 (`LoadLine`)
    and over the root of the resistance: `others` has the primary's current, the core's loss, power and volts.
    """

    circuit: Circuit
    states: Loaded
    left_out: float = 0.0
    line: LoadLine = field(init=False)
    others: Cubics = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Prepare the tables."""
        at: Any = self.states
        ohms, primary = at.load_resistance, at.primary_current_rms
        line = LoadLine(resistance=ohms, current=at.secondary_current_rms)
        others = np.column_stack([primary, at.core_loss, at.input_power, at.input_apparent_power / primary])
        object.__setattr__(self, "line", line)
        object.__setattr__(self, "others", Cubics.smooth(np.sqrt(ohms), others))

    def rise(self, warm: Circuit) -> float:
        """Return what a warm machine has more of resistance than the coldest, seen from the lead ends [ohm]."""
        cold, ratio = self.circuit, self.circuit.secondary_turns / self.circuit.primary_turns
        secondary = warm.secondary_resistance + warm.lead_resistance - cold.secondary_resistance - cold.lead_resistance
        secondary -= self.left_out
        return max(secondary + (warm.primary_resistance - cold.primary_resistance) * ratio**2, 0.0)

    def drawn(self, resistance: ArrayLike) -> Drawn:
        """Return what is drawn with resistances (n,) in the loop beyond the coldest machine's [ohm]."""
        ohms = np.asarray(resistance, dtype=np.float64)
        primary, core, power, volts = np.moveaxis(self.others(np.sqrt(ohms)), -1, 0)
        return Drawn(
            secondary_current=self.line.at(ohms)[0],
            primary_current=primary,
            core_loss=core,
            input_power=power,
            terminal_voltage=volts,
        )


class Feeds:
    """What m machines draw, side by side.

    Parameters
    ----------
    feeds
        (m,), their tables of as many points each.
    """

    def __init__(self, feeds: Sequence[Feed]) -> None:
        self._roots = np.stack([np.sqrt(feed.line.resistance) for feed in feeds])
        self._others = np.stack([feed.others.c[..., :2] for feed in feeds])

    def currents(self, rows: Integers, loop: Floats, secondary: Floats) -> Floats:
        """Return the currents of primary and secondary [A] and the core's loss [W] of some, (3, k).

        At resistances in their loops beyond the coldest machines', (k,) [ohm], and with these the secondary's currents.
        """
        roots, x = self._roots[rows], np.sqrt(loop)
        piece = np.minimum((roots[:, 1:] <= x[:, None]).sum(axis=1), roots.shape[1] - 2)
        a, b, c, d = self._others[rows, :, piece].swapaxes(0, 1)
        x = (x - roots[np.arange(rows.size), piece])[:, None]
        primary, core = (((a * x + b) * x + c) * x + d).T
        return np.stack([primary, secondary, core])


@dataclass(frozen=True, kw_only=True, slots=True)
class Warm:
    """A machine that stays as warm as it is, as a load line for the work: its resistance is `rise` more [ohm]."""

    feed: Feed
    rise: float

    @property
    def line(self) -> LoadLine:
        """Of the feed."""
        return self.feed.line

    @property
    def course(self) -> tuple[float, float, float]:
        """Level."""
        return 0.0, self.rise, 0.0


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
    left_out = cold.secondary_resistance if piece.is_secondary else 0.0
    cold = replace(cold, secondary_resistance=cold.secondary_resistance - left_out)
    ratio = circuit.secondary_turns / circuit.primary_turns
    own = cold.secondary_resistance + cold.lead_resistance + cold.primary_resistance * ratio**2
    highest = float(Paths([piece], np.array([circuit.frequency])).highest_resistance()[0]) + _HOTTEST * own
    ohms = highest * np.linspace(0.0, 1.0, _POINTS) ** 2
    return Feed(circuit=cold, left_out=left_out, states=over_loads(cold, ohms))


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
