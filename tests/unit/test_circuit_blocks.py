"""A block of designs along a leading axis equals its members one by one."""

from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from fem.arrays import not_negative, positive
from fem.circuit.block import taken
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.excitation import excitation_fundamental_rms, peak_flux_of
from fem.circuit.knee import knee_point, knees_near
from fem.circuit.leads.go_and_return import bar_pair_inductance, round_loop_inductance
from fem.circuit.leads.joints import JointBand, joints_resistance
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.losses import SeparatedLoss
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import loaded, phasor_flux
from fem.circuit.steady.load_line import inner_impedance
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.time.connection import OPEN, SHORTED, Connection, Rectifier
from fem.circuit.time.first_peaks import Fineness, asymmetric_peak, first_peaks
from fem.circuit.time.stepping import at_rest, integrate, nominal_conductance
from fem.circuit.time.switch_on import switch_on
from fem.rows import between
from tests.support.circuits import circuit, saturating_curve, sheet_curve
from tests.support.seeds import FRESH

LENGTH, WIDTH, THICKNESS, SPACING = (
    np.array([[1.0, 2.0, 3.5], [0.4, 0.7, 9.0]]),
    np.array([[0.05, 0.02, 0.1], [0.03, 0.03, 0.04]]),
    np.array([[0.005, 0.002, 0.01], [0.003, 0.03, 0.004]]),
    np.array([[0.015, 0.02, 0.6], [0.003, 0.04, 0.05]]),
)
CHANGES = {
    "voltage_rms": np.array([120.0, 230.0, 235.0]),
    "primary_turns": np.array([110.0, 200.0, 190.0]),
    "secondary_turns": np.array([2.0, 3.0, 4.0]),
    "primary_resistance": np.array([0.4, 1.2, 1.0]),
    "lead_inductance": np.array([4e-7, 9e-7, 2e-7]),
}


def block_of_circuits() -> tuple[Circuit, list[Circuit]]:
    """Return three designs on one core, as a block and one by one."""
    members = [circuit(**{name: float(values[k]) for name, values in CHANGES.items()}) for k in range(3)]
    return circuit(**CHANGES), members


def test_lead_inductances() -> None:
    area = WIDTH * THICKNESS
    pairs = round_loop_inductance(LENGTH, area, SPACING + 2 * np.sqrt(area / np.pi))
    bars = bar_pair_inductance(LENGTH, WIDTH, THICKNESS, SPACING)
    assert pairs.shape == bars.shape == (2, 3)
    for at in np.ndindex(2, 3):
        length, width, thickness, spacing = (float(x[at]) for x in (LENGTH, WIDTH, THICKNESS, SPACING))
        apart = spacing + 2 * float(np.sqrt(width * thickness / np.pi))
        assert pairs[at] == pytest.approx(round_loop_inductance(length, width * thickness, apart), rel=1e-15)
        # Differences of edges cancel: a rounding of 1e-16 times (spacing over side)^4, see `gmd_rectangles`.
        alone = bar_pair_inductance(length, width, thickness, spacing)
        assert bars[at] == pytest.approx(alone, rel=1e-14 * (1 + (spacing / width) ** 4))


def test_joints() -> None:
    clamped, dirty = JointBand(low=2e-5, typical=6e-5, high=2e-4), JointBand(low=1e-4, typical=4e-4, high=2e-3)
    counts = np.array([[0, 1, 2], [3, 4, 0]])
    found = joints_resistance([(clamped, counts), (dirty, counts + 1)])
    for at in np.ndindex(2, 3):
        alone = joints_resistance([(clamped, int(counts[at])), (dirty, int(counts[at]) + 1)])
        assert (found.low[at], found.typical[at], found.high[at]) == (alone.low, alone.typical, alone.high)
    with pytest.raises(ValueError, match="must rise"):
        JointBand(low=np.array([0.0, 2.0]), typical=np.array([1.0, 1.0]), high=np.array([1.0, 3.0]))


def test_losses_and_excitation() -> None:
    flux = np.array([1e-3, 3e-3, 6e-3])
    loss = SeparatedLoss(
        frequency=60.0, flux_per_turn=flux, hysteresis=5e5 * flux**2, classical=3e5 * flux**2, excess=2e5 * flux**2
    )
    hertz = np.array([[50.0, 60.0], [45.0, 400.0]])
    assert loss.loss(hertz).shape == (2, 2, 3)
    c = circuit()
    peaks = peak_flux_of(np.array([[0.3, 0.9], [1.2, 1.7]]), hertz)
    conductances = c.core_loss.conductance(peaks, hertz)
    excitations = excitation_fundamental_rms(c.magnetising, peaks)
    for at in np.ndindex(2, 2):
        np.testing.assert_array_equal(loss.loss(hertz)[at], loss.loss(float(hertz[at])))
        assert conductances[at] == c.core_loss.conductance(float(peaks[at]), float(hertz[at]))
        assert excitations[at] == excitation_fundamental_rms(c.magnetising, float(peaks[at]))


