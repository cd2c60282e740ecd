"""Meters: readings of the circuit's own waves agree with the circuit's own numbers."""

import numpy as np
import pytest

from fem.circuit.instruments import highest_rms, steady_reading, transient_reading
from fem.circuit.steady.idle import idle, secondary_voltage
from fem.circuit.steady.load import loaded
from fem.circuit.steady.meters import meter_readings
from fem.circuit.steady.short_circuit import short_circuit
from fem.circuit.time.connection import OPEN
from fem.circuit.time.first_peaks import first_peaks
from fem.quantity import Unknown
from tests.support.circuits import circuit


def test_idle_readings_are_those_of_the_idle_state() -> None:
    machine = circuit()
    state = idle(machine)
    first = first_peaks(machine, OPEN).primary
    found = meter_readings(machine, state, short_circuit(machine), switch_on=(first.times, first.currents))
    assert found.idle_current.true_rms == pytest.approx(state.current_rms, rel=1e-12)
    assert found.open_voltage.true_rms == pytest.approx(state.secondary_voltage_rms, rel=1e-9)
    # A peaky wave: averaging reads low. Its samples miss the crest by less than half a per cent at 256 a period.
    assert found.idle_current.averaging < found.idle_current.true_rms
    assert found.idle_current.peak == pytest.approx(state.current_peak, rel=5e-3)
    assert not isinstance(found.switch_on, Unknown)
    assert found.switch_on.peak == pytest.approx(first.current, rel=5e-3)
    assert isinstance(found.shorted_switch_on, Unknown)


def test_wattmeter_reads_what_the_books_say() -> None:
    # Mean of mains e.m.f. times current is everything lost behind it.
    state = idle(circuit())
    total = state.real_power + state.source_loss
    assert float(np.mean(state.voltage * state.current)) == pytest.approx(total, rel=1e-6)


def test_secondary_voltage_follows_kirchhoff() -> None:
    # Primary e.m.f. = mains - (R + L d/dt) i; slopes from the spectra of both, 1e-3 of the
    # mains' peak for the highest orders, which the sampled wave cannot show.
    machine = circuit()
    state = idle(machine)
    order = np.fft.fftfreq(state.current.size, 1 / state.current.size)
    slope = np.fft.ifft(2j * np.pi * 50.0 * order * np.fft.fft(state.current)).real
    emf = state.voltage - machine.loop_resistance * state.current - machine.source_inductance * slope
    np.testing.assert_allclose(secondary_voltage(machine, state.flux_per_turn) * 200 / 3, emf, atol=1e-3 * 325)


def test_highest_window_is_at_least_any_window() -> None:
    rng = np.random.default_rng(1)
    t = np.cumsum(rng.uniform(1e-4, 3e-4, 400))
    v = rng.normal(size=400)
    best = highest_rms(t, v, 0.01)
    for start in rng.uniform(t[0], t[-1] - 0.01, 40):
        fine = np.linspace(start, start + 0.01, 20001)
        assert np.sqrt(np.mean(np.interp(fine, t, v) ** 2)) <= best * (1 + 1e-2)
    whole = highest_rms(t, v, float(t[-1] - t[0]))
    assert whole <= best
    assert highest_rms(t, np.full(400, -2.0), 0.02) == pytest.approx(2.0)


def test_window_longer_than_the_record_shows_nothing() -> None:
    t = np.linspace(0.0, 0.02, 201)
    found = transient_reading(t, np.ones(201))
    assert found.highest_rms["1 ms"] == pytest.approx(1.0)
    assert found.highest_rms["10 ms"] == pytest.approx(1.0)
    assert isinstance(found.highest_rms["100 ms"], Unknown)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (lambda: steady_reading([1.0, 2.0]), r"\(2,\)"),
        (lambda: steady_reading(np.zeros(16)), "16 points"),
        (lambda: steady_reading([np.nan] * 16), "finite"),
        (lambda: highest_rms([0.0, 1.0], [1.0, 1.0], 2.0), "got 2.0"),
        (lambda: highest_rms([0.0, 0.0], [1.0, 1.0], 0.5), "rising"),
        (lambda: transient_reading([0.0, 1.0], [1.0]), r"\(1,\)"),
        (lambda: meter_readings(circuit(), idle(circuit()), loaded(circuit(), 1e-3)), "got 0.001"),
    ],
)
def test_numbers_out_of_range_are_refused(wrong: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        wrong()
