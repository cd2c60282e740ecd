"""The load line: maximum power transfer, and both ends."""

from math import inf

import numpy as np
import pytest

from fem.circuit.equivalent import Circuit
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load_line import inner_impedance, load_line
from fem.circuit.steady.short_circuit import short_circuit
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
    assert line.current[-1] == pytest.approx(short.secondary_current_rms, rel=1e-12)
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


def test_bad_requests_are_refused() -> None:
    with pytest.raises(ValueError, match="got 2"):
        load_line(circuit(), points=2)
