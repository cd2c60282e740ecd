"""Curves, circuit and remedies: what they accept, and the relations that hold for any curve."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator

from fem.circuit.curves import MagnetisingCurve
from fem.circuit.excitation import excitation_fundamental_rms, excitation_rms
from fem.circuit.knee import knee_point
from fem.circuit.leads.go_and_return import (
    bar_pair_inductance,
    pair_inductance_per_m,
)
from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import loaded
from fem.circuit.steady.remedies import (
    LEAST_INDUCED,
    carries_mains,
    fewest_turns,
    with_primary_turns,
)
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.time.first_peaks import first_peaks
from fem.errors import NotConverged
from tests.support.circuits import circuit, saturating_curve, square_loss, straight_circuit


def test_curve_passes_through_its_points_and_is_odd() -> None:
    curve = saturating_curve()
    np.testing.assert_allclose(curve.ampere_turns_at(curve.flux_per_turn), curve.ampere_turns, rtol=1e-12)
    flux = np.linspace(0, 0.02, 999)
    np.testing.assert_array_equal(curve.ampere_turns_at(-flux), -curve.ampere_turns_at(flux))
    assert np.all(np.diff(curve.ampere_turns_at(flux)) > 0)


def test_curve_inverse_is_exact_inside_and_beyond_the_points() -> None:
    curve = saturating_curve()
    flux = np.linspace(-2, 2, 4001) * curve.flux_per_turn[-1]
    # Rounding of the excitation, 1e-16 of it, over the slope of the flat part: well under 1e-12 of the flux.
    np.testing.assert_allclose(curve.flux(curve.ampere_turns_at(flux)), flux, rtol=1e-12, atol=1e-18)


def test_slope_is_the_derivative_and_has_no_jump() -> None:
    curve = saturating_curve()
    flux = np.linspace(1e-5, 1.5 * curve.flux_per_turn[-1], 3001)
    step = 1e-9
    central = (curve.ampere_turns_at(flux + step) - curve.ampere_turns_at(flux - step)) / (2 * step)
    # The central difference's own error is step^2 times a third derivative of at most slope / (1e-5 Wb)^2.
    np.testing.assert_allclose(curve.slope(flux), central, rtol=1e-4)
    nodes = curve.flux_per_turn[1:]
    np.testing.assert_allclose(curve.slope(nodes * (1 - 1e-13)), curve.slope(nodes), rtol=1e-6)


@pytest.mark.parametrize(
    ("ampere_turns", "flux", "message"),
    [
        ([0.0, 1.0, 2.0], [0.0, 1.0, 0.5], "0.5"),
        ([0.0, 2.0, 2.0], [0.0, 1.0, 2.0], "point 2"),
        ([1.0, 2.0, 3.0], [0.0, 1.0, 2.0], "origin"),
        ([0.0, 1.0, 2.0], [0.0, 1.0], "3 points"),
        ([0.0, np.nan, 2.0], [0.0, 1.0, 2.0], "not finite"),
        ([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0], "4 ampere-turns against 3"),
    ],
)
def test_bad_curve_is_refused(ampere_turns: list[float], flux: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=flux)


def test_core_loss_conductance_gives_the_loss_back() -> None:
    flux = np.array([1e-3, 2e-3, 4e-3])
    loss = np.array([2.0, 7.0, 25.0])
    curve = CoreLossCurve(flux_per_turn=flux, loss=loss)
    emf = 2 * np.pi * 60.0 * flux / np.sqrt(2)
    found = [curve.conductance(float(x), 60.0) * e**2 for x, e in zip(flux, emf, strict=True)]
    np.testing.assert_allclose(found, loss, rtol=1e-12)


def test_core_loss_conductance_is_a_monotone_cubic_and_constant_beyond() -> None:
    flux = np.array([1e-3, 2e-3, 4e-3, 5e-3])
    loss = np.array([2.0, 7.0, 35.0, 80.0])
    curve = CoreLossCurve(flux_per_turn=flux, loss=loss)
    # Another library's interpolation of the same points, over points and gaps and both ends.
    at = np.linspace(0.5e-3, 6e-3, 56)
    wanted = PchipInterpolator(flux, loss / flux**2)(np.clip(at, flux[0], flux[-1])) / (2 * np.pi**2 * 50.0**2)
    np.testing.assert_allclose([curve.conductance(float(x), 50.0) for x in at], wanted, rtol=1e-13)


@pytest.mark.parametrize(("loss", "message"), [([1.0, -2.0], "-2"), ([1.0], "1 losses against 2")])
def test_bad_core_loss_is_refused(loss: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        CoreLossCurve(flux_per_turn=[1e-3, 2e-3], loss=loss)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("voltage_rms", -230.0),
        ("frequency", 0.0),
        ("primary_turns", 0.0),
        ("secondary_turns", 0),
        ("lead_resistance", -1e-3),
        ("leakage_permeance", float("nan")),
        ("load_resistance", -0.5),
    ],
)
def test_bad_circuit_names_the_number(name: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"{name} .*got {value!r}"):
        circuit(**{name: value})


def test_missing_load_is_refused() -> None:
    with pytest.raises(ValueError, match="load_resistance"):
        loaded(circuit())


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="-1"):
        short_test(circuit(), -1.0)
    with pytest.raises(ValueError, match="17"):
        idle(circuit(), points=17)
    with pytest.raises(ValueError, match="inf"):
        first_peaks(circuit(), remanence=float("inf"))
    with pytest.raises(ValueError, match=r"0\.003"):
        pair_inductance_per_m(0.003, 0.002)
    with pytest.raises(ValueError, match=r"0\.004"):
        bar_pair_inductance(1.0, 0.05, 0.005, 0.004)


def test_not_converged_survives_pickling() -> None:
    error = pickle.loads(pickle.dumps(NotConverged("x", residual=0.5, tolerance=1e-9, tried="y")))
    assert (error.what, error.residual, error.tolerance, error.tried) == ("x", 0.5, 1e-9, "y")
    assert "0.5" in str(error)


def test_excitation_of_a_cubic_wave() -> None:
    # F = phi^3: sin^3 = (3 sin - sin 3x) / 4, so fundamental 3/4 and r.m.s. sqrt(5/16) of the peak. Sixteen hundred
    # points leave an interpolation error below 1e-6.
    flux = np.linspace(0, 1, 1600)
    curve = MagnetisingCurve(ampere_turns=flux**3, flux_per_turn=flux)
    assert excitation_fundamental_rms(curve, 0.9) == pytest.approx(0.9**3 * 0.75 / np.sqrt(2), rel=1e-6)
    assert excitation_rms(curve, 0.9) == pytest.approx(0.9**3 * np.sqrt(5 / 16), rel=1e-6)


def test_knee_of_a_power_sum() -> None:
    # F = c phi + phi^9. Mean squares over a period of a sine: <s^2> = 1/2, <s^10> = 63/256, <s^18> = 12155/65536. The
    # knee is where mean square(1.1 phi) = 2.25 mean square(phi), a quadratic in x = phi^8 / c solved here by numpy.
    flux = np.linspace(0, 1.2, 4000)
    c = 0.2
    curve = MagnetisingCurve(ampere_turns=c * flux + flux**9, flux_per_turn=flux)
    moments = np.array([12155 / 65536, 2 * 63 / 256, 1 / 2])
    powers = 1.1 ** np.array([18, 10, 2])
    roots = np.roots(moments * (powers - 2.25))
    x = max(roots.real)
    knee = knee_point(curve, 50.0)
    # The interpolation error of 4000 points is far below 1e-5.
    assert knee.peak_flux_per_turn == pytest.approx((c * x) ** (1 / 8), rel=1e-5)
    assert knee.volts_per_turn == pytest.approx(np.sqrt(2) * np.pi * 50.0 * knee.peak_flux_per_turn, rel=1e-12)
    assert knee.reason is None
    doubled = knee_point(curve, 100.0)
    assert doubled.volts_per_turn == pytest.approx(2 * knee.volts_per_turn, rel=1e-12)


def test_straight_curve_has_no_knee_and_says_why() -> None:
    curve = MagnetisingCurve(ampere_turns=[0.0, 1.0, 2.0], flux_per_turn=[0.0, 1e-3, 2e-3])
    knee = knee_point(curve, 50.0)
    assert knee.volts_per_turn is None
    assert knee.reason is not None
    assert "10 % at most" in knee.reason


@pytest.mark.parametrize("current", [0.4, 2.0, 20.0])
def test_fewest_turns_meet_the_current_and_one_less_does_not(current: float) -> None:
    now = circuit()
    remedy = fewest_turns(now, current_rms=current)
    assert remedy.extra_turns == remedy.primary_turns - now.primary_turns
    assert remedy.idle.current_rms <= current
    assert idle(with_primary_turns(now, remedy.primary_turns - 1)).current_rms > current


def test_fewest_turns_for_a_peak_flux() -> None:
    now = circuit()
    remedy = fewest_turns(now, peak_flux_per_turn=4.5e-3)
    assert remedy.idle.peak_flux_per_turn <= 4.5e-3
    assert idle(with_primary_turns(now, remedy.primary_turns - 1)).peak_flux_per_turn > 4.5e-3


@pytest.mark.parametrize("resistance", [0.0, 1.2, 12.0, 120.0])
@pytest.mark.parametrize("wanted", [0.5e-3, 8e-3, 3e-2, 0.3])
def test_fewest_turns_on_a_straight_curve_by_trying_all(wanted: float, resistance: float) -> None:
    """The exact phasors of resistance and reactance in series, at each number of turns.

    Fewest is where both the flux and the share of the mains voltage that is induced are met, and stay met beyond.
    """
    permeance = 4e-5
    now = straight_circuit(permeance, primary_resistance=resistance, core_loss=square_loss(0.0))
    turns = np.arange(1, 5000)
    reactance = now.angular_frequency * permeance * turns**2
    series = 0.4 + resistance / 200 * turns + 1j * now.angular_frequency * 3e-4
    induced = 230.0 * reactance / np.abs(series + 1j * reactance)
    flux = np.sqrt(2) * induced / (now.angular_frequency * turns)
    meets = (flux <= wanted) & (induced >= LEAST_INDUCED * 230.0)
    fewest = int(turns[~meets][-1]) + 1
    assert fewest_turns(now, peak_flux_per_turn=wanted).primary_turns == fewest
    current = float(flux[fewest - 1] / permeance / np.sqrt(2) / fewest)
    # the current of that many turns, a rounding above it
    assert fewest_turns(now, current_rms=current * (1 + 1e-9)).primary_turns == fewest


@pytest.mark.parametrize("resistance", [1.2, 30.0])
def test_more_turns_never_have_more_flux_where_the_flux_decides(resistance: float) -> None:
    now = circuit(primary_resistance=resistance)
    tried = [with_primary_turns(now, turns) for turns in range(60, 400, 9)]
    states = [state for c in tried if carries_mains(c, state := idle(c))]
    assert len(states) > 10
    assert np.all(np.diff([state.peak_flux_per_turn for state in states]) < 0)
    assert np.all(np.diff([state.current_rms for state in states]) < 0)


def test_turns_bring_their_resistance() -> None:
    assert with_primary_turns(circuit(), 210).primary_resistance == pytest.approx(1.2 * 210 / 200, rel=1e-12)


@pytest.mark.parametrize("wanted", [0.4, 20.0])
def test_turns_are_the_same_from_a_known_state(wanted: float) -> None:
    now = circuit()
    known = fewest_turns(now, current_rms=wanted, known=idle(now))
    assert known.primary_turns == fewest_turns(now, current_rms=wanted).primary_turns


def test_gmd_is_symmetric_and_follows_the_size() -> None:
    a = Rectangle(width=2.0, height=7.0)
    b = Rectangle(width=3.0, height=1.0, x=4.0, y=-2.0)
    assert gmd_rectangles(a, b) == pytest.approx(gmd_rectangles(b, a), rel=1e-12)
    small = [replace(r, width=r.width / 50, height=r.height / 50, x=r.x / 50, y=r.y / 50) for r in (a, b)]
    assert gmd_rectangles(*small) == pytest.approx(gmd_rectangles(a, b) / 50, rel=1e-12)
