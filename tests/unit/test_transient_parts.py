"""What time domain, losses and voltage sweeps accept, and relations that hold for any circuit."""

from dataclasses import replace
from math import inf, pi, sqrt

import numpy as np
import pytest

from fem.circuit.curves import LeakageCurve
from fem.circuit.excitation import excitation_rms, peak_flux_of
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.losses import SeparatedLoss
from fem.circuit.steady.idle import HARMONIC_ORDERS, idle
from fem.circuit.steady.voltage_sweep import idle_curve, voltage_for_idle_current, voltages_up_to
from fem.circuit.time.connection import OPEN, Connection, Rectifier
from fem.circuit.time.periodic import periodic
from fem.circuit.time.switch_on import joule_integral, switch_on
from fem.circuit.time.waveforms import transient
from tests.support.circuits import circuit


def sixty_hertz_loss() -> SeparatedLoss:
    flux = np.array([1e-3, 3e-3, 6e-3])
    return SeparatedLoss(
        frequency=60.0, flux_per_turn=flux, hysteresis=5e5 * flux**2, classical=3e5 * flux**2, excess=2e5 * flux**2
    )


# --- no load ---------------------------------------------------------------------------------------------------------


def test_idle_waveforms_belong_together() -> None:
    state = idle(circuit())
    assert state.harmonic_orders == HARMONIC_ORDERS
    assert sqrt(np.mean(state.induced_voltage**2)) == pytest.approx(state.secondary_voltage_rms * 200 / 3, rel=1e-12)
    # The loss current carries the core loss, and the rest of the current is the curve's at that flux.
    assert float(np.mean(state.induced_voltage * state.loss_current)) == pytest.approx(state.core_loss, rel=1e-12)
    rest = state.current - state.loss_current
    np.testing.assert_allclose(rest, circuit().magnetising.ampere_turns_at(state.flux_per_turn) / 200, atol=1e-12)


def test_sixty_hertz_core_on_fifty_hertz() -> None:
    loss = sixty_hertz_loss()
    at_60, at_50 = (circuit(frequency=f, core_loss=loss.at(f)) for f in (60.0, 50.0))
    # The same voltage takes 6/5 of the flux; the parts go with f, f^2, f^1.5 at the same flux.
    assert at_50.nominal_peak_flux == pytest.approx(1.2 * at_60.nominal_peak_flux, rel=1e-12)
    share = 5 / 6
    expected = loss.hysteresis * share + loss.classical * share**2 + loss.excess * share**1.5
    np.testing.assert_allclose(at_50.core_loss.loss, expected, rtol=1e-12)
    # A linear core would take 6/5 of the magnetising current; a saturating one takes more.
    assert idle(at_50).current_rms > 1.2 * idle(at_60).current_rms
    # Eddy-current loss at a given voltage is the same at any frequency as long as the flux stays a sine: with a stiff
    # mains, f^2 flux^2 is fixed.
    stiff = {"source_resistance": 0.0, "source_inductance": 0.0, "primary_resistance": 0.0}
    nothing = np.zeros(3)
    eddy = SeparatedLoss(
        frequency=60.0, flux_per_turn=loss.flux_per_turn, hysteresis=nothing, classical=loss.classical, excess=nothing
    )
    losses = [idle(circuit(frequency=f, core_loss=eddy.at(f), **stiff)).core_loss for f in (50.0, 60.0)]
    assert losses[0] == pytest.approx(losses[1], rel=1e-6)


@pytest.mark.parametrize("current", [0.05, 2.0, 12.0])
def test_voltage_for_a_current_inverts_the_no_load_state(current: float) -> None:
    c = circuit()
    voltage = voltage_for_idle_current(c, current)
    assert idle(c.with_voltage(voltage)).current_rms == pytest.approx(current, rel=1e-6)


def test_idle_current_of_an_ideal_primary_needs_no_turns() -> None:
    # Without impedance and loss the no-load state is the turn-free excitation of a sinusoidal flux.
    c = circuit(
        source_resistance=0.0,
        source_inductance=0.0,
        primary_resistance=0.0,
        core_loss=CoreLossCurve(flux_per_turn=[1e-3, 2e-3], loss=[0.0, 0.0]),
    )
    for current in (0.1, 3.0):
        # Sixty-four quadrature points against 128 collocation points: kinks in the curve's curvature, 1e-5 of the flux,
        # some 20 times that of the ampere-turns beyond the knee.
        peak_flux = peak_flux_of(voltage_for_idle_current(c, current) / 200, 50.0)
        assert float(excitation_rms(c.magnetising, peak_flux)) / 200 == pytest.approx(current, rel=2e-4)


