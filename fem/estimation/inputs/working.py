"""What the machine works into during bursts: a resistance across the lead ends, perhaps behind a rectifier."""

from __future__ import annotations

from dataclasses import dataclass

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.time.connection import Connection, Rectifier
from fem.circuit.time.periodic import Periodic, periodic
from fem.design.load import Load, RectifierKind
from fem.heat.coupled import Flow
from fem.heat.phases import Phase, phase_loaded


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
