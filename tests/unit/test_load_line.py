"""The load line and the voltage budget: Kirchhoff's law, maximum power transfer, and both ends."""

from math import hypot, inf

import numpy as np
import pytest

from fem.circuit.curves import CoreLossCurve, LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import loaded
from fem.circuit.steady.load_line import inner_impedance, load_line, voltage_budget
from fem.circuit.steady.short_circuit import short_circuit
from fem.circuit.time.connection import OPEN, Connection, Rectifier
from fem.circuit.time.periodic import periodic
from fem.circuit.time.wave_budget import wave_budget
from tests.support.circuits import straight_circuit as circuit


def no_branch() -> Circuit:
    """Return a circuit whose magnetising branch takes next to nothing: a millionth of the load current."""
    none = CoreLossCurve(flux_per_turn=[1e-3, 6e-3], loss=[0.0, 0.0])
    return circuit(permeance=1e2, core_loss=none)


def test_ends_are_open_and_short_circuit() -> None:
    line, short = load_line(circuit()), short_circuit(circuit())
    assert line.load_resistance[0] == inf
    assert line.load_resistance[-1] == 0
    assert line.current[0] == 0
    assert line.short_current == line.current[-1] == pytest.approx(short.secondary_current_rms, rel=1e-12)
    # The straight magnetising curve has no harmonics, so the phasors' open voltage is that of the idle state.
    assert line.open_voltage == pytest.approx(idle(circuit()).secondary_voltage_rms, rel=1e-6)
    assert line.voltage[-1] == line.power[-1] == line.efficiency[-1] == 0


def test_line_falls_and_its_power_is_volts_times_amperes() -> None:
    line = load_line(circuit(), points=31)
    assert np.all(np.diff(line.current) > 0)
    assert np.all(np.diff(line.voltage) < 0)
    np.testing.assert_allclose(line.power, line.voltage * line.current, rtol=1e-12)
    np.testing.assert_allclose(line.input_power, line.power_factor * line.input_apparent_power, rtol=1e-12)
    assert line.power.max() <= line.strongest.load_power


def test_without_branch_the_line_is_that_of_one_impedance() -> None:
    # |E|^2 = (V + I R)^2 + (I X)^2 for a resistive load on a source of impedance R + jX.
    line, z = load_line(no_branch()), inner_impedance(no_branch())
    np.testing.assert_allclose(np.hypot(line.voltage + z.real * line.current, z.imag * line.current), 3.45, rtol=1e-5)


def test_most_power_goes_into_the_magnitude_of_the_inner_impedance() -> None:
    # Maximum power transfer into a resistance: R = |Z|, P = E^2/(2 (R_inner + |Z|)). The branch takes a millionth; the
    # top is flat, so the load is found to the root of the power's own rounding.
    z, found = inner_impedance(no_branch()), load_line(no_branch()).strongest
    assert found.load_resistance == pytest.approx(abs(z), rel=1e-4)
    assert found.load_power == pytest.approx(3.45**2 / (2 * (z.real + abs(z))), rel=1e-5)


@pytest.mark.parametrize("load", [0.0, 1.5e-3, 0.1])
def test_budget_adds_up_to_the_mains(load: float) -> None:
    state = loaded(circuit(), load)
    budget = voltage_budget(circuit(), load, joint_resistance=2e-4)
    assert abs(budget.emf) == pytest.approx(230.0 * 3 / 200, rel=1e-9)
    assert sum(d.phasor for d in budget.drops) == pytest.approx(budget.emf)
    assert sum(d.share for d in budget.drops) == pytest.approx(1.0)
    assert budget.current == pytest.approx(state.secondary_current_rms, rel=1e-12)
    by_name = {d.name: d for d in budget.drops}
    assert by_name["load"].magnitude == pytest.approx(state.load_voltage_rms, abs=1e-12)
    # The leads carry one current: volts over amperes give back what was put in.
    leads = by_name["lead resistance"].magnitude + by_name["joints"].magnitude
    assert leads / budget.current == pytest.approx(6e-4)
    assert by_name["joints"].magnitude / budget.current == pytest.approx(2e-4)
    winding_end = hypot(leads + by_name["load"].magnitude, by_name["lead reactance"].magnitude)
    assert winding_end == pytest.approx(state.secondary_terminal_voltage_rms, rel=1e-9)


def test_budget_adds_up_where_the_leakage_path_saturates() -> None:
    shunt = LeakageCurve(
        ampere_turns=np.array([0.0, 500.0, 1000.0, 3000.0, 20000.0]),
        flux_per_turn=np.array([0.0, 8e-5, 1.4e-4, 2e-4, 4e-4]),
    )
    saturating = circuit(leakage_permeance=shunt)
    budget = voltage_budget(saturating, 1e-3)
    assert abs(budget.emf) == pytest.approx(3.45, rel=1e-9)
    assert load_line(saturating, points=5).short_current > load_line(circuit(), points=5).short_current


def test_bad_requests_are_refused() -> None:
    with pytest.raises(ValueError, match="got 2"):
        load_line(circuit(), points=2)
    with pytest.raises(ValueError, match=r"0\.001"):
        voltage_budget(circuit(), 0.0, joint_resistance=1e-3)
    with pytest.raises(ValueError, match="neither"):
        voltage_budget(circuit())


def test_full_wave_valves_without_drop_are_a_plain_resistance() -> None:
    """Both half waves pass a bridge of ideal valves: each part takes what phasors say, the bridge nothing.

    The time domain steps 256 times a period and the magnetising current is a straight line: 1e-3 of the e.m.f.
    """
    straight = circuit()
    bridge = Connection(load_resistance=1e-3, rectifier=Rectifier(full_wave=True))
    drops = {drop.name: drop for drop in wave_budget(straight, periodic(straight, bridge), joint_resistance=2e-4)}
    budget = voltage_budget(straight, 1e-3, joint_resistance=2e-4)
    assert sum(drop.share for drop in drops.values()) == pytest.approx(1.0, abs=1e-12)
    assert drops["rectifier"].magnitude < 1e-2 * abs(budget.emf)
    for drop in budget.drops:
        assert drops[drop.name].share == pytest.approx(drop.share, abs=1e-3)
        assert drops[drop.name].magnitude == pytest.approx(drop.magnitude, abs=1e-3 * abs(budget.emf))


def test_a_half_wave_leaves_the_valve_the_other_half() -> None:
    """Where no current flows all the e.m.f. of the secondary stands at the valve; it adds up at every moment."""
    straight = circuit()
    state = periodic(straight, Connection(load_resistance=1e-3, rectifier=Rectifier(forward_drop=0.7)))
    drops = {drop.name: drop for drop in wave_budget(straight, state)}
    assert drops["load"].magnitude == pytest.approx(1e-3 * state.secondary_rms, rel=1e-12)
    assert 0.45 < drops["rectifier"].share < 0.75
    with pytest.raises(ValueError, match="nothing hangs"):
        wave_budget(straight, periodic(straight, OPEN))
