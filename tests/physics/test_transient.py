"""Transients against closed forms, an energy balance, a rate and an independent integrator."""

from dataclasses import fields
from math import atan2, hypot, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.load import loaded
from fem.circuit.time.connection import OPEN, SHORTED, Connection, Rectifier
from fem.circuit.time.first_peaks import first_peaks
from fem.circuit.time.periodic import periodic
from fem.circuit.time.phasor_check import phasor_difference
from fem.circuit.time.stepping import leakage_flux
from fem.circuit.time.switch_on import by_cycle, joule_integral, switch_on
from fem.circuit.time.waveforms import transient
from tests.support.circuits import circuit as any_circuit
from tests.support.circuits import sheet_curve, square_loss, straight_curve

Floats = NDArray[np.float64]

FREQUENCY = 50.0
OMEGA = 2 * pi * FREQUENCY
CONDUCTANCE = 25.0


def saturating_leakage() -> LeakageCurve:
    """Return an invented shunt: a fifth of its unsaturated permeance is left beyond some 3 kA."""
    ampere_turns = np.r_[0.0, np.geomspace(100.0, 3e4, 25)]
    return LeakageCurve(
        ampere_turns=ampere_turns, flux_per_turn=3e-8 * ampere_turns + 1.2e-7 * 3e3 * np.tanh(ampere_turns / 3e3)
    )


def circuit(**changes: object) -> Circuit:
    given: dict[str, object] = {"source_inductance": 0.0, "primary_turns": 190, "magnetising": sheet_curve()}
    return any_circuit(**given | {"core_loss": square_loss(CONDUCTANCE)} | changes)


def integrated(c: Circuit, angle: float, remanence: float, resistance: float | None, times: Floats) -> list[Floats]:
    """Return primary and secondary current by another method, in core and leakage flux per turn."""
    n1, n2, r1 = c.primary_turns, c.secondary_turns, c.loop_resistance
    leakage = c.leakage_permeance

    def secondary(psi: float) -> tuple[float, float]:
        if resistance is None:
            return 0.0, 0.0
        if isinstance(leakage, LeakageCurve):
            excitation, slope = leakage.excitation(psi)
            return float(excitation) / n2, float(slope) / n2
        return psi / leakage / n2, 1 / leakage / n2

    def core(t: float, y: Floats) -> tuple[float, float]:
        current = secondary(y[1])[0]
        drive = sqrt(2) * c.voltage_rms * np.sin(OMEGA * t + angle)
        still = (float(c.magnetising.ampere_turns_at(y[0])) + n2 * current) / n1
        rate = (drive - r1 * still) / (n1 + r1 * CONDUCTANCE / n1)
        return rate, still + CONDUCTANCE * rate / n1

    def rates(t: float, y: Floats) -> list[float]:
        rate = core(t, y)[0]
        if resistance is None:
            return [rate, 0.0]
        current, slope = secondary(y[1])
        return [rate, (n2 * rate - resistance * current) / (n2 + c.lead_inductance * slope)]

    answer = solve_ivp(
        rates,
        (0, times[-1]),
        [remanence, 0.0],
        method="DOP853",
        t_eval=times,
        rtol=1e-6,
        atol=1e-12,
        max_step=1 / FREQUENCY / 60,
    )
    assert answer.success
    first = np.array([core(t, y)[1] for t, y in zip(times, answer.y.T, strict=True)])
    return [first, np.array([secondary(psi)[0] for psi in answer.y[1]])]


# --- closed forms ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("angle", [0.0, 1.0, 4.0])
def test_short_without_a_branch_is_the_exact_transient(angle: float) -> None:
    # A branch that takes a millionth of the current.
    c = circuit(magnetising=straight_curve(1e3), core_loss=square_loss(0.0), source_inductance=3e-4)
    state = transient(c, SHORTED, closing_angle=angle, cycles=3)
    ratio = c.secondary_turns / c.primary_turns
    resistance = 1e-3 + 1.6 * ratio**2
    inductance = 9 * 1.5e-7 + 4e-7 + 3e-4 * ratio**2
    lag = atan2(OMEGA * inductance, resistance)
    peak = sqrt(2) * 230.0 * ratio / hypot(OMEGA * inductance, resistance)
    t = state.time
    exact = np.sin(OMEGA * t + angle - lag) - np.sin(angle - lag) * np.exp(-t * resistance / inductance)
    # The trapezoidal rule is off by (omega step)^2 / 12 = 1.3e-5 in the impedance, and in phase over three periods by
    # (omega step)^2 / 12 x 6 pi x resistance/impedance: 2e-4 of the peak.
    assert state.secondary_current == pytest.approx(peak * exact, abs=2.5e-4 * peak)
    assert state.primary_current == pytest.approx(peak * exact * ratio, abs=2.5e-4 * peak * ratio)


