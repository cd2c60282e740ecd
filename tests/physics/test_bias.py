"""The periodic state under half-wave and direct bias against invariants, the no-load solver and an integrator."""

from collections.abc import Callable
from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.knee import knee_point
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import PHASOR_BOUND, loaded
from fem.circuit.time.connection import OPEN, SHORTED, Connection, Rectifier
from fem.circuit.time.periodic import periodic
from fem.circuit.time.phasor_check import PhasorDifference, phasor_difference

Floats = NDArray[np.float64]
Rates = Callable[[float, Floats], list[float]]

FREQUENCY = 50.0
OMEGA = 2 * pi * FREQUENCY
PERIOD = 1 / FREQUENCY
CONDUCTANCE = 25.0
HALF_WAVE = Rectifier()


def saturating_curve() -> MagnetisingCurve:
    """Return an invented curve, only a vehicle: the truth is an independent integration of the same curve."""
    field = np.geomspace(8, 3e5, 30)
    density = 2.05 * (2 / pi) * (0.72 * np.arctan(pi / 2 * field / 60) + 0.28 * np.arctan(field / 6000))
    density += 4e-7 * pi * field
    excitation = 0.32 * field + density / (4e-7 * pi) * 6e-5
    return MagnetisingCurve(ampere_turns=np.r_[0, excitation], flux_per_turn=np.r_[0, 3e-3 * density])


def straight(permeance: float) -> MagnetisingCurve:
    return MagnetisingCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, permeance, 2 * permeance])


def at_margin(margin: float, **changes: object) -> Circuit:
    """Return a circuit whose knee voltage is the mains voltage times one more than the margin."""
    knee = knee_point(saturating_curve(), FREQUENCY).volts_per_turn
    assert knee is not None
    flux = np.array([1e-3, 2e-3])
    numbers: dict[str, object] = {
        "voltage_rms": 230.0,
        "frequency": FREQUENCY,
        "source_resistance": 0.4,
        "source_inductance": 0.0,
        "primary_turns": round((1 + margin) * 230.0 / knee),
        "secondary_turns": 3,
        "primary_resistance": 1.2,
        "secondary_resistance": 4e-4,
        "lead_resistance": 6e-4,
        "lead_inductance": 4e-7,
        "leakage_permeance": 1.5e-7,
        "magnetising": saturating_curve(),
        "core_loss": CoreLossCurve(flux_per_turn=flux, loss=CONDUCTANCE * (OMEGA * flux) ** 2 / 2),
    }
    return Circuit(**(numbers | changes))


# --- an integrator of its own: smooth pieces between events ----------------------------------------------------------


def _core(c: Circuit, t: float, flux: float, secondary: float) -> tuple[float, float]:
    """Return the rate of flux and the primary current with the primary loop closed."""
    n1, r1 = c.primary_turns, c.loop_resistance
    still = (float(c.magnetising.ampere_turns_at(flux)) + c.secondary_turns * secondary) / n1
    rate = (sqrt(2) * c.voltage_rms * np.sin(OMEGA * t) - r1 * still) / (n1 + r1 * CONDUCTANCE / n1)
    return rate, still + CONDUCTANCE * rate / n1


def _pieces(
    closed: Rates, blocked: Rates, stops: Rates, starts: Rates, y: Floats, begin: float, end: float, passes: bool
) -> tuple[Floats, Floats, Floats]:
    """Integrate from event to event of one valve; return times, states, and whether the valve passes."""
    times, states, passing = [], [], []
    t = begin
    while t < end - 1e-12:
        event = stops if passes else starts

        def crossing(at: float, state: Floats, event: Rates = event) -> float:
            return event(at, state)[0]

        crossing.terminal = True  # type: ignore[attr-defined]
        crossing.direction = -1.0 if passes else 1.0  # type: ignore[attr-defined]
        # A blocked core falls back in microseconds while it is saturated: stiff.
        answer = solve_ivp(
            closed if passes else blocked,
            (t, end),
            y,
            method="LSODA",
            rtol=1e-8,
            atol=1e-12,
            max_step=PERIOD / 200,
            events=crossing,
        )
        assert answer.success
        times.append(answer.t)
        states.append(answer.y)
        passing.append(np.full(answer.t.size, passes))
        t, y = answer.t[-1], answer.y[:, -1]
        passes = not passes if answer.status == 1 else passes
    return np.concatenate(times), np.concatenate(states, axis=1), np.concatenate(passing)


