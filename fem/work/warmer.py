"""Machines that warm up side by side, each as it feeds its burst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from fem.arrays import Floats, Integers
from fem.circuit.equivalent import Circuit
from fem.errors import TooHot
from fem.heat.lumps import Lumps, side_by_side, times
from fem.heat.network import CEILING, Network
from fem.heat.phases import Carries
from fem.work.feed import Feed
from fem.work.line import LoadLine

TOLERANCE = 0.02
"""Error allowed per step of the machine [K]."""
_GAMMA = 1 - sqrt(0.5)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Machine:
    """Hold a machine that warms up as it feeds a burst: the load line that the work sees moves along.

    Parameters
    ----------
    feed
        Of the machine.
    circuit, now
        Its resistances at a temperature [K], which is that of all of it at the beginning.
    network
        Its lumps.
    """

    feed: Feed
    circuit: Circuit
    network: Network
    now: float

    @property
    def line(self) -> LoadLine:
        """Of the feed."""
        return self.feed.line

    @property
    def course(self) -> tuple[float, float, float]:
        """At the beginning."""
        return 0.0, self.feed.rise(self.circuit), 0.0


class Warmers:
    """The temperatures of m machines.

    Parameters
    ----------
    machines
        (m,), their networks of as many lumps each.

    Notes
    -----
    C dT/dt = P(T) - Q(T) - L T of `Network`, the currents of each step their mean squares, by the Rosenbrock method of
    second order that is L-stable (J. G. Verwer et al., SIAM J. Sci. Comput. 20 (1999) 1456), J the derivative,

        (1 - g h J) k_1 = f(T),  (1 - g h J) k_2 = f(T + h k_1) - 2 k_1,  T + 3/2 h k_1 + 1/2 h k_2,  g = 1 - 1/sqrt(2).

    Of a straight rate e_1 = |k_1 + k_2| h/2 is the error of one order less, and 2/3 e_1^2/|h k_1| about its own: where
    that is above `TOLERANCE`, the step is cut.
    """

    def __init__(self, machines: Sequence[Machine]) -> None:
        self._lumps = side_by_side([one.network.lumps.block for one in machines])
        groups = []
        for network in (one.network for one in machines):
            primary = [node.name == "primary" for node in network.nodes]
            wound = [node.name == "secondary" for node in network.nodes]
            outside = [node.carries is Carries.SECONDARY and node.name != "secondary" for node in network.nodes]
            groups.append([primary, wound, outside])
        each = np.array(groups) * self._lumps.copper[:2].sum(axis=0)[:, None]
        squared = np.array([(one.circuit.secondary_turns / one.circuit.primary_turns) ** 2 for one in machines])
        circuits, colds = [one.circuit for one in machines], [one.feed.circuit for one in machines]
        ohms = np.array([[one.primary_resistance, one.secondary_resistance, one.lead_resistance] for one in circuits])
        ohms[:, 0] *= squared
        self._cold = squared * np.array([one.primary_resistance for one in colds])
        self._cold += [one.secondary_resistance + one.lead_resistance for one in colds]
        self._cold += [one.feed.left_out for one in machines]
        self._kelvin = np.repeat([[one.now] for one in machines], each.shape[2], axis=1)
        first = times(each, self._lumps.factors(self._kelvin)[0])
        # what each node adds, of the resistance seen from the lead ends, per its factor; what has no node stays
        share = np.where(first > 0, ohms / np.where(first > 0, first, 1.0), 0.0)
        self._cold -= np.where(first > 0, 0.0, ohms).sum(axis=1)
        self._seen = (share[..., None] * each).sum(axis=1)

    def temperatures(self, rows: Integers) -> Floats:
        """Return how hot some machines are, (k, nodes) [K]."""
        return self._kelvin[rows]

    def made(self, row: int, currents: Floats, temperatures: Floats) -> Floats:
        """Return the heat made in each lump of one machine at some moments, (k, nodes) [W].

        By the currents of primary and secondary [A] and the core's loss [W], (3, k), and (k, nodes) temperatures [K].
        """
        lumps = self._lumps.take(np.full(len(temperatures), row))
        return lumps.losses(_flow(currents), temperatures)[0]

    def fastest(self, currents: Floats) -> Floats:
        """Return how fast the quickest lump of each machine warms at first, (m,) [K/s], by currents (3, m)."""
        found: Floats = (self._lumps.losses(_flow(currents), self._kelvin)[0] / self._lumps.capacity).max(axis=1)
        return found

    def step(self, rows: Integers, currents: Floats, h: Floats) -> list[tuple[int, TooHot]]:
        """Let machines (k,) warm for times (k,) [s]; return which passed 900 K, and where they then stay."""
        lumps, flow, before = self._lumps.take(rows), _flow(currents), self._kelvin[rows]
        after, error = _stepped(lumps, flow, before, h)
        cuts = np.ceil((error / TOLERANCE) ** (1 / 3))
        if (again := np.flatnonzero(cuts > 1)).size:
            now, parts = before[again], cuts[again]
            for cut in range(int(parts.max())):
                going = np.flatnonzero(parts > cut)
                own = again[going]
                now[going], _ = _stepped(lumps.take(own), flow[:, own], now[going], h[own] / parts[going])
            after[again] = now
        beyond = []
        for place in np.flatnonzero(after.max(axis=1) > CEILING).tolist():
            # straight between the ends of the step
            one, other, hot = before[place], after[place], after[place] > CEILING
            share = float(np.min((CEILING - one[hot]) / (other[hot] - one[hot])))
            after[place] = one + share * (other - one)
            part = lumps.parts[int(np.argmax(after[place]))]
            beyond.append((place, TooHot(part, CEILING, share * float(h[place]), after[place])))
        self._kelvin[rows] = after
        return beyond

    def course(self, rows: Integers, currents: Floats) -> tuple[Floats, Floats]:
        """Return what machines (k,) have more of resistance than the coldest, and how it goes on, [ohm], [ohm/s]."""
        lumps, kelvin, seen = self._lumps.take(rows), self._kelvin[rows], self._seen[rows]
        factor, slope = lumps.factors(kelvin)
        rate, _ = _rates(lumps, _flow(currents), kelvin)
        return np.maximum((seen * factor).sum(axis=1) - self._cold[rows], 0.0), (seen * slope * rate).sum(axis=1)


def _flow(currents: Floats) -> Floats:
    """Return currents [A] and core's loss [W], (3, k), as `Lumps.losses` takes them."""
    return np.stack([currents[0] ** 2, currents[1] ** 2, currents[2]])[..., None]


