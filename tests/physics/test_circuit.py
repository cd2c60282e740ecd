"""Circuit states against exact linear solutions, energy balances and an independent integrator."""

from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import root

from fem.circuit.block import at
from fem.circuit.equivalent import Circuit
from fem.circuit.knee import knee_point
from fem.circuit.steady.idle import HARMONIC_ORDERS, idle
from fem.circuit.steady.load import loaded
from fem.circuit.steady.load_line import inner_impedance
from fem.circuit.steady.short_circuit import short_circuit, short_test
from fem.circuit.time.connection import OPEN
from fem.circuit.time.first_peaks import QUICK, asymmetric_peak, first_peaks
from tests.support.circuits import circuit as any_circuit
from tests.support.circuits import sheet_curve, square_loss, straight_curve

FREQUENCY = 50.0
OMEGA = 2 * pi * FREQUENCY
MARGINS = (0.30, 0.10, 0.0, -0.10, -0.25)
"""Knee voltage over mains voltage, less one."""


def circuit(**changes: object) -> Circuit:
    return any_circuit(**{"magnetising": sheet_curve(), "core_loss": square_loss(25.0), **changes})


def at_margin(margin: float, **changes: object) -> Circuit:
    knee = knee_point(sheet_curve(), FREQUENCY).volts_per_turn
    assert knee is not None
    return circuit(primary_turns=round((1 + margin) * 230.0 / knee), **changes)


def rates(c: Circuit, angle: float, secondary_resistance: float | None):
    """Return d(state)/dt for (flux, secondary current, primary current): a formulation of its own.

    The core-loss conductance ties d(flux) to the currents; a stiff solver takes its fast settling as it is.
    """
    n1, n2 = c.primary_turns, c.secondary_turns
    conductance = c.core_loss.conductance(1e-3, FREQUENCY)
    leakage = c.leakage_inductance_secondary
    resistance = c.source_resistance + c.primary_resistance

    def with_inductance(t: float, y: NDArray[np.float64]) -> list[float]:
        slope = (n1 * y[2] - n2 * y[1] - float(c.magnetising.ampere_turns_at(y[0]))) / conductance
        second = 0.0 if secondary_resistance is None else (n2 * slope - secondary_resistance * y[1]) / leakage
        mains = sqrt(2) * c.voltage_rms * np.sin(OMEGA * t + angle)
        return [slope, second, (mains - resistance * y[2] - n1 * slope) / c.source_inductance]

    def without_inductance(t: float, y: NDArray[np.float64]) -> list[float]:
        drive = sqrt(2) * c.voltage_rms * np.sin(OMEGA * t + angle)
        still = (float(c.magnetising.ampere_turns_at(y[0])) + n2 * y[1]) / n1
        slope = (drive - resistance * still) / (n1 + resistance * conductance / n1)
        second = 0.0 if secondary_resistance is None else (n2 * slope - secondary_resistance * y[1]) / leakage
        return [slope, second]

    return with_inductance if c.source_inductance > 0 else without_inductance


def run(c: Circuit, y: list[float], span: float, angle: float, secondary_resistance: float | None, samples: int = 4001):
    """Integrate and return times, primary and secondary currents and the end state."""
    stiff = c.source_inductance > 0
    f = rates(c, angle, secondary_resistance)
    times = np.linspace(0, span, samples)
    method = "Radau" if stiff else "DOP853"
    answer = solve_ivp(f, (0, span), y, method=method, t_eval=times, rtol=1e-6, atol=1e-9, max_step=span / 60)
    assert answer.success
    if stiff:
        primary = answer.y[2]
    else:
        slope = np.array([f(t, s)[0] for t, s in zip(times, answer.y.T, strict=True)])
        core = c.magnetising.ampere_turns_at(answer.y[0]) + c.core_loss.conductance(1e-3, FREQUENCY) * slope
        primary = (core + c.secondary_turns * answer.y[1]) / c.primary_turns
    return times, primary, answer.y[1], answer.y[:, -1]


# --- no-load current -------------------------------------------------------------------------------------------------