def test_first_peak_of_linear_loops() -> None:
    ratios = np.array([[0.0, 0.3, 1.0], [14.0, 300.0, np.inf]])
    for at in np.ndindex(2, 3):
        assert asymmetric_peak(ratios)[at] == asymmetric_peak(float(ratios[at]))
    assert asymmetric_peak(0.0) == pytest.approx(np.sqrt(2), rel=1e-15)
    assert asymmetric_peak(np.inf) == pytest.approx(2 * np.sqrt(2), rel=1e-15)


def test_derived_quantities_of_a_circuit() -> None:
    block, members = block_of_circuits()
    for name in ("nominal_peak_flux", "loop_resistance", "leakage_inductance_secondary"):
        assert getattr(block, name).tolist() == [getattr(member, name) for member in members]
    assert inner_impedance(block).tolist() == [inner_impedance(member) for member in members]
    half = block.with_coupling(np.array([0.9, 1.0, 0.98]))
    assert half.secondary_turns.tolist() == [2.0 * 0.9, 3.0, 4.0 * 0.98]


@pytest.mark.parametrize(
    "connection", [OPEN, SHORTED, Connection(load_resistance=1e-3, rectifier=Rectifier(forward_drop=0.5))]
)
def test_designs_are_stepped_side_by_side(connection: Connection) -> None:
    # In one row all wait for the slowest run's Newton step, so one may take one more than it would alone: what a step
    # below 1e-6 of the flux leaves is its square, over 128 steps.
    block, members = block_of_circuits()
    angles = np.zeros(3)
    runs = integrate(
        block, connection, at_rest(block, 1e-3, 3), angles=angles, conductance=nominal_conductance(block), cycles=1,
        steps=128,
    )  # fmt: skip
    for k, member in enumerate(members):
        alone = integrate(
            member, connection, at_rest(member, 1e-3, 1), angles=angles[:1], conductance=nominal_conductance(member),
            cycles=1, steps=128,
        )  # fmt: skip
        for name in ("flux", "primary", "secondary"):
            wave = getattr(alone, name)[:, 0]
            assert getattr(runs, name)[:, k] == pytest.approx(wave, abs=1e-8 * max(np.abs(wave).max(), 1e-30)), name


def drawn_circuits(seed: int, count: int) -> tuple[Circuit, list[Circuit], np.ndarray]:
    """Return designs from far below the knee to far above it, as a block and one by one, and a load for each.

    A third of them repeat another one's primary.
    """
    rng = np.random.default_rng(seed)
    numbers = {
        "voltage_rms": rng.uniform(80.0, 420.0, count),
        "source_resistance": rng.uniform(0.0, 2.0, count),
        "source_inductance": rng.choice([0.0, 8e-4], count),
        "primary_resistance": rng.uniform(0.2, 3.0, count),
        "secondary_resistance": rng.uniform(1e-4, 1e-3, count),
        "lead_resistance": rng.uniform(0.0, 1e-3, count),
        "lead_inductance": rng.uniform(0.0, 1e-6, count),
    }
    for name in ("voltage_rms", "source_resistance", "source_inductance", "primary_resistance"):
        numbers[name][::3] = numbers[name][0]
    members = [circuit(**{name: float(values[k]) for name, values in numbers.items()}) for k in range(count)]
    return circuit(**numbers), members, rng.choice([0.0, 1e-3, 0.3], count)


@pytest.mark.parametrize("magnetising", [saturating_curve(), sheet_curve()])
@pytest.mark.parametrize("seed", [5, FRESH])
def test_states_of_a_block_are_those_of_its_members(magnetising: MagnetisingCurve, seed: int) -> None:
    """Shallow and deep saturation, phasors and waves, in any order and split: to 1e-12 of each number."""
    block, members, loads = drawn_circuits(seed, 24)
    block, members = replace(block, magnetising=magnetising), [replace(m, magnetising=magnetising) for m in members]
    idles, loadeds = idle(block), loaded(block, loads)
    order = np.random.default_rng(1).permutation(24)
    parts = [order[:5], order[5:]]
    split = np.concatenate([idle(taken(block, part)).current_rms for part in parts])
    np.testing.assert_allclose(split, idles.current_rms[order], rtol=1e-12)
    for k, member in enumerate(members):
        for found, alone in ((idles, idle(member)), (loadeds, loaded(member, float(loads[k])))):
            for item in fields(alone):
                if item.name != "harmonic_orders":
                    one, other = getattr(alone, item.name), getattr(found, item.name)[k]
                    scale = np.abs(one).max()
                    np.testing.assert_allclose(other, one, rtol=1e-12, atol=1e-12 * scale, err_msg=item.name)