def _rates(lumps: Lumps, flow: Floats, temperatures: Floats) -> tuple[Floats, Floats]:
    """Return how fast lumps warm [K/s], (k, nodes), and what of its derivative is each lump's own [1/s]."""
    made, by = lumps.losses(flow, temperatures)
    away, loses = lumps.cooling(temperatures)
    return (made - away - lumps.through(temperatures)) / lumps.capacity, (by - loses) / lumps.capacity


def _stepped(lumps: Lumps, flow: Floats, temperatures: Floats, h: Floats) -> tuple[Floats, Floats]:
    """Return the temperatures after times (k,) [s], and the error's estimate (k,) [K]."""
    rate, own = _rates(lumps, flow, temperatures)
    wide, nodes = h[:, None], np.arange(temperatures.shape[1])
    matrix = (_GAMMA * wide / lumps.capacity)[..., None] * lumps.laplacian
    matrix[:, nodes, nodes] += 1 - _GAMMA * wide * own
    inverse = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    first = times(inverse, rate)
    later, _ = _rates(lumps, flow, temperatures + wide * first)
    second = times(inverse, later - 2 * first)
    lower = np.abs(0.5 * wide * (first + second)).max(axis=1)
    error = lower**2 / (1.5 * np.maximum(np.abs(wide * first).max(axis=1), 1e-30))
    return temperatures + wide * (1.5 * first + 0.5 * second), error
