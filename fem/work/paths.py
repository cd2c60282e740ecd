"""Paths of the current between the same jaws: how they share it, and the unknowns of all of them together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import hypot, pi

import numpy as np

from fem.arrays import Complexes, Floats
from fem.work.chain import WorkPiece
from fem.work.state import State
from fem.work.volumes import System

Line = Callable[[float, float], tuple[float, float]]
"""Current [A] and its slope [A/ohm] at a resistance [ohm] and a time [s]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Joined:
    """What follows from the unknowns at one instant.

    Unknowns, (n,): those of each path as `State` has them, one path after the other; the jaws are in each, kept equal.

    Parameters
    ----------
    paths
        The states of each path, the jaws of each as if the others were not there.
    rate
        (n,) time derivative of the unknowns.
    resistance, impedance
        Between the lead ends [ohm], the latter's modulus.
    growth
        (s,) of all spots [-].
    """

    paths: tuple[State, ...]
    rate: Floats
    resistance: float
    impedance: float
    growth: Floats


class Paths:
    """A work piece as finite volumes: a `System` for each path of the current.

    Parameters
    ----------
    piece
        The bodies between the lead ends.
    frequency
        For the skin effect and the loop's reactance [Hz]; 0 leaves both out.

    Notes
    -----
    Between the jaws Z_1 i_1 = Z_2 i_2, Z_k = R_k + j omega L_k, so that i_k = i |Z/Z_k|, 1/Z = 1/Z_1 + 1/Z_2, and the
    load line is asked at Re Z. Both paths close one loop of inductance L, of which each has the share of its length,
    L_k = L l_k/(l_1 + l_2): on a circle that is exact, since an arc's current then puts the same flux through the loop
    per metre wherever it flows. What both have together, of bars alike L l_1 l_2/(l_1 + l_2)^2, is less than L_1, and
    as that of a path alone it is a part of the leads' loop. Left out: the flux inside magnetic steel, in a cold blade
    0.9 mm thick a tenth of its resistance, which is 0.5 % of what flows in a second path of it.
    """

    def __init__(self, piece: WorkPiece, frequency: float) -> None:
        self.systems = [System(piece, frequency)]
        length = sum(bar.length for bar in piece.bars)
        inductances = [0.0]
        if (other := piece.beside) is not None:
            # what they have of a sink, the jaws have once
            left, right = (
                replace(jaw, contact=other.contact, sink_conductance=0.0) for jaw in (piece.left, piece.right)
            )
            second = WorkPiece(left=left, right=right, bars=(other.bar,), surroundings=piece.surroundings)
            self.systems.append(System(second, frequency))
            per_metre = other.loop_inductance / (length + other.bar.length)
            inductances = [per_metre * length, per_metre * other.bar.length]
        self.reactances = 2 * pi * frequency * np.array(inductances)
        ends = np.cumsum([system.kelvin.size for system in self.systems]).tolist()
        self.parts = [slice(end - s.kelvin.size, end) for end, s in zip(ends, self.systems, strict=True)]
        counts = np.cumsum([system.spot_faces.size for system in self.systems]).tolist()
        self.spots = [slice(end - s.spot_faces.size, end) for end, s in zip(counts, self.systems, strict=True)]
        self.spot_count: int = counts[-1]
        self.faces = [system.spot_faces for system in self.systems]
        self.kelvin = np.concatenate([system.kelvin for system in self.systems])

    def start(self, temperature: float) -> Floats:
        """Return the unknowns with every bar at one temperature [K], see `System.start`."""
        return np.concatenate([system.start(temperature) for system in self.systems])

    def highest_resistance(self) -> float:
        """Return a resistance [ohm] that all paths together stay below: |Z| is below every |Z_k|."""
        pairs = zip(self.systems, self.reactances.tolist(), strict=True)
        return min(hypot(system.highest_resistance(), reactance) for system, reactance in pairs)

    def melt_progress(self, y: Floats) -> float:
        """Return `System.melt_progress` of the path that is furthest [-]."""
        return max(system.melt_progress(y[part]) for system, part in zip(self.systems, self.parts, strict=True))

    def work_temperature(self, state: Joined) -> float:
        """Return the highest temperature of the first path's cells of work [K]."""
        return float(state.paths[0].temperature[1:-1][self.systems[0].is_work].max())

    def evaluate(self, y: Floats, currents: Floats, grown: Floats) -> Joined:
        """Return what follows from unknowns (n,), currents (paths,), r.m.s. [A], and the spots' growths so far (s,)."""
        if len(self.systems) == 1:
            one = self.systems[0].evaluate(y, float(currents[0]), grown)
            ohms, growth = one.resistance, one.at.spots.growth
            return Joined(paths=(one,), rate=one.rate, resistance=ohms, impedance=ohms, growth=growth)
        states = tuple(
            system.evaluate(y[part], float(current), grown[own])
            for system, part, own, current in zip(self.systems, self.parts, self.spots, currents, strict=True)
        )
        jaws = sum(state.rate[[0, state.temperature.size - 1]] for state in states)
        for state in states:
            state.rate[[0, state.temperature.size - 1]] = jaws
        together = 1 / self._admittances(states).sum()
        return Joined(
            paths=states,
            rate=np.concatenate([state.rate for state in states]),
            resistance=float(together.real),
            impedance=float(abs(together)),
            growth=np.concatenate([state.at.spots.growth for state in states]),
        )

    def drawn(self, state: Joined, line: Line, time: float) -> tuple[Floats, Floats]:
        """Return each path's current at its resistance, (paths,) [A], and its slopes to all of them [A/ohm]."""
        current, slope = line(state.resistance, time)
        if len(state.paths) == 1:
            return np.array([current]), np.array([[slope]])
        admittances = self._admittances(state.paths)
        together = 1 / admittances.sum()
        shares = np.abs(admittances * together)
        # y_k = 1/Z_k, Z = 1/sum(y): dZ/dR_l = Z^2 y_l^2, d ln(y_k Z)/dR_l = Z y_l^2 - (k is l) y_k
        bent = together * admittances**2
        by_share = (bent[None, :] - np.diag(admittances)).real
        return current * shares, np.outer(slope * shares, (together * bent).real) + current * shares[:, None] * by_share

    def whole(self, currents: Floats, state: Joined) -> float:
        """Return what the paths' currents, (paths,), are together [A]: the sum of their parts in phase with it."""
        if len(state.paths) == 1:
            return float(currents[0])
        admittances = self._admittances(state.paths)
        return float(currents @ np.cos(np.angle(admittances / admittances.sum())))

    def powers(self, state: Joined) -> Floats:
        """Return `System.powers` of each path, (paths, 6) [W]."""
        return np.array([system.powers(one) for system, one in zip(self.systems, state.paths, strict=True)])

    def _admittances(self, states: tuple[State, ...]) -> Complexes:
        ohms = np.array([state.resistance for state in states])
        admittances: Complexes = 1 / (ohms + 1j * self.reactances)
        return admittances
