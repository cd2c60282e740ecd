"""Circuit and heat together: phases from states, resistances at temperatures, the cycle of a warm machine."""

from dataclasses import replace

import numpy as np
import pytest

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import loaded
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.coupled import circuit_at
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.network import Network
from fem.heat.phases import Phase, phase_idle, phase_loaded
from fem.heat.surface import Lie, Surface
from fem.materials.metals import metal
from tests.support.circuits import straight_circuit as circuit
from tests.support.one import hot_cycle, steady_cycle


def small_machine() -> Network:
    lead = LeadHeat(
        length=1.0,
        metal=metal("copper"),
        conductor_area=50e-6,
        bare_diameter=9e-3,
        outside_diameter=13e-3,
        resistance=4e-4,
        jacket_conductivity=0.25,
        emissivity=0.9,
    )
    end = Surface(area=0.02, length=0.03, lie=Lie.VERTICAL, emissivity=0.9)
    winding = WindingHeat(
        mass=1.0, metal=metal("copper"), resistance=1.2, conductor_area=2e-6, core_area=0.02, surfaces=(end,)
    )
    return machine_network(
        primary=winding,
        secondary=replace(winding, resistance=4e-4),
        core_mass=5.0,
        core_surfaces=box_surfaces(0.1, 0.1, 0.05, emissivity=0.9),
        winding_to_core=40.0,
        winding_to_winding=15.0,
        leads=[lead],
        joints=[JointHeat(resistance=2e-4, mass=0.1, surfaces=(end,))],
    )


OFF = Phase(duration=114.0)


def into_a_milliohm(hot: Circuit) -> Phase:
    return phase_loaded(loaded(hot, 1e-3), 1.0)


def bursts(on: Phase) -> tuple[Phase, Phase]:
    return on.lasting(6.0), OFF


def test_hot_cycle_is_its_own_cause() -> None:
    network = small_machine()
    found = hot_cycle(circuit(), network, into_a_milliohm, bursts, now=293.15)
    # The currents heat the machine to the temperatures at which the circuit draws those currents, to 1e-4.
    assert into_a_milliohm(found.circuit) == found.on
    again = circuit_at(circuit(), network, 0.5 * (found.cycle.start + found.cycle.peak), 293.15)
    assert into_a_milliohm(again).secondary_current == pytest.approx(found.on.secondary_current, rel=1e-4)
    assert found.on.secondary_current < found.cold.secondary_current
    # Cold currents held throughout are the bound.
    bound = steady_cycle(network, bursts(found.cold), count=False)
    assert np.all(bound.peak > found.cycle.peak)


def test_phases_and_hot_circuit() -> None:
    state = loaded(circuit(), 1e-3)
    phase = phase_loaded(state, 5.0)
    assert (phase.primary_current, phase.core_loss) == (state.primary_current_rms, state.core_loss)
    assert phase_idle(idle(circuit()), 5.0).secondary_current == 0
    network = small_machine()
    hot = circuit_at(circuit(), network, np.full(len(network.nodes), 393.15), 293.15)
    # IEC 60028: 0.00393 per kelvin over 100 K; the joints, a third of the lead resistance, stay as they are.
    assert hot.primary_resistance == pytest.approx(1.2 * 1.393)
    assert hot.secondary_resistance == pytest.approx(4e-4 * 1.393)
    assert hot.lead_resistance == pytest.approx(4e-4 * 1.393 + 2e-4)
    assert loaded(hot, 1e-3).secondary_current_rms < state.secondary_current_rms
    assert phase.lasting(2.0) == Phase(
        duration=2.0,
        primary_current=phase.primary_current,
        secondary_current=phase.secondary_current,
        core_loss=phase.core_loss,
    )