@pytest.mark.parametrize("resistance", [1.0, 1e3])
def test_lamp_switched_on_at_the_crest_does_not_ring(resistance: float) -> None:
    # The loop's time constant is 2 microseconds and less, a twentieth of a step: the current is e.m.f. over resistance
    # almost at once. The damped two-step rule is off by (omega step)^2 / 3 = 5e-5; of how it starts, a third is left
    # from step to step: 1e-5 after ten.
    c = circuit(primary_resistance=0.0, source_resistance=0.0, core_loss=square_loss(0.0))
    state = transient(c, Connection(load_resistance=resistance), closing_angle=pi / 2)
    exact = sqrt(2) * 230.0 * 3 / 190 / (resistance + 1e-3) * np.cos(OMEGA * state.time)
    lag = OMEGA * c.leakage_inductance_secondary / resistance
    within = (3e-4 + lag) * exact[0]
    assert state.secondary_current[10:] == pytest.approx(exact[10:], abs=within)


def test_bridge_on_a_stiff_source_takes_its_drop() -> None:
    # Without impedance the current is what the e.m.f. exceeds the drop by, over the resistance.
    c = circuit(primary_resistance=0.0, source_resistance=0.0, core_loss=square_loss(0.0))
    state = transient(c, Connection(load_resistance=10.0, rectifier=Rectifier(forward_drop=1.4, full_wave=True)))
    emf = sqrt(2) * 230.0 * 3 / 190 * np.sin(OMEGA * state.time)
    exact = np.sign(emf) * np.maximum(np.abs(emf) - 1.4, 0.0) / (10.0 + 1e-3)
    # Twice the rule's error of the sine (5e-5 x 0.51 A), and at each kink half a step's change: 0.003 A.
    assert state.secondary_current[3:] == pytest.approx(exact[3:], abs=0.004)
    half = transient(c, Connection(load_resistance=10.0, rectifier=Rectifier(forward_drop=1.4)))
    assert half.secondary_current[3:] == pytest.approx(np.maximum(exact, 0.0)[3:], abs=0.004)


# --- balances and rates ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("leakage", [1.5e-7, saturating_leakage()], ids=["plain", "curve"])
def test_energy_balance_of_a_short(leakage: float | LeakageCurve) -> None:
    c = circuit(leakage_permeance=leakage, source_inductance=3e-4)
    errors = []
    for steps in (128, 512):
        state = transient(c, SHORTED, cycles=2, remanence=1e-3, steps=steps)
        dt = state.time[1]
        i1, i2, flux = state.primary_current, state.secondary_current, state.flux_per_turn
        rate = np.gradient(flux, dt, edge_order=2)
        conductance = c.core_loss.conductance(c.nominal_peak_flux, FREQUENCY)
        losses = np.trapezoid(c.loop_resistance * i1**2 + 1e-3 * i2**2 + conductance * rate**2, dx=dt)
        stored = 0.5 * c.source_inductance * (i1[-1] ** 2 - i1[0] ** 2) + 0.5 * c.lead_inductance * i2[-1] ** 2
        fluxes = np.linspace(flux[0], flux[-1], 4001)
        stored += float(np.trapezoid(c.magnetising.ampere_turns_at(fluxes), fluxes))
        leak = np.linspace(0.0, leakage_flux(c, i2)[-1], 4001)
        drive = leakage.ampere_turns_at(leak) if isinstance(leakage, LeakageCurve) else leak / leakage
        stored += float(np.trapezoid(drive, leak))
        delivered = float(np.trapezoid(state.voltage * i1, dx=dt))
        errors.append(abs(delivered - losses - stored) / delivered)
    # Second order: a quarter of the step leaves a sixteenth; with the kinks in the curves' curvature, at least a sixth.
    # In all some times (omega step)^2 = 2.4e-3 at 128 steps.
    assert errors[0] < 8e-3
    assert errors[1] < errors[0] / 6


def test_second_order_in_the_step() -> None:
    c = circuit(magnetising=straight_curve(2e-5), source_inductance=3e-4)
    at = [transient(c, SHORTED, closing_angle=0.5, steps=n).secondary_current[-1] for n in (64, 128, 256, 4096)]
    errors = [abs(value - at[-1]) for value in at[:-1]]
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert rates == pytest.approx([2.0, 2.0], abs=0.1)


# --- against an independent integrator -------------------------------------------------------------------------------


@pytest.mark.parametrize("remanence", [0.0, 2e-3])
def test_decay_of_the_inrush(remanence: float) -> None:
    c = circuit(primary_resistance=3.0)
    state = transient(c, OPEN, remanence=remanence, cycles=4)
    other = integrated(c, 0.0, remanence, None, state.time)[0]
    # The task is 0.1 % in peaks; later peaks carry the error of those before, which the same resistance damps.
    cycles = other[:-1].reshape(4, -1)
    assert by_cycle(state).primary_peak == pytest.approx(np.abs(cycles).max(axis=1), rel=1e-3)
    rms = np.sqrt(np.mean(cycles**2, axis=1))
    # Leaving out one end of the trapezoid at a nearly closed period: 1/1024 of its change.
    assert by_cycle(state).primary_rms == pytest.approx(rms, rel=2e-3)


