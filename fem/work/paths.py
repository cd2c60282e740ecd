"""Paths of the current between the same jaws: how they share it, and their unknowns together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi
from typing import Self

import numpy as np

from fem.arrays import Complexes, Floats, Integers
from fem.work.chain import WorkPiece
from fem.work.rows import Rowwise
from fem.work.state import State
from fem.work.volumes import System


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Joined:
    """What follows from the unknowns of m members at one instant of each.

    Unknowns, (m, n): those of each path as `State` has them, one path after the other; jaws are in each, kept equal.

    Parameters
    ----------
    paths
        The states of each path, the jaws of each as if the others were not there.
    rate
        (m, n) time derivative of the unknowns.
    resistance, impedance
        (m,) between the lead ends [ohm], the latter's modulus.
    growth
        (m, s) of all spots [-].
    """

    paths: tuple[State, ...]
    rate: Floats
    resistance: Floats
    impedance: Floats
    growth: Floats


class Paths(Rowwise):
    """Work pieces of one shape as finite volumes: a `System` for each path of the current.

    Parameters
    ----------
    pieces
        (m,) the bodies between the lead ends.
    frequency
        (m,) for the skin effect and the loop's reactance [Hz]; 0 leaves both out.

    Notes
    -----
    Between the jaws Z_1 i_1 = Z_2 i_2, Z_k = R_k + j omega L_k, so that i_k = i |Z/Z_k|, 1/Z = 1/Z_1 + 1/Z_2, and the
    load line is asked at Re Z. Both paths close one loop of inductance L, of which each has the share of its length,
    L_k = L l_k/(l_1 + l_2): on a circle that is exact, since an arc's current then puts the same flux through the loop
    per metre wherever it flows. What both have together, of bars alike L l_1 l_2/(l_1 + l_2)^2, is less than L_1, and
    as that of a path alone it is a part of the leads' loop. Left out: the flux inside magnetic steel, in a cold blade
    0.9 mm thick a tenth of its resistance, which is 0.5 % of what flows in a second path of it.
    """

    ROWS = ("reactances", "kelvin")

    def __init__(self, pieces: Sequence[WorkPiece], frequency: Floats) -> None:
        self.systems = [System(pieces, frequency)]
        lengths = np.array([[sum(bar.length for bar in piece.bars)] for piece in pieces])
        inductances = np.zeros((len(pieces), 1))
        if any(piece.beside for piece in pieces):
            seconds, loops, others = [], [], []
            for piece in pieces:
                assert piece.beside is not None
                # what they have of a sink, the jaws have once
                left, right = (
                    replace(jaw, contact=piece.beside.contact, sink_conductance=0.0)
                    for jaw in (piece.left, piece.right)
                )
                around = piece.surroundings
                seconds.append(WorkPiece(left=left, right=right, bars=(piece.beside.bar,), surroundings=around))
                loops.append([piece.beside.loop_inductance])
                others.append([piece.beside.bar.length])
            self.systems.append(System(seconds, frequency))
            lengths = np.hstack([lengths, others])
            inductances = np.array(loops) / lengths.sum(axis=1, keepdims=True) * lengths
        self.reactances = 2 * pi * frequency[:, None] * inductances
        ends = np.cumsum([system.kelvin.shape[1] for system in self.systems]).tolist()
        self.parts = [slice(end - s.kelvin.shape[1], end) for end, s in zip(ends, self.systems, strict=True)]
        counts = np.cumsum([system.spot_faces.size for system in self.systems]).tolist()
        self.spots = [slice(end - s.spot_faces.size, end) for end, s in zip(counts, self.systems, strict=True)]
        self.spot_count: int = counts[-1]
        self.faces = [system.spot_faces for system in self.systems]
        self.kelvin = np.concatenate([system.kelvin for system in self.systems], axis=1)

    def take(self, rows: Integers) -> Self:
        """Return those of some members."""
        other = super().take(rows)
        other.systems = [system.take(rows) for system in self.systems]
        return other

    def start(self, temperature: Sequence[float]) -> Floats:
        """Return the unknowns (m, n) with all bars of each at one temperature [K], see `System.start`."""
        return np.concatenate([system.start(temperature) for system in self.systems], axis=1)

    def highest_resistance(self) -> Floats:
        """Return resistances (m,) [ohm] that all paths together stay below: |Z| is below every |Z_k|."""
        each = np.stack([system.highest_resistance() for system in self.systems], axis=1)
        found: Floats = np.hypot(each, self.reactances).min(axis=1)
        return found

    def hottest(self, y: Floats) -> list[Floats]:
        """Return `System.hottest` of each path."""
        return [system.hottest(y[:, part]) for system, part in zip(self.systems, self.parts, strict=True)]

    def melt_progress(self, hottest: Sequence[Floats]) -> Floats:
        """Return `System.melt_progress` of the path that is furthest, (m,) [-]."""
        found = [system.melt_progress(one) for system, one in zip(self.systems, hottest, strict=True)]
        return found[0] if len(found) == 1 else np.maximum(*found)

    def work_temperature(self, state: Joined) -> Floats:
        """Return the highest temperature of the first path's cells of work, (m,) [K]."""
        found: Floats = state.paths[0].temperature[:, 1:-1][:, self.systems[0].is_work].max(axis=1)
        return found

    def evaluate(self, y: Floats, currents: Floats, grown: Floats) -> Joined:
        """Return what follows from unknowns (m, n), currents (m, paths), r.m.s. [A], and growths so far (m, s) [-]."""
        if len(self.systems) == 1:
            one = self.systems[0].evaluate(y, currents[:, 0], grown)
            ohms, growth = one.resistance, one.at.spots.growth
            return Joined(paths=(one,), rate=one.rate, resistance=ohms, impedance=ohms, growth=growth)
        states = tuple(
            system.evaluate(y[:, part], current, grown[:, own])
            for system, part, own, current in zip(self.systems, self.parts, self.spots, currents.T, strict=True)
        )
        jaws = sum(state.rate[:, [0, state.temperature.shape[1] - 1]] for state in states)
        for state in states:
            state.rate[:, [0, state.temperature.shape[1] - 1]] = jaws
        together = 1 / self._admittances(states).sum(axis=1)
        return Joined(
            paths=states,
            rate=np.concatenate([state.rate for state in states], axis=1),
            resistance=together.real,
            impedance=np.abs(together),
            growth=np.concatenate([state.at.spots.growth for state in states], axis=1),
        )

    def drawn(self, state: Joined, current: Floats, slope: Floats) -> tuple[Floats, Floats]:
        """Return what paths draw of all that the lead ends do.

        Parameters
        ----------
        state
            At which they share it.
        current, slope
            (m,) of the lead ends at the resistance between them [A], [A/ohm].

        Returns
        -------
        currents, slopes
            Each path's, (m, paths) [A], and its slopes to the resistances of all, (m, paths, paths) [A/ohm].
        """
        if len(state.paths) == 1:
            return current[:, None], slope[:, None, None]
        admittances = self._admittances(state.paths)
        together = 1 / admittances.sum(axis=1, keepdims=True)
        shares = np.abs(admittances * together)
        # y_k = 1/Z_k, Z = 1/sum(y): dZ/dR_l = Z^2 y_l^2, d ln(y_k Z)/dR_l = Z y_l^2 - (k is l) y_k
        bent = together * admittances**2
        by_share = (bent[:, None, :] - np.eye(admittances.shape[1]) * admittances[:, None, :]).real
        drawn = current[:, None] * shares
        by_all = (slope[:, None] * shares)[:, :, None] * (together * bent).real[:, None, :]
        return drawn, by_all + drawn[:, :, None] * by_share

    def whole(self, currents: Floats, state: Joined) -> Floats:
        """Return what paths' currents, (m, paths), are together (m,) [A]: the sum of their parts in phase with it."""
        if len(state.paths) == 1:
            return currents[:, 0]
        admittances = self._admittances(state.paths)
        away = np.angle(admittances / admittances.sum(axis=1, keepdims=True))
        found: Floats = (currents * np.cos(away)).sum(axis=1)
        return found

    def powers(self, state: Joined) -> Floats:
        """Return `System.powers` of each path, (m, paths, 6) [W]."""
        return np.stack([system.powers(one) for system, one in zip(self.systems, state.paths, strict=True)], axis=1)

    def _admittances(self, states: tuple[State, ...]) -> Complexes:
        ohms = np.stack([state.resistance for state in states], axis=1)
        found: Complexes = np.asarray(1 / (ohms + 1j * self.reactances), dtype=np.complex128)
        return found