def test_a_start_nearby_changes_nothing_beyond_the_tolerance() -> None:
    # The search alone ends at 1e-6 of the state, the other where the square of the last step, below 1e-3, is left; the
    # conductance of the core loss at a thousandth of it.
    c = circuit()
    warm = replace(c, primary_resistance=1.1 * c.primary_resistance, secondary_resistance=1.2 * c.secondary_resistance)
    for connection in (OPEN, Connection(load_resistance=0.01, rectifier=Rectifier(forward_drop=0.7))):
        alone = periodic(warm, connection, steps=128)
        led = periodic(warm, connection, steps=128, start=periodic(c, connection, steps=128))
        assert led.primary_rms == pytest.approx(alone.primary_rms, rel=1e-5)
        assert led.secondary_rms == pytest.approx(alone.secondary_rms, rel=1e-5)
        assert led.core_loss == pytest.approx(alone.core_loss, rel=1e-3)
    with pytest.raises(ValueError, match="128 steps instead of 256"):
        periodic(c, connection, steps=256, start=led)


def test_curve_of_a_variable_transformer() -> None:
    c = circuit()
    curve = idle_curve(c, voltages_up_to(c, 10.0, points=12))
    assert curve.current_rms[-1] == pytest.approx(10.0, rel=1e-6)
    for rising in (curve.voltage_rms, curve.current_rms, curve.real_power, curve.peak_flux_per_turn):
        assert np.all(np.diff(rising) > 0)
    np.testing.assert_allclose(curve.apparent_power, curve.voltage_rms * curve.current_rms, rtol=1e-12)
    # Ohmic drop aside, the terminals see the induced voltage.
    assert np.all(curve.voltage_rms > 200 * curve.volts_per_turn)


# --- switching on ----------------------------------------------------------------------------------------------------


def test_mirrored_closing_gives_the_mirrored_transient() -> None:
    c = circuit()
    a = transient(c, Connection(load_resistance=0.01), closing_angle=1.0, remanence=1e-3)
    b = transient(c, Connection(load_resistance=0.01), closing_angle=1.0 + pi, remanence=-1e-3)
    np.testing.assert_allclose(b.primary_current, -a.primary_current, atol=1e-9)
    np.testing.assert_allclose(b.terminal_voltage, -a.terminal_voltage, atol=1e-6)


# --- refusals --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: Rectifier(forward_drop=-0.7), "-0.7"),
        (lambda: Connection(load_resistance=-1.0), "-1.0"),
        (lambda: Connection(load_resistance=float("nan")), "nan"),
        (lambda: Connection(dc_voltage=inf), "dc_voltage .*inf"),
        (lambda: transient(circuit(), closing_angle=inf), "closing_angle .*inf"),
        (lambda: transient(circuit(), remanence=inf), "remanence .*inf"),
        (lambda: transient(circuit(), cycles=0), "cycles .*0"),
        (lambda: transient(circuit(), steps=32), "steps .*32"),
        (lambda: switch_on(circuit(), cycles=2), "cycles .*2"),
        (lambda: periodic(circuit(), OPEN, steps=130), "130"),
        (lambda: joule_integral(transient(circuit(), steps=64), 0.03), "0.03"),
        (lambda: voltage_for_idle_current(circuit(), 0.0), "0.0"),
        (lambda: voltages_up_to(circuit(), 1.0, points=1), "1"),
        (lambda: sixty_hertz_loss().at(-50.0), "-50"),
        (lambda: LeakageCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, 1e-7, 0.5e-7]), "5e-08"),
    ],
)
def test_what_is_wrong_is_named(call: object, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()  # type: ignore[operator]


def test_bad_loss_part_is_named() -> None:
    with pytest.raises(ValueError, match=r"classical: .*-1"):
        SeparatedLoss(
            frequency=50.0,
            flux_per_turn=np.array([1e-3, 2e-3]),
            hysteresis=np.ones(2),
            classical=np.array([1.0, -1.0]),
            excess=np.zeros(2),
        )
