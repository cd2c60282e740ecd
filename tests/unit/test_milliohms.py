"""Where the milliohms are: Kirchhoff's law and the conservation of power, against the circuit's own totals."""

from math import hypot, pi, sqrt

import numpy as np
import pytest

from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.load import loaded
from fem.circuit.steady.milliohms import SeriesParts, series_parts
from fem.circuit.time.connection import OPEN, Connection, Rectifier
from fem.circuit.time.periodic import periodic
from fem.circuit.time.wave_parts import wave_parts
from tests.support.circuits import circuit as saturating_circuit
from tests.support.circuits import straight_circuit as circuit


def parts_of(c: Circuit, load: float, joints: float = 2e-4) -> SeriesParts:
    return series_parts(c, loaded(c, load), joint_resistance=joints)


def test_a_circuit_by_hand() -> None:
    """Without a core's current: 230 V, 200:3 turns, shorted; R and X from ohms, turns and henries, I = U/|Z|.

    The branch takes a millionth of the current.
    """
    none = CoreLossCurve(flux_per_turn=[1e-3, 6e-3], loss=[0.0, 0.0])
    found = parts_of(circuit(permeance=1e2, core_loss=none), 0.0)
    squared, omega = (3 / 200) ** 2, 100 * pi
    by_hand = {
        "source": complex(0.4, omega * 3e-4) * squared,
        "primary": 1.2 * squared + 0j,
        "leakage": 1j * omega * 9 * 1.5e-7,
        "secondary": 4e-4 + 0j,
        "leads": complex(4e-4, omega * 4e-7),
        "joints": 2e-4 + 0j,
    }
    whole = sum(by_hand.values())
    assert found.impedance == pytest.approx(whole, rel=1e-5)
    assert found.current == pytest.approx(230 * 3 / 200 / abs(whole), rel=1e-5)
    for name, ohms in by_hand.items():
        assert found.parts[name].impedance == pytest.approx(ohms, rel=1e-12), name
        assert found.parts[name].power == pytest.approx(ohms.real * found.current**2, rel=1e-12), name
    assert abs(found.parts["core"].impedance) < 1e-5 * abs(whole)
    assert found.parts["load"].impedance == found.parts["load"].power == 0


@pytest.mark.parametrize("load", [0.0, 1.5e-3, 0.1])
@pytest.mark.parametrize("made", [circuit, saturating_circuit])
def test_parts_add_up_to_what_the_circuit_says(load: float, made: type[Circuit]) -> None:
    """Volts to the mains' own; watts to the input power and the source's loss; a core's share is loss and copper.

    Where the core saturates the state's currents have harmonics, which watts of the fundamental leave out: at most the
    1 % up to which phasors serve, twice that in powers.
    """
    c = made()
    state, found = loaded(c, load), parts_of(c, load)
    straight = made is circuit
    assert found.emf == pytest.approx(230.0 * 3 / 200, rel=1e-9)
    assert abs(found.impedance) * found.current == pytest.approx(found.emf, rel=1e-9)
    assert found.current == pytest.approx(state.secondary_current_rms, rel=1e-12 if straight else 1e-2)
    assert found.power == pytest.approx(state.input_power + state.source_loss, rel=1e-9 if straight else 2e-2)
    more = state.primary_current_rms**2 - (found.current * 3 / 200) ** 2
    beside = (c.source_resistance + c.primary_resistance) * more
    assert found.parts["core"].power == pytest.approx(
        state.core_loss + beside, rel=1e-6 if straight else 1e-9, abs=0 if straight else 2e-2 * found.power
    )
    assert found.parts["core"].power > 0
    leads = found.parts["leads"].impedance + found.parts["joints"].impedance
    assert leads.real == pytest.approx(6e-4)
    end = leads + load
    assert hypot(end.real, end.imag) * found.current == pytest.approx(
        state.secondary_terminal_voltage_rms, rel=1e-9 if straight else 2e-2
    )


def test_a_leakage_path_that_saturates_leaves_the_sum() -> None:
    shunt = LeakageCurve(
        ampere_turns=np.array([0.0, 500.0, 1000.0, 3000.0, 20000.0]),
        flux_per_turn=np.array([0.0, 8e-5, 1.4e-4, 2e-4, 4e-4]),
    )
    found = parts_of(circuit(leakage_permeance=shunt), 1e-3)
    assert found.emf == pytest.approx(3.45, rel=1e-9)
    # less flux at every current than the path unsaturated, more than air beside it
    unsaturated = 2 * pi * 50 * 9 * shunt.unsaturated_permeance
    assert 0 < found.parts["leakage"].impedance.imag < unsaturated


def test_joints_beyond_the_leads_are_refused() -> None:
    with pytest.raises(ValueError, match=r"0\.001"):
        parts_of(circuit(), 0.0, joints=1e-3)
    state = periodic(circuit(), OPEN)
    with pytest.raises(ValueError, match="nothing hangs"):
        wave_parts(circuit(), state)


def test_full_wave_valves_without_drop_are_a_plain_resistance() -> None:
    """Both half waves pass a bridge of ideal valves: each part takes what phasors say, the bridge nothing.

    The time domain steps 256 times a period and the magnetising current is a straight line: 1e-3 of the whole, and of
    source and primary copper the watts that the core's current adds, which phasors count as the core's.
    """
    straight = circuit()
    bridge = Connection(load_resistance=1e-3, rectifier=Rectifier(full_wave=True))
    waves = wave_parts(straight, periodic(straight, bridge), joint_resistance=2e-4)
    phasors = parts_of(straight, 1e-3)
    assert waves.emf == pytest.approx(phasors.emf, rel=1e-9)
    assert abs(waves.parts["rectifier"].impedance) < 1e-2 * abs(phasors.impedance)
    near = {"source", "primary", "core"}
    for name in phasors.parts.keys() - near:
        assert waves.parts[name].power == pytest.approx(phasors.parts[name].power, abs=1e-3 * phasors.power), name
        assert waves.parts[name].impedance == pytest.approx(
            phasors.parts[name].impedance, abs=2e-3 * abs(phasors.impedance)
        ), name
    together = [sum(found.parts[name].power for name in near) for found in (waves, phasors)]
    assert together[0] == pytest.approx(together[1], abs=1e-3 * phasors.power)


def test_a_half_wave_leaves_the_valve_the_other_half() -> None:
    """What no current passes takes no watts, and the watts are those of the state; a valve takes its drop times |i|."""
    straight = circuit()
    state = periodic(straight, Connection(load_resistance=1e-3, rectifier=Rectifier(forward_drop=0.7)))
    found = wave_parts(straight, state)
    assert found.parts["load"].power == pytest.approx(1e-3 * state.secondary_rms**2, rel=1e-12)
    # steps of 1/256 of a period round the moments at which the valve opens and closes
    assert found.parts["rectifier"].power == pytest.approx(0.7 * state.secondary_mean, rel=3e-2)
    assert abs(found.parts["rectifier"].impedance) * found.current > 0.5 * found.emf / sqrt(2)
    source = straight.source_resistance * state.primary_rms**2
    assert found.power == pytest.approx(state.real_power + source, rel=1e-2)