def test_idle_on_a_straight_curve_is_the_exact_phasor() -> None:
    permeance = 2e-5
    c = circuit(magnetising=straight_curve(permeance))
    n1 = c.primary_turns
    branch = 1 / (25.0 / n1**2 + 1 / (1j * OMEGA * n1**2 * permeance))
    current = 230.0 / (1.6 + 1j * OMEGA * 3e-4 + branch)
    terminal = 230.0 - current * (0.4 + 1j * OMEGA * 3e-4)
    power = (terminal * current.conjugate()).real
    state = idle(c)
    assert state.current_rms == pytest.approx(abs(current), rel=1e-9)
    assert state.real_power == pytest.approx(power, rel=1e-9)
    assert state.apparent_power == pytest.approx(abs(terminal) * abs(current), rel=1e-9)
    assert state.secondary_voltage_rms == pytest.approx(abs(current * branch) * 3 / n1, rel=1e-9)
    # A parabola through samples 1.4 degrees apart finds a sine's crest to (0.0245 rad)^4 / 100, below 1e-8.
    assert state.current_peak == pytest.approx(sqrt(2) * abs(current), rel=1e-8)
    assert state.harmonics_rms[1:] == pytest.approx(0.0, abs=1e-9)


def test_idle_without_any_impedance_has_a_sinusoidal_flux() -> None:
    nothing = {"source_resistance": 0.0, "source_inductance": 0.0, "primary_resistance": 0.0}
    c = at_margin(-0.25, core_loss=square_loss(0.0), **nothing)
    state = idle(c)
    assert state.peak_flux_per_turn == pytest.approx(c.nominal_peak_flux, rel=1e-9)
    expected = c.magnetising.ampere_turns_at(c.nominal_peak_flux) / c.primary_turns
    # The crest of the current lies on a sample: no parabola error.
    assert state.current_peak == pytest.approx(float(expected), rel=1e-8)


@pytest.mark.parametrize("margin", MARGINS)
def test_idle_energy_balance(margin: float) -> None:
    # What the mains delivers is lost in copper and core. The branch itself takes no energy over a period, but the sum
    # over sample points of a curve with jumps in its second derivative says so only to third order: 1e-6 wants 512
    # points, and a quarter of them leaves 4^3 times that.
    c = at_margin(margin)
    for points, tolerance in ((128, 64e-6), (512, 1e-6)):
        state = idle(c, points=points)
        delivered = float(np.mean(state.voltage * state.current))
        assert delivered == pytest.approx(state.copper_loss + state.core_loss + state.source_loss, rel=tolerance)


@pytest.mark.parametrize("margin", MARGINS)
def test_idle_has_converged_at_the_default(margin: float) -> None:
    c = at_margin(margin)
    assert idle(c).current_rms == pytest.approx(idle(c, points=512).current_rms, rel=1e-4)


def test_idle_harmonics_add_up_to_the_rms() -> None:
    state = idle(at_margin(-0.25))
    spectrum = np.fft.rfft(state.current) / state.current.size * sqrt(2)
    assert state.harmonics_rms == pytest.approx(np.abs(spectrum[list(HARMONIC_ORDERS)]), rel=1e-9)
    assert float(np.sqrt(np.sum(np.abs(spectrum) ** 2))) == pytest.approx(state.current_rms, rel=1e-9)


@pytest.mark.parametrize(
    ("margin", "source_inductance"),
    [
        *((margin, 0.0) for margin in MARGINS),
        (0.30, 3e-4),
        pytest.param(0.10, 3e-4, marks=pytest.mark.slow),
        (0.0, 3e-4),
        pytest.param(-0.10, 3e-4, marks=pytest.mark.slow),
        pytest.param(-0.25, 3e-4, marks=pytest.mark.slow),
    ],
)
def test_idle_against_an_integrator(margin: float, source_inductance: float) -> None:
    # The integrator looks for the state that comes back with its sign turned after half a period.
    c = at_margin(margin, source_inductance=source_inductance)
    half = 0.5 / FREQUENCY
    with_current = source_inductance > 0
    state = idle(c)
    scale = np.array([1e-3, 1.0])[: 2 if with_current else 1]

    def full(x: NDArray[np.float64]) -> list[float]:
        return [x[0] * scale[0], 0.0, x[1]] if with_current else [x[0] * scale[0], 0.0]

    def miss(x: NDArray[np.float64]) -> NDArray[np.float64]:
        end = run(c, full(x), half, 0.0, None, samples=2)[3]
        return x + (end[[0, 2]] if with_current else end[[0]]) / scale

    start = np.array([-c.nominal_peak_flux * 0.9 / scale[0], 0.0])[: scale.size]
    found = root(miss, start, tol=1e-7)
    assert found.success
    current = run(c, full(found.x), half, 0.0, None)[1]
    # Integrator tolerance 1e-6 in flux, times the slope d ln(current) / d ln(flux) of about 20: 1e-4 with room.
    assert state.current_rms == pytest.approx(float(np.sqrt(np.trapezoid(current**2) / 4000)), rel=5e-4)
    assert state.current_peak == pytest.approx(float(np.abs(current).max()), rel=1e-3)