def drawn_curves(seed: int, count: int) -> tuple[MagnetisingCurve, CoreLossCurve]:
    """Return curves with a row for each member: sheets and joints of their own, stretched either way."""
    rng = np.random.default_rng(seed)
    sheet = sheet_curve()
    flux = sheet.flux_per_turn * rng.uniform(0.8, 1.2, (count, 1))
    excitation = sheet.ampere_turns * rng.uniform(0.5, 2.0, (count, 1)) + flux * rng.uniform(0.0, 1e5, (count, 1))
    peaks = np.geomspace(1e-4, 1e-2, 25) * rng.uniform(0.8, 1.2, (count, 1))
    loss = rng.uniform(1e5, 3e6, (count, 1)) * peaks ** rng.uniform(1.6, 2.4, (count, 1))
    curve = MagnetisingCurve(ampere_turns=excitation, flux_per_turn=flux)
    return curve, CoreLossCurve(flux_per_turn=peaks, loss=loss)


@pytest.mark.parametrize("seed", [5, FRESH])
def test_curves_with_a_row_for_each_are_lone_curves(seed: int) -> None:
    """At, below and beyond all knots; what a cubic's neighbour says 1e-13 beyond a knot is far below 1e-12."""
    rng = np.random.default_rng(seed)
    curve, loss = drawn_curves(seed, 40)
    peaks = rng.uniform(-1.5, 1.5, (40, 300)) * curve.flux_per_turn[:, -1:]
    peaks[:, : curve.flux_per_turn.shape[1]] = curve.flux_per_turn
    found, slope = curve.excitation(peaks)
    conductances = loss.conductance(peaks, 50.0)
    for k in range(40):
        alone, its_slope = curve.taken(k).excitation(peaks[k])
        np.testing.assert_allclose(found[k], alone, rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(slope[k], its_slope, rtol=1e-12)
        np.testing.assert_allclose(conductances[k], loss.taken(k).conductance(peaks[k], 50.0), rtol=1e-12)
    some = rng.permutation(40)[:7]
    np.testing.assert_array_equal(curve.taken(some).ampere_turns_at(peaks[some]), found[some])
    np.testing.assert_array_equal(curve.taken(some).taken(np.arange(7) > 2).slope(peaks[some[3:]]), slope[some[3:]])
    flux = rng.uniform(0.0, 1.2, (40, 9)) * curve.flux_per_turn[:, -1:]
    read = between(flux, curve.flux_per_turn, curve.ampere_turns)
    for k in range(40):
        alone = between(flux[k], curve.flux_per_turn[k], curve.ampere_turns[k])
        np.testing.assert_allclose(read[k], alone, rtol=1e-12)
    with pytest.raises(ValueError, match="flux_per_turn must rise"):
        MagnetisingCurve(ampere_turns=curve.ampere_turns, flux_per_turn=curve.flux_per_turn[:, ::-1])


@pytest.mark.parametrize("seed", [6, FRESH])
def test_states_of_members_with_curves_of_their_own(seed: int) -> None:
    """As those of members that share a curve: any third alike in all numbers differ by their curves alone."""
    block, members, loads = drawn_circuits(seed, 24)
    curve, loss = drawn_curves(seed, 24)
    block = replace(block, magnetising=curve, core_loss=loss)
    idles, loadeds, peaks = idle(block), loaded(block, loads), phasor_flux(block, 0.0)
    order = np.random.default_rng(1).permutation(24)
    np.testing.assert_allclose(idle(taken(block, order)).current_rms, idles.current_rms[order], rtol=1e-12)
    for k, member in enumerate(members):
        one = replace(member, magnetising=curve.taken(k), core_loss=loss.taken(k))
        assert phasor_flux(one, 0.0) == pytest.approx(peaks[k], rel=1e-12)
        for found, alone in ((idles, idle(one)), (loadeds, loaded(one, float(loads[k])))):
            for item in fields(alone):
                if item.name != "harmonic_orders":
                    told, other = getattr(alone, item.name), getattr(found, item.name)[k]
                    scale = np.abs(told).max()
                    np.testing.assert_allclose(other, told, rtol=1e-12, atol=1e-12 * scale, err_msg=item.name)


VALVES = Connection(load_resistance=1e-3, rectifier=Rectifier(forward_drop=0.5))


def same(found: Any, alone: Any, k: int) -> None:
    """Hold each number and wave of a block's member against the lone design's."""
    for item in fields(alone):
        one, other = getattr(alone, item.name), getattr(found, item.name)
        if is_dataclass(one):
            if not isinstance(one, Connection):
                same(other, one, k)
        elif not item.name.endswith(("time", "times")) or np.ndim(other) > np.ndim(one):
            # A Newton step more for a last digit at the limit of 1e-6 moves waves by its square, and the moment of the
            # crest, where a parabola is flat, by the root of what its height does.
            scale = 2 * np.pi if "angle" in item.name else max(float(np.abs(one).max()), 1e-30)
            member = other if np.ndim(other) == 0 else other[k]
            tolerance = 1e-8 if item.name == "time" else 1e-10
            np.testing.assert_allclose(member, one, rtol=0, atol=tolerance * scale, err_msg=item.name)


@pytest.mark.parametrize("connection", [OPEN, SHORTED, VALVES])
@pytest.mark.parametrize("seed", [5, FRESH])
def test_first_peaks_and_decay_of_a_block_are_those_of_its_members(connection: Connection, seed: int) -> None:
    """Each member has its own curves, remanence, worst angle and fan; a loop is quicker than half a step."""
    block, members, _ = drawn_circuits(seed, 4)
    remanence = np.random.default_rng(seed).uniform(-3e-3, 3e-3, 4) * [1, 1, 0, 1]
    quick = np.where(np.arange(4) == 1, 0.1, block.secondary_resistance)
    curve, loss = drawn_curves(seed, 4)
    block = replace(block, secondary_resistance=quick, magnetising=curve, core_loss=loss)
    fineness = Fineness(steps=64, angles=16, around=5)
    peaks = first_peaks(block, connection, remanence=remanence, fineness=fineness)
    closed = switch_on(block, connection, remanence=remanence, cycles=5, fineness=fineness)
    for k, member in enumerate(members):
        own = {"magnetising": curve.taken(k), "core_loss": loss.taken(k)}
        alone, left = replace(member, secondary_resistance=float(quick[k]), **own), float(remanence[k])
        highest = first_peaks(alone, connection, remanence=left, fineness=fineness)
        same(peaks, highest, k)
        angle = highest.primary.closing_angle
        same(closed, switch_on(alone, connection, closing_angle=angle, remanence=left, cycles=5, fineness=fineness), k)


def test_knees_of_members_are_those_of_lone_curves() -> None:
    """Of sheets and joints that differ as those of one shop; either root is found to 1e-12 of its flux."""
    sheet, rng = sheet_curve(), np.random.default_rng(2)
    flux = sheet.flux_per_turn * rng.uniform(0.95, 1.05, (12, 1))
    excitation = sheet.ampere_turns * rng.uniform(0.8, 1.25, (12, 1)) + flux * rng.uniform(0.0, 3e4, (12, 1))
    curve = MagnetisingCurve(ampere_turns=excitation, flux_per_turn=flux)
    near = knee_point(sheet, 50.0)
    found = knees_near(curve, 50.0, near)
    for k in range(12):
        alone = knee_point(curve.taken(k), 50.0)
        for each in (found.volts_per_turn[k], knees_near(curve.taken(k), 50.0, near).volts_per_turn):
            assert each == pytest.approx(alone.volts_per_turn, rel=1e-9)
        assert found.ampere_turns_rms[k] == pytest.approx(alone.ampere_turns_rms, rel=1e-8)


def test_reduced_voltage_of_members_is_that_of_each_alone() -> None:
    """Secants end below 1e-10 of the voltage, a lone root at 1e-12 of its bracket."""
    block, members, _ = drawn_circuits(4, 12)
    found = short_test(block, 3.0)
    for k, member in enumerate(members):
        alone = short_test(member, 3.0)
        for item in fields(alone):
            assert getattr(found, item.name)[k] == pytest.approx(getattr(alone, item.name), rel=1e-8), item.name


def test_checks_name_the_member_that_is_wrong() -> None:
    with pytest.raises(ValueError, match=r"primary_turns must be above 0, got -3\.0"):
        replace(circuit(), primary_turns=np.array([200.0, -3.0]))
    with pytest.raises(ValueError, match="a must be above 0, got nan"):
        positive(a=np.array([1.0, np.nan]))
    with pytest.raises(ValueError, match=r"b must not be negative, got -1\.0"):
        not_negative(b=np.array([[0.0, -1.0]]))
