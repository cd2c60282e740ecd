"""What the machine works into during bursts: work that heats up, or a resistance, perhaps behind a rectifier."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.time.connection import Connection, Rectifier
from fem.circuit.time.periodic import Periodic, periodic
from fem.cubics import Cubics
from fem.design.load import Load, RectifierKind
from fem.heat.coupled import Flow
from fem.heat.phases import Phase, phase_loaded
from fem.work.burst import Burst
from fem.work.chain import WorkPiece
from fem.work.feed import Feed, Warm
from fem.work.feeding import STEPS
from fem.work.run import HeatingRun


@dataclass(frozen=True, kw_only=True, slots=True)
class Working:
    """What hangs on the lead ends.

    Parameters
    ----------
    resistance
        [ohm]; 0 is a short circuit.
    rectifier
        Between lead ends and resistance, if any.
    """

    resistance: float
    rectifier: Rectifier | None = None

    def periodic(self, circuit: Circuit, near: Periodic | None = None) -> Periodic:
        """Return the periodic state in the time domain; see `fem.circuit.time.periodic.periodic`."""
        return periodic(circuit, Connection(load_resistance=self.resistance, rectifier=self.rectifier), start=near)

    def flow(self, circuit: Circuit) -> Phase:
        """Return true r.m.s. currents and core loss, for 1 s; behind a rectifier those of the periodic state."""
        return self.in_turn()(circuit)

    def in_turn(self, near: Periodic | None = None) -> Flow:
        """Return `flow` for circuits asked one after the other that are nearly alike.

        Behind a rectifier each periodic state starts from the last one, the first from `near`; each sequence asks anew.
        """
        last = near

        def flow(circuit: Circuit) -> Phase:
            nonlocal last
            if self.rectifier is None:
                return phase_loaded(loaded(circuit, self.resistance), 1.0)
            last = self.periodic(circuit, last)
            return Phase(
                duration=1.0,
                primary_current=last.primary_rms,
                secondary_current=last.secondary_rms,
                core_loss=last.core_loss,
            )

        return flow


SHORT = Working(resistance=0.0)
"""Lead ends joined."""


def working_of(load: Load) -> Working:
    """Return what a described load is."""
    if load.rectifier is RectifierKind.NONE:
        return Working(resistance=load.resistance)
    valves = Rectifier(forward_drop=load.forward_drop, full_wave=load.rectifier is RectifierKind.FULL_WAVE)
    return Working(resistance=load.resistance, rectifier=valves)


_WARMTHS = (0.0, 0.15, 0.5, 2.4)
"""Rises of the machine's resistance, over that of the coldest, at which bursts are followed [-]: to 38, 130, 610 K."""
_TOLERANCE = 0.5
"""Error of a step of such a burst [K]: some 1e-5 of its r.m.s. current."""


def flow_bursts(piece: WorkPiece, feed: Feed, *, duration: float, start_temperature: float) -> list[Burst]:
    """Return the bursts that `burst_flow` rests on: the machine as warm as it may be, each held over its burst.

    Parameters
    ----------
    piece
        Between the lead ends.
    feed
        Of the machine.
    duration
        Of the burst [s]; it ends where the work melts through before.
    start_temperature
        Of the work [K].
    """
    return [
        Burst(
            piece=piece,
            line=Warm(feed=feed, rise=rise),
            duration=duration,
            start_temperature=start_temperature,
            frequency=feed.circuit.frequency,
            longest=duration / STEPS,
            tolerance=_TOLERANCE,
        )
        for rise in _rises(feed).tolist()
    ]


def burst_flow(feed: Feed, runs: Sequence[HeatingRun]) -> Flow:
    """Return what machines of any warmth drive through cold work in a burst: r.m.s. over it, and mean core loss.

    Parameters
    ----------
    feed
        Of the machine.
    runs
        Of `flow_bursts`.

    Notes
    -----
    A cubic in 1/I^2 through bursts at four warmths of the machine, each held over its burst: of a machine and a load
    that are straight that is a quadratic.
    """
    rises, rows = _rises(feed), []
    for rise, run in zip(rises.tolist(), runs, strict=True):
        drawn = feed.drawn(run.resistance + rise)
        values = np.stack([drawn.primary_current**2, drawn.secondary_current**2, drawn.core_loss])
        rows.append(np.trapezoid(values, run.time) / run.time[-1])
    squares, core = np.array(rows)[:, :2], np.array(rows)[:, 2]
    curve, losses = Cubics.smooth(rises, 1 / squares), Cubics.smooth(rises, core)

    def flow(circuit: Circuit) -> Phase:
        rise = feed.rise(circuit)
        primary, secondary = (1 / np.sqrt(curve(rise))).tolist()
        return Phase(
            duration=1.0, primary_current=primary, secondary_current=secondary, core_loss=max(float(losses(rise)), 0.0)
        )

    return flow


def _rises(feed: Feed) -> Floats:
    coldest, ratio = feed.circuit, feed.circuit.secondary_turns / feed.circuit.primary_turns
    own = coldest.secondary_resistance + coldest.lead_resistance + coldest.primary_resistance * ratio**2
    return own * np.array(_WARMTHS)
