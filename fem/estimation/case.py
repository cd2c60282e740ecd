"""A design with all that is solved for it, each once and only when something asks for it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from math import ceil
from typing import Any

import numpy as np

from fem.circuit.equivalent import Circuit
from fem.circuit.knee import Knee, knees_near
from fem.circuit.steady.half_period import first_half
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded, loaded
from fem.circuit.steady.short_circuit import short_circuit
from fem.circuit.time.connection import OPEN, SHORTED, Connection
from fem.circuit.time.periodic import Periodic
from fem.circuit.time.switch_on import SwitchOn, switch_on
from fem.constants import ROOM
from fem.design.work_piece import Ring, WorkPieceDescription
from fem.estimation.characterised import Characterised
from fem.estimation.inputs.bursts import LEFT_ON, Asked, Bursts
from fem.estimation.inputs.circuit import coupled, coupling, idle_state, knee_of, magnetising_curve
from fem.estimation.inputs.heat import heat_network
from fem.estimation.inputs.remanence import Remanence, remanence_of
from fem.estimation.inputs.work import work_of
from fem.estimation.inputs.working import SHORT, working_of
from fem.estimation.once import attempt, once
from fem.estimation.parts import Part
from fem.heat.coupled import Flow
from fem.heat.network import Network
from fem.heat.phases import Phase, phase_idle
from fem.quantity import Unknown
from fem.trust.doubts import doubts_of
from fem.trust.draws import FEW, draws
from fem.work.feed import Feed, feed_of
from fem.work.feeding import FedBurst
from fem.work.run import HeatingRun, Settled
from fem.work.warmer import Machine

SHOWN_FOR = 0.1
"""How long the decay after switching on is followed [s]: the longest window of the meters that look at it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Case(Characterised):
    """A design with all that is solved for it; what it is made of, see `Characterised`."""

    _flows: dict[float, Flow] = field(default_factory=dict, init=False)

    @once
    def drawn(self) -> Case:
        """The design as many members, all that is in doubt of it drawn together."""
        return self.with_draws(self.known or draws(doubts_of(self.design)))

    @once
    def one_by_one(self) -> tuple[Case, ...]:
        """The first few of these members, each alone."""
        return tuple(self.member(place) for place in range(FEW))

    @once
    def at_idle(self) -> Idle:
        """The state with nothing connected."""
        found = self._at_idle
        if self.beyond is None:
            return found
        if self.given is None or self.members == 1:
            self.found.magnetising.check(found.peak_flux_per_turn)
        known = found.peak_flux_per_turn <= self.found.magnetising.valid_to
        names = [item.name for item in fields(found) if item.name != "harmonic_orders"]
        numbers: Any = {name: np.where(known, getattr(found, name).T, np.nan).T for name in names}
        return replace(found, **numbers)

    @once
    def _at_idle(self) -> Idle:
        self.tell("circuit")
        return idle_state(self.alone, self.found)

    @once
    def beyond(self) -> Unknown | None:
        """Why there is no idle state; of members that are drawn, why some have none, whose numbers are nan."""
        return attempt(lambda: self.found.magnetising.check(self._at_idle.peak_flux_per_turn))

    @once
    def circuit(self) -> Circuit:
        """The circuit of the design, the secondary coupled as with the lead ends joined."""
        assert self.at_idle  # which fails where the sheet's data end: no state of the circuit is worth telling then
        return self.circuit_with(0.0)

    @once
    def loaded_circuit(self) -> Circuit:
        """The same, coupled as with the load that is described."""
        assert self.design.load is not None
        return self.circuit_with(self.design.load.resistance)

    def circuit_with(self, load_resistance: float) -> Circuit:
        """Return the same, coupled as with a load [ohm]."""
        return coupled(self.alone, self.found, load_resistance)

    @once
    def idle_circuit(self) -> Circuit:
        """The same, coupled as idle."""
        assert self.at_idle
        return self.alone.with_coupling(coupling(self.found, first_half(self._at_idle.flux_per_turn)))

    @once
    def knee(self) -> Knee:
        """The knee point of the core."""
        if self.drawn_of is not None:
            return knees_near(magnetising_curve(self.found), self.circuit.frequency, self.drawn_of.knee)
        return knee_of(self.found, self.circuit.frequency)

    @once
    def shorted(self) -> Loaded:
        """The state with the lead ends joined."""
        return short_circuit(self.circuit)

    @once
    def loaded(self) -> Loaded:
        """The state with the load that is described, by phasors where they serve: no rectifier there."""
        assert self.design.load is not None
        return loaded(self.loaded_circuit, self.design.load.resistance)

    @once
    def rectified(self) -> Periodic:
        """The periodic state with the load that is described."""
        assert self.design.load is not None
        near = None if self.drawn_of is None else self.drawn_of.rectified
        return working_of(self.design.load).periodic(self.loaded_circuit, near)

    @once
    def remanence(self) -> Remanence:
        """The flux that is taken to be left in the core at every switching-on."""
        assert self.at_idle
        peak = self._at_idle.peak_flux_per_turn
        found = remanence_of(self.design.core, peak)
        return found if self.given is None else replace(found, flux_per_turn=self.given.remanence * peak)

    @once
    def switched_on(self) -> SwitchOn:
        """What follows on switching on at the worst moment with the assumed remanence, nothing connected."""
        return self._switched(OPEN)

    @once
    def switched_on_shorted(self) -> SwitchOn:
        """The same with the lead ends joined."""
        return self._switched(SHORTED)

    def _switched(self, connection: Connection) -> SwitchOn:
        magnetising = self.found.magnetising
        cycles = ceil(SHOWN_FOR * self.circuit.frequency - 1e-9)
        run = switch_on(self.circuit, connection, remanence=self.remanence.flux_per_turn, cycles=cycles)
        magnetising.check(float(run.by_cycle.peak_flux_per_turn.max()))
        return run

    @property
    def ring(self) -> Ring | None:
        """The ring that is the secondary, if one is."""
        return None if self.design.work_piece is None else self.design.work_piece.ring

    @property
    def room(self) -> float:
        """Temperature of air and walls [K]."""
        return ROOM if self.design.duty is None else self.design.duty.ambient

    @once
    def network(self) -> Network:
        """The machine as lumps of metal in the room."""
        return heat_network(self, self.room)

    @once
    def feed(self) -> Feed:
        """What the machine draws over every resistance that the work piece described can have."""
        assert self.design.work_piece is not None
        return feed_of(work_of(self.design.work_piece), self.circuit, self.network, now=self.design.temperature)

    @once
    def bursts(self) -> Bursts | None:
        """The bursts into the work piece that is described; None without one."""
        given, duty, pulses = self.design.work_piece, self.design.duty, self.design.pulses
        if given is None:
            return None
        machine = Machine(feed=self.feed, circuit=self.circuit, network=self.network, now=self.design.temperature)
        ahead = [Asked("fed", given.duration, given.switch_off)]
        if {Part.WORK_PIECE, Part.HEATING} & self.wanted:
            ahead.append(LEFT_ON)
        if Part.HEATING in self.wanted and self.design.load is None:
            ahead.append(Asked("flow", self._burst_time(given)))
            if pulses is not None:
                ahead.append(Asked("flow", pulses.weld_cycles / self.design.mains.frequency))
        if duty is not None and duty.on_time != self._burst_time(given) and Part.HEATING in self.wanted:
            ahead.append(Asked("fed", duty.on_time))
        return Bursts(given, machine, tuple(ahead))

    @once
    def _fed(self) -> tuple[HeatingRun, FedBurst] | None:
        given, bursts = self.design.work_piece, self.bursts
        return None if given is None or bursts is None else bursts.fed(given.duration, given.switch_off)

    @property
    def burst(self) -> HeatingRun | None:
        """The work piece in its burst, the machine warming up as it goes; None where none is described."""
        return None if self._fed is None else self._fed[0]

    @property
    def fed(self) -> FedBurst | None:
        """The machine in that burst."""
        return None if self._fed is None else self._fed[1]

    @once
    def settled(self) -> Settled:
        """The work piece with the current left on, from a machine that stays as warm as it is at first."""
        assert self.bursts is not None
        return self.bursts.left_on()

    @property
    def burst_time(self) -> float | None:
        """How long the current flows into the work piece [s], None where none is described."""
        given = self.design.work_piece
        return None if given is None else self._burst_time(given)

    @staticmethod
    def _burst_time(given: WorkPieceDescription) -> float:
        return min(given.switch_off or given.duration, given.duration)

    def flow(self, on_time: float | None = None) -> Flow:
        """Return what flows in bursts: into the work piece, else the load, else joined lead ends.

        Into the work the r.m.s. value of the current over a burst of a length [s], left out its own: see `burst_flow`.
        """
        load = self.design.load
        if self.bursts is not None:
            on_time = on_time or self.burst_time
            assert on_time is not None
            if on_time not in self._flows:
                self._flows[on_time] = self.bursts.flow(on_time)
            return self._flows[on_time]
        return SHORT.in_turn() if load is None else self.load_flow()

    def load_flow(self) -> Flow:
        """Return `Working.in_turn` of the load that is described, the secondary coupled as with it."""
        assert self.design.load is not None
        working = working_of(self.design.load)
        flow = working.in_turn(None if working.rectifier is None else self.rectified)
        return lambda circuit: flow(circuit.coupled_as(self.loaded_circuit))

    @once
    def duty_burst(self) -> tuple[Phase, ...]:
        """One burst of the duty that is described, from a machine as warm as it is at first."""
        duty = self.design.duty
        assert duty is not None
        if self.bursts is None:
            return (self.flow()(self.circuit).lasting(duty.on_time),)
        found = self.fed if duty.on_time == self.burst_time else self.bursts.fed(duty.on_time)[1]
        assert found is not None
        left = duty.on_time - float(found.time[-1])
        return (*found.phases, *([found.phases[-1].lasting(left)] if left > 1e-9 * duty.on_time else []))

    @once
    def pause(self) -> Phase:
        """Between two bursts of the duty that is described: idle, or unplugged."""
        duty = self.design.duty
        assert duty is not None
        return phase_idle(self.at_idle, duty.off_time) if duty.plugged_in else Phase(duration=duty.off_time)


def last_loaded(run: HeatingRun) -> int:
    """Return the place of the last moment of a run at which current flows."""
    return int(np.flatnonzero(run.current_rms > 0)[-1])
