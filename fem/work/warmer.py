"""Machines that warm up side by side, each as it feeds its burst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from fem.arrays import Floats, Integers
from fem.circuit.equivalent import Circuit
from fem.errors import TooHot
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
        self._networks = list({id(one.network): one.network for one in machines}.values())
        places = {id(network): place for place, network in enumerate(self._networks)}
        self._which = np.array([places[id(one.network)] for one in machines])
        self._parts = [one.network.parts for one in machines]
        capacity = np.stack([one.network.capacity for one in machines])
        self._laplacian = np.stack([one.network.laplacian for one in machines])
        self._capacity, self._diagonal = capacity, np.arange(capacity.shape[1])
        self._sources = np.stack([network.sources for network in self._networks])[self._which]
        groups = []
        for network in self._networks:
            first = [node.name == "primary" for node in network.nodes]
            wound = [node.name == "secondary" for node in network.nodes]
            outside = [node.carries is Carries.SECONDARY and node.name != "secondary" for node in network.nodes]
            groups.append(np.array([first, wound, outside]) * network.sources[:2].sum(axis=0))
        self._groups = np.stack(groups)[self._which]
        squared = np.array([(one.circuit.secondary_turns / one.circuit.primary_turns) ** 2 for one in machines])
        circuits, colds = [one.circuit for one in machines], [one.feed.circuit for one in machines]
        ohms = np.array([[one.primary_resistance, one.secondary_resistance, one.lead_resistance] for one in circuits])
        ohms[:, 0] *= squared
        self._cold = squared * np.array([one.primary_resistance for one in colds])
        self._cold += [one.secondary_resistance + one.lead_resistance for one in colds]
        self._cold += [one.feed.left_out for one in machines]
        self._kelvin = np.repeat([[one.now] for one in machines], capacity.shape[1], axis=1)
        self._found = self._look(np.arange(len(machines)), self._kelvin)
        first = (self._groups @ self._found[0][..., None])[..., 0]
        # what each node adds, of the resistance seen from the lead ends, per its factor; what has no node stays
        share = np.where(first > 0, ohms / np.where(first > 0, first, 1.0), 0.0)
        self._cold -= np.where(first > 0, 0.0, ohms).sum(axis=1)
        self._seen = (share[..., None] * self._groups).sum(axis=1)

    def temperatures(self, rows: Integers) -> Floats:
        """Return how hot some machines are, (k, nodes) [K]."""
        return self._kelvin[rows]

    def made(self, row: int, currents: Floats, temperatures: Floats) -> Floats:
        """Return the heat made in each lump of one machine at some moments, (k, nodes) [W].

        By the currents of primary and secondary [A] and the core's loss [W], (3, k), and (k, nodes) temperatures [K].
        """
        factors, _ = self._networks[self._which[row]].factors(temperatures)
        return self._heat(np.full(len(temperatures), row), currents, factors)

    def fastest(self, currents: Floats) -> Floats:
        """Return how fast the quickest lump of each machine warms at first, (m,) [K/s], by currents (3, m)."""
        rows = np.arange(len(self._which))
        found: Floats = (self._heat(rows, currents, self._found[0]) / self._capacity).max(axis=1)
        return found

    def step(self, rows: Integers, currents: Floats, h: Floats) -> list[tuple[int, TooHot]]:
        """Let machines (k,) warm for times (k,) [s]; return which passed 900 K, and where they then stay."""
        before = self._kelvin[rows]
        after, error = self._step(rows, currents, before, self._found[:, rows], h)
        cuts = np.ceil((error / TOLERANCE) ** (1 / 3))
        if (again := np.flatnonzero(cuts > 1)).size:
            now, parts = before[again], cuts[again]
            for cut in range(int(parts.max())):
                going = np.flatnonzero(parts > cut)
                own = again[going]
                found = self._look(rows[own], now[going])
                now[going], _ = self._step(rows[own], currents[:, own], now[going], found, h[own] / parts[going])
            after[again] = now
        beyond = []
        for place in np.flatnonzero(after.max(axis=1) > CEILING).tolist():
            # straight between the ends of the step
            one, other, hot = before[place], after[place], after[place] > CEILING
            share = float(np.min((CEILING - one[hot]) / (other[hot] - one[hot])))
            after[place] = one + share * (other - one)
            part = self._parts[int(rows[place])][int(np.argmax(after[place]))]
            beyond.append((place, TooHot(part, CEILING, share * float(h[place]), after[place])))
        self._kelvin[rows] = after
        self._found[:, rows] = self._look(rows, after)
        return beyond

    def course(self, rows: Integers, currents: Floats) -> tuple[Floats, Floats]:
        """Return what machines (k,) have more of resistance than the coldest, and how it goes on, [ohm], [ohm/s]."""
        found, seen = self._found[:, rows], self._seen[rows]
        rate, _ = self._rates(rows, currents, self._kelvin[rows], found)
        risen = np.maximum((seen * found[0]).sum(axis=1) - self._cold[rows], 0.0)
        return risen, (seen * found[1] * rate).sum(axis=1)

    def _heat(self, rows: Integers, currents: Floats, factors: Floats) -> Floats:
        sources = self._sources[rows]
        first, second, core = currents[..., None]
        heat: Floats = (sources[:, 0] * first**2 + sources[:, 1] * second**2) * factors + sources[:, 2] * core
        return heat

    def _rates(self, rows: Integers, currents: Floats, temperatures: Floats, found: Floats) -> tuple[Floats, Floats]:
        """Return how fast lumps warm [K/s], (k, nodes), and what of its derivative is each lump's own [1/s]."""
        factor, slope, away, loses = found
        sources, capacity = self._sources[rows], self._capacity[rows]
        first, second, core = currents[..., None]
        square = sources[:, 0] * first**2 + sources[:, 1] * second**2
        flows = (self._laplacian[rows] @ temperatures[..., None])[..., 0]
        return (square * factor + sources[:, 2] * core - away - flows) / capacity, (square * slope - loses) / capacity

    def _step(
        self, rows: Integers, currents: Floats, temperatures: Floats, found: Floats, h: Floats
    ) -> tuple[Floats, Floats]:
        rate, own = self._rates(rows, currents, temperatures, found)
        wide = h[:, None]
        matrix = (_GAMMA * wide / self._capacity[rows])[..., None] * self._laplacian[rows]
        matrix[:, self._diagonal, self._diagonal] += 1 - _GAMMA * wide * own
        inverse = np.linalg.inv(matrix)
        first = (inverse @ rate[..., None])[..., 0]
        there = temperatures + wide * first
        later, _ = self._rates(rows, currents, there, self._look(rows, there))
        second = (inverse @ (later - 2 * first)[..., None])[..., 0]
        lower = np.abs(0.5 * wide * (first + second)).max(axis=1)
        error = lower**2 / (1.5 * np.maximum(np.abs(wide * first).max(axis=1), 1e-30))
        return temperatures + wide * (1.5 * first + 0.5 * second), error

    def _look(self, rows: Integers, temperatures: Floats) -> Floats:
        """Return `Network.factors` and `Network.cooling` at (k, nodes) [K], (4, k, nodes)."""
        if len(self._networks) == 1:
            network = self._networks[0]
            return np.stack([*network.factors(temperatures), *network.cooling(temperatures)])
        found = np.empty((4, *temperatures.shape))
        which = self._which[rows]
        for place in np.unique(which).tolist():
            network, own = self._networks[place], which == place
            found[:, own] = [*network.factors(temperatures[own]), *network.cooling(temperatures[own])]
        return found