def half_wave_load(
    c: Circuit, load: float, drop: float, y: Floats, begin: float, end: float, passes: bool
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return times, states (flux, secondary current), primary current and whether the valve passes."""
    n2, resistance, inductance = c.secondary_turns, 1e-3 + load, c.leakage_inductance_secondary

    def closed(t: float, s: Floats) -> list[float]:
        rate = _core(c, t, s[0], s[1])[0]
        return [rate, (n2 * rate - resistance * s[1] - drop) / inductance]

    def blocked(t: float, s: Floats) -> list[float]:
        return [_core(c, t, s[0], 0.0)[0], 0.0]

    def stops(t: float, s: Floats) -> list[float]:
        return [s[1]]

    def starts(t: float, s: Floats) -> list[float]:
        return [n2 * _core(c, t, s[0], 0.0)[0] - drop]

    t, states, passing = _pieces(closed, blocked, stops, starts, y, begin, end, passes)
    states[1] *= passing
    primary = np.array([_core(c, at, s[0], s[1])[1] for at, s in zip(t, states.T, strict=True)])
    return t, states, primary, passing


def half_wave_supply(c: Circuit, end: float) -> tuple[Floats, Floats]:
    """Return times and primary current from rest at the rising zero, secondary open."""

    def closed(t: float, s: Floats) -> list[float]:
        return [_core(c, t, s[0], 0.0)[0]]

    def blocked(t: float, s: Floats) -> list[float]:
        return [-float(c.magnetising.ampere_turns_at(s[0])) / CONDUCTANCE]

    def stops(t: float, s: Floats) -> list[float]:
        return [_core(c, t, s[0], 0.0)[1]]

    def starts(t: float, s: Floats) -> list[float]:
        return [sqrt(2) * c.voltage_rms * np.sin(OMEGA * t) - c.primary_turns * blocked(t, s)[0]]

    t, states, passing = _pieces(closed, blocked, stops, starts, np.zeros(1), 0.0, end, True)
    current = np.array([_core(c, at, s[0], 0.0)[1] for at, s in zip(t, states.T, strict=True)])
    return t, current * passing


def _mean(t: Floats, wave: Floats) -> float:
    return float(np.trapezoid(wave, t) / (t[-1] - t[0]))


# --- invariants ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("margin", [0.30, 0.0, -0.25])
@pytest.mark.parametrize("load", [0.0, 0.05])
def test_half_wave_load_magnetises_the_core(margin: float, load: float) -> None:
    # The mains has no direct voltage, so no direct current flows in the primary; the load's direct ampere-turns are
    # left to the core (Ampere's law, and Faraday's over a closed period).
    c = at_margin(margin)
    state = periodic(c, Connection(load_resistance=load, rectifier=HALF_WAVE))
    assert state.secondary_mean > 0
    assert state.magnetising_mean == pytest.approx(-3 * state.secondary_mean, rel=1e-4)
    # The search ends at 1e-6 of the flux; 1e-5 of the load's current in the primary is far below that times its slope.
    assert abs(state.primary_mean) < 1e-4 * state.primary_rms
    assert state.flux_mean < 0
    assert state.secondary_current.min() > -1e-6 * state.secondary_current.max()
    # Even harmonics are there.
    assert state.harmonics_rms[2] > 0.01 * state.harmonics_rms[1]


@pytest.mark.parametrize("volts", [0.1, -1.0])
def test_direct_voltage_drives_its_current_through_the_resistance(volts: float) -> None:
    state = periodic(at_margin(0.0), Connection(dc_voltage=volts))
    assert state.primary_mean == pytest.approx(volts / 1.6, rel=1e-4)
    assert np.sign(state.flux_mean) == np.sign(volts)
    assert state.harmonics_rms[0] == pytest.approx(abs(volts) / 1.6, rel=1e-4)


def test_linear_core_shifts_by_the_direct_ampere_turns() -> None:
    permeance = 2e-5
    state = periodic(
        at_margin(0.0, magnetising=straight(permeance)), Connection(load_resistance=0.5, rectifier=HALF_WAVE)
    )
    assert state.flux_mean == pytest.approx(-3 * permeance * state.secondary_mean, rel=1e-4)
    # A half sine over the resistance: mean = sqrt(2)/pi, r.m.s. = 1/sqrt(2) of the sine's r.m.s. The leakage reactance
    # of 0.55 mohm on 0.5 ohm shifts the end of conduction by a thousandth of a radian.
    assert state.secondary_rms / state.secondary_mean == pytest.approx(pi / 2, rel=2e-3)


@pytest.mark.parametrize("margin", [0.30, 0.0, -0.25])
def test_without_bias_it_is_the_no_load_state(margin: float) -> None:
    # Collocation over half a period against stepping over a whole one, with a source inductance.
    c = at_margin(margin, source_inductance=3e-4)
    state, other = periodic(c, OPEN), idle(c)
    assert state.primary_rms == pytest.approx(other.current_rms, rel=1e-3)
    assert state.primary_peak == pytest.approx(other.current_peak, rel=2e-3)
    assert state.harmonics_rms[1:10:2] == pytest.approx(other.harmonics_rms, abs=1e-3 * other.current_rms)
    assert state.harmonics_rms[0::2] == pytest.approx(0.0, abs=1e-4 * other.current_rms)
    assert state.core_loss == pytest.approx(other.core_loss, rel=1e-3)
    assert state.secondary_voltage_rms == pytest.approx(other.secondary_voltage_rms, rel=1e-4)


@pytest.mark.parametrize(
    "connection",
    [
        SHORTED,
        Connection(load_resistance=0.05, rectifier=Rectifier(forward_drop=0.7)),
        Connection(half_wave_supply=True),
    ],
    ids=["short", "half-wave load", "half-wave supply"],
)
def test_power_at_the_terminals_is_lost_inside(connection: Connection) -> None:
    state = periodic(at_margin(0.0), connection)
    # Differences between samples take the rate of flux to second order: (omega step)^2 / 6 = 2.5e-5 at the fundamental,
    # several times that for the peaky current of the half-wave supply.
    delivered = float(np.mean(state.terminal_voltage * state.primary_current))
    assert state.real_power == pytest.approx(delivered, rel=5e-4)


# --- against the integrator ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("margin", "load", "drop"), [(0.30, 0.05, 0.0), (0.0, 0.02, 0.7), (-0.25, 0.0, 0.0)])
def test_half_wave_load_comes_back_in_another_integrator(margin: float, load: float, drop: float) -> None:
    # From the falling zero of flux at the trough of the mains, where the valve blocks or still passes. What does not
    # come back after a period would go on drifting: three more periods stay within 0.5 % in r.m.s. each.
    c = at_margin(margin)
    state = periodic(c, Connection(load_resistance=load, rectifier=Rectifier(forward_drop=drop)))
    at = 3 * state.time.size // 4
    y = np.array([state.flux_per_turn[at], state.secondary_current[at]])
    passes = bool(y[1] > 1e-3)
    for k in range(3):
        begin = (0.75 + k) * PERIOD
        t, states, primary, passing = half_wave_load(c, load, drop, y, begin, begin + PERIOD, passes)
        assert sqrt(_mean(t, primary**2)) == pytest.approx(state.primary_rms, rel=5e-3)
        assert sqrt(_mean(t, states[1] ** 2)) == pytest.approx(state.secondary_rms, rel=5e-3)
        assert np.abs(primary).max() == pytest.approx(state.primary_peak, rel=5e-3)
        # The flux itself comes back much closer than that: to the stepping's (omega step)^2, 1.5e-4 of its peak.
        assert states[0, -1] == pytest.approx(y[0], abs=1.5e-4 * c.nominal_peak_flux)
        y, passes = states[:, -1], bool(passing[-1])


@pytest.mark.slow
def test_half_wave_load_from_rest() -> None:
    # Brute force: a second of mains from rest, resistance enough for the direct flux to settle to 1e-3 in that time.
    c = at_margin(0.0, primary_resistance=12.0)
    state = periodic(c, Connection(load_resistance=0.05, rectifier=HALF_WAVE))
    t, states, primary, _ = half_wave_load(c, 0.05, 0.0, np.zeros(2), 0.0, 80 * PERIOD, True)
    last = t >= 79 * PERIOD - 1e-12
    assert sqrt(_mean(t[last], primary[last] ** 2)) == pytest.approx(state.primary_rms, rel=5e-3)
    assert sqrt(_mean(t[last], states[1, last] ** 2)) == pytest.approx(state.secondary_rms, rel=5e-3)
    assert _mean(t[last], states[0, last]) == pytest.approx(state.flux_mean, rel=5e-3)


@pytest.mark.parametrize("margin", [0.30, -0.25])
def test_half_wave_supply_from_rest(margin: float) -> None:
    # Brute force: the flux falls back to next to nothing in each period, so the third is like all that follow.
    c = at_margin(margin)
    state = periodic(c, Connection(half_wave_supply=True))
    t, current = half_wave_supply(c, 3 * PERIOD)
    # No current flows at the period's ends: what a sample there misses of the period is nothing.
    last = t >= 2 * PERIOD - 1e-12
    t, current = t[last], current[last]
    assert sqrt(np.trapezoid(current**2, t) / PERIOD) == pytest.approx(state.primary_rms, rel=1e-3)
    assert np.trapezoid(current, t) / PERIOD == pytest.approx(state.primary_mean, rel=1e-3)
    assert current.max() == pytest.approx(state.primary_peak, rel=1e-3)
    # It is far worse than the plain no-load state: the reason to look for it.
    assert state.primary_rms > 10 * idle(c).current_rms


# --- phasors ---------------------------------------------------------------------------------------------------------


def within_bound(found: PhasorDifference) -> bool:
    """Whether currents are within the bound, and power, which goes with their square, within twice that."""
    return max(abs(found.primary_rms), abs(found.secondary_rms), abs(found.real_power) / 2) <= PHASOR_BOUND


def test_phasors_are_exact_on_a_straight_curve() -> None:
    # What is left is the stepping: (omega step)^2 / 12 = 1.3e-5 on either loop.
    difference = phasor_difference(at_margin(0.0, magnetising=straight(2e-5)), 1e-3)
    assert abs(difference.primary_rms) < 3e-5
    assert abs(difference.secondary_rms) < 3e-5
    assert abs(difference.real_power) < 6e-5


@pytest.mark.parametrize("margin", [0.30, -0.25])
@pytest.mark.parametrize("load", [0.0, 1e-3, 1e-2])
def test_phasors_stay_within_the_bound_under_load(margin: float, load: float) -> None:
    difference = phasor_difference(at_margin(margin, source_inductance=3e-4), load)
    assert within_bound(difference)
    # Shorted, the induced voltage and so the core's flux fall; what the core gives up is across the loop's impedance.
    assert difference.peak_flux_per_turn < at_margin(margin).nominal_peak_flux
    assert difference.phasor_peak_flux_per_turn == pytest.approx(difference.peak_flux_per_turn, rel=PHASOR_BOUND)


@pytest.mark.parametrize("resistance", [0.4, 4.0, 40.0])
@pytest.mark.parametrize("load", [0.5, 1e3])
def test_loaded_stays_within_the_bound_where_the_core_draws_more_than_its_load(resistance: float, load: float) -> None:
    # Behind a soft mains the induced voltage of a saturated core is no sine: phasors would be off by tenths, and tell
    # more power than volts times amperes. Stepping is another method.
    c = at_margin(-0.5, source_resistance=resistance, primary_resistance=resistance)
    assert within_bound(phasor_difference(c, load))
    state = loaded(c, load)
    assert state.power_factor < 1
    losses = state.primary_copper_loss + state.secondary_copper_loss + state.lead_loss + state.core_loss
    assert state.input_power == pytest.approx(losses + state.load_power, rel=1e-3)