@pytest.mark.parametrize("resistance", [0.0, pytest.param(2e-3, marks=pytest.mark.slow)])
def test_saturating_leakage(resistance: float) -> None:
    c = circuit(leakage_permeance=saturating_leakage())
    state = transient(c, Connection(load_resistance=resistance), cycles=2)
    first, second = integrated(c, 0.0, 0.0, 1e-3 + resistance, state.time)
    # 0.1 % of the peak at every instant: the phase error of 1.3e-5 x 4 pi on flanks ten times a sine's.
    assert state.primary_current == pytest.approx(first, abs=1e-3 * float(np.abs(first).max()))
    assert state.secondary_current == pytest.approx(second, abs=1e-3 * float(np.abs(second).max()))


def test_straight_leakage_curve_is_a_permeance() -> None:
    line = LeakageCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, 1.5e-7, 3e-7])
    plain, curved = circuit(), circuit(leakage_permeance=line)
    assert curved.leakage_inductance_secondary == pytest.approx(plain.leakage_inductance_secondary, rel=1e-12)
    a, b = transient(plain, SHORTED), transient(curved, SHORTED)
    assert b.secondary_current == pytest.approx(a.secondary_current, abs=1e-6 * a.secondary_current.max())


def test_straight_leakage_curve_is_a_permeance_to_the_loaded_state() -> None:
    """Waves and phasors are the same where the core is straight as well."""
    straight = straight_curve()
    for factor in (1.0, 0.5):
        line = LeakageCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, 1.5e-7, 3e-7]) * factor
        curved = loaded(circuit(magnetising=straight, leakage_permeance=line), 0.0)
        plain = loaded(circuit(magnetising=straight, leakage_permeance=factor * 1.5e-7), 0.0)
        for name in (field.name for field in fields(plain) if field.name != "load_resistance"):
            assert getattr(curved, name) == pytest.approx(getattr(plain, name), rel=1e-6, abs=1e-9), name


@pytest.mark.parametrize("resistance", [0.0, 1e-3, 5e-3])
def test_loaded_waves_are_the_periodic_state(resistance: float) -> None:
    # No phasor here: both are waves, stepped and by collocation, a per mille apart.
    c = circuit(leakage_permeance=saturating_leakage())
    found = phasor_difference(c, resistance)
    assert [found.primary_rms, found.secondary_rms, found.real_power] == pytest.approx([0.0] * 3, abs=1e-3)
    assert found.phasor_peak_flux_per_turn == pytest.approx(found.peak_flux_per_turn, rel=1e-3)


def test_saturating_leakage_lets_more_through() -> None:
    linear, saturating = circuit(), circuit(leakage_permeance=saturating_leakage())
    current = loaded(saturating, 0.0).secondary_current_rms
    assert current == pytest.approx(periodic(saturating, SHORTED).secondary_rms, rel=1e-3)
    assert current > loaded(linear, 0.0).secondary_current_rms
    assert first_peaks(saturating).secondary.current > 1.05 * first_peaks(linear).secondary.current


def test_settled_transient_is_the_periodic_state() -> None:
    # The periodic state by shooting and plain stepping from rest share the integrator; a short settles fast.
    c = circuit(leakage_permeance=saturating_leakage())
    state = by_cycle(transient(c, SHORTED, closing_angle=pi / 2, cycles=8, steps=128))
    found = periodic(c, SHORTED, steps=128)
    assert state.secondary_rms[-1] == pytest.approx(found.secondary_rms, rel=1e-4)


# --- one integrator under everything ---------------------------------------------------------------------------------


def test_first_peaks_come_from_the_transient() -> None:
    c = circuit(source_inductance=3e-4)
    peaks = first_peaks(c, remanence=1e-3)
    state = transient(c, SHORTED, closing_angle=peaks.primary.closing_angle, remanence=1e-3)
    np.testing.assert_allclose(state.primary_current, peaks.primary.currents, atol=1e-9)


@pytest.mark.parametrize("remanence", [0.0, 2e-3])
def test_no_angle_beats_the_worst(remanence: float) -> None:
    c = circuit(source_inductance=3e-4)
    worst = first_peaks(c, OPEN, remanence=remanence).primary.current
    for angle in np.arange(0, 2 * pi, pi / 5):
        # A sample of the waveform is below its crest, by at most the parabola between samples.
        assert (
            np.abs(transient(c, OPEN, closing_angle=angle, remanence=remanence).primary_current).max() <= worst * 1.0001
        )


def test_switching_on_summed_up() -> None:
    c = circuit()
    worst = switch_on(c, cycles=5)
    crest = switch_on(c, closing_angle=pi / 2, cycles=5)
    assert worst.first_peak > 10 * crest.first_peak
    assert np.all(np.diff(worst.by_cycle.primary_peak) < 0)
    # Ten periods of 10 ms cannot hold more heat than the first; the whole must hold the first.
    assert worst.rms_10_ms > worst.rms_100_ms > worst.rms_10_ms / sqrt(10)
    # The largest over any 10 ms holds at least what the first 10 ms do.
    assert worst.rms_10_ms**2 * 0.01 >= worst.joule_integral * (1 - 1e-9)
    total = joule_integral(worst.transient, 0.1)
    assert total == pytest.approx(float(np.sum(worst.by_cycle.primary_rms**2)) / FREQUENCY, rel=1e-9)