# --- loaded and shorted ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("load_resistance", [0.0, 1e-3, 0.1])
def test_loaded_on_a_straight_curve_is_the_exact_network(load_resistance: float) -> None:
    permeance = 2e-5
    c = circuit(magnetising=straight_curve(permeance))
    ratio = c.primary_turns / c.secondary_turns
    secondary = 1e-3 + load_resistance + 1j * OMEGA * (9 * 1.5e-7 + 4e-7)
    through = 1 / (25.0 / 200**2 + 1 / (1j * OMEGA * 200**2 * permeance) + 1 / (ratio**2 * secondary))
    current = 230.0 / (1.6 + 1j * OMEGA * 3e-4 + through)
    state = loaded(c, load_resistance)
    load_current = abs(current * through) / ratio / abs(secondary)
    assert state.primary_current_rms == pytest.approx(abs(current), rel=1e-9)
    assert state.secondary_current_rms == pytest.approx(load_current, rel=1e-9)
    assert state.load_voltage_rms == pytest.approx(load_current * load_resistance, rel=1e-9)
    terminal = abs(230.0 - current * (0.4 + 1j * OMEGA * 3e-4))
    assert state.input_apparent_power == pytest.approx(terminal * abs(current), rel=1e-9)
    delivered = 230.0 * current.real
    assert state.input_power + state.source_loss == pytest.approx(delivered, rel=1e-9)


def test_shorted_is_loaded_with_nothing_and_the_short_test_is_a_scaled_short() -> None:
    c = circuit()
    assert short_circuit(c) == loaded(c, 0.0)
    full = short_circuit(c)
    again = short_test(c, full.primary_current_rms)
    assert again.primary_voltage_rms == pytest.approx(full.terminal_voltage_rms, rel=1e-9)
    assert again.secondary_current_rms == pytest.approx(full.secondary_current_rms, rel=1e-9)
    assert again.power_factor == pytest.approx(full.power_factor, rel=1e-9)


@pytest.mark.parametrize("margin", [0.30, 0.0, -0.25])
def test_short_circuit_against_the_settled_transient(margin: float) -> None:
    # Closing at a voltage crest leaves little offset; after eight periods what is left of it is below 1e-4. The phasor
    # takes the induced voltage as sinusoidal: harmonics of the magnetising current across the primary loop's impedance
    # are what it leaves out. Shorted, that current is at most a tenth of the whole: 0.5 %.
    c = at_margin(margin, source_inductance=0.0)
    periods = 8
    _, primary, secondary, _ = run(c, [0.0, 0.0], periods / FREQUENCY, pi / 2, 1e-3, samples=periods * 500 + 1)
    state = short_circuit(c)
    for found, wave in ((state.secondary_current_rms, secondary), (state.primary_current_rms, primary)):
        last = wave[-501:-1]
        assert found == pytest.approx(float(np.sqrt(np.mean(last**2))), rel=5e-3)


def test_loaded_with_next_to_nothing_is_idle_when_the_flux_is_sinusoidal() -> None:
    # Without primary impedance the one assumption of the phasor holds, harmonics and all. The load takes 3.5 nA. The 64
    # quadrature points and the collocation points see the kinks in curvature differently, to third order: 1e-5.
    nothing = {"source_resistance": 0.0, "source_inductance": 0.0, "primary_resistance": 0.0}
    c = at_margin(-0.25, **nothing)
    assert loaded(c, 1e9).primary_current_rms == pytest.approx(idle(c).current_rms, rel=1e-5)


# --- switching on ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("x_over_r", [0.2, 1.0, 5.0, 50.0])
def test_peak_factor_by_search(x_over_r: float) -> None:
    angle, time = np.meshgrid(np.linspace(-pi / 2, pi / 2, 1001), np.linspace(0, 2 * pi, 2001), indexing="ij")
    impedance_angle = np.arctan(x_over_r)
    decay = np.exp(-time / x_over_r)
    current = np.sin(time + angle - impedance_angle) - np.sin(angle - impedance_angle) * decay
    at = np.unravel_index(np.argmax(np.abs(current)), current.shape)
    found = asymmetric_peak(x_over_r)
    # The grid misses the crest by half a step in each direction at most: 3e-6 of the peak.
    assert found == pytest.approx(sqrt(2) * float(np.abs(current[at])), rel=5e-6)
    assert angle[at] == pytest.approx(0.0, abs=2 * pi / 1000)


def test_first_peaks_without_a_branch_are_the_linear_ones() -> None:
    # A branch that takes a millionth of the current; the trapezoidal rule's error is (omega step)^2 / 12 = 1.3e-5.
    c = circuit(magnetising=straight_curve(1e3), core_loss=square_loss(0.0))
    peaks = first_peaks(c)
    z = inner_impedance(c)
    linear = 230.0 * 3 / 200 / abs(z) * float(asymmetric_peak(z.imag / z.real))
    assert peaks.secondary.current == pytest.approx(linear, rel=5e-5)
    assert peaks.primary.current == pytest.approx(linear * 3 / 200, rel=5e-5)


def _check_against_integrator(
    c: Circuit, closing: float, peak: float, which: int, resistance: float | None, phi0: float
) -> None:
    start = float(c.magnetising.ampere_turns_at(phi0)) / c.primary_turns
    state = [phi0, 0.0, start] if c.source_inductance > 0 else [phi0, 0.0]
    for angle in (closing, *np.arange(0.0, 2 * pi, pi / 3)):
        currents = run(c, state, 1 / FREQUENCY, angle, resistance)[which]
        highest = float(np.abs(currents).max())
        # The task is 0.1 % in peaks; the integrator's own error is a tenth of it.
        assert highest <= peak * 1.001
        if angle == closing:
            assert highest == pytest.approx(peak, rel=1e-3)


@pytest.mark.parametrize("remanence", [(3e-3, 0.0), pytest.param((0.0, 3e-3), marks=pytest.mark.slow)])
def test_first_peaks_of_a_block_against_an_integrator(remanence: tuple[float, float]) -> None:
    block = at_margin(0.0, source_inductance=np.array([0.0, 3e-4]))
    peaks = first_peaks(block, remanence=np.array(remanence))
    quick = first_peaks(block, remanence=np.array(remanence), fineness=QUICK)
    for k, left in enumerate(remanence):
        for winding, close, rough in ((1, peaks.primary, quick.primary), (2, peaks.secondary, quick.secondary)):
            angle, current = float(close.closing_angle[k]), float(close.current[k])
            _check_against_integrator(at(block, k), angle, current, winding, 1e-3, left)
            # Steps four times as long miss 16 times as much; half a fan's spacing, 1.9 degrees, costs 5e-4 of a crest.
            assert rough.current[k] == pytest.approx(current, rel=2e-3)


@pytest.mark.parametrize("margin", [pytest.param(0.30, marks=pytest.mark.slow), -0.25])
def test_inrush_against_an_integrator(margin: float) -> None:
    c = at_margin(margin, source_inductance=0.0)
    found = first_peaks(c, OPEN, remanence=2e-3).primary
    _check_against_integrator(c, found.closing_angle, found.current, 1, None, 2e-3)


def test_lossless_inrush_doubles_the_flux() -> None:
    # Without resistance the flux swings from the remanence by twice the nominal peak (any text; from memory).
    nothing = {"source_resistance": 0.0, "source_inductance": 0.0, "primary_resistance": 0.0}
    c = circuit(core_loss=square_loss(0.0), **nothing)
    flux = 2 * c.nominal_peak_flux + 2e-3
    expected = float(c.magnetising.ampere_turns_at(flux)) / c.primary_turns
    # The trapezoidal rule is off by (omega step)^2 / 12 = 1.3e-5 in flux; the excitation there is steeper 2 to 3 times.
    assert first_peaks(c, OPEN, remanence=2e-3).primary.current == pytest.approx(expected, rel=1e-4)
    assert first_peaks(c, OPEN, remanence=-2e-3).primary.current == pytest.approx(expected, rel=1e-4)
