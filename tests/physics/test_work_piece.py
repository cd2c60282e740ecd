"""The work piece against closed forms, an independent integrator, convergence rates and the energy balance."""

from dataclasses import replace
from math import cosh, inf, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator

from fem.constants import STEFAN_BOLTZMANN
from fem.materials.work_metals import emissivity, steel_heat_capacity, work_metal
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.chain import WorkPiece, between_carbons, clamped
from fem.work.run import Ending, HeatingRun, milestones, time_to
from fem.work.sections import RoundSection, StripSection
from fem.work.state import State
from fem.work.volumes import System
from tests.support.lines import steady_current, thevenin
from tests.support.one import heat, settle
from tests.support.plain import Plain

Floats = NDArray[np.float64]

COLD = 300.0
NONE = np.zeros((1, 0))
"""No spots: none has grown."""
BARE = Surroundings(temperature=COLD, film=None)
HELD = Jaw(temperature=COLD)
LOOSE = Jaw(temperature=COLD, contact=Joint(conductance=1e-12))
"""Lets no heat through to speak of."""


ROD = RoundSection(diameter=6e-3)
LENGTH = 0.08
CURRENT = 150.0


def bar(**changes: object) -> Bar:
    return Bar(**({"material": Plain(), "section": ROD, "length": LENGTH, "emissivity": 0.0} | changes))


def constant_film(coefficient: float):
    return lambda surface, air, diameter: np.full_like(surface, coefficient)


def steel_blade(**changes: object) -> WorkPiece:
    blade = Bar(
        material=work_metal("carbon steel"),
        section=StripSection(width=27e-3, thickness=0.9e-3),
        length=0.05,
        emissivity=emissivity("carbon steel", "oxidised"),
        **changes,
    )
    jaw = Jaw(temperature=COLD, contact=Joint(resistance=2e-5, conductance=100.0), heat_capacity=80.0)
    return clamped(blade, jaw, Surroundings(temperature=COLD), brazed=Joint(resistance=5e-5, conductance=200.0))


def copper_between_carbons() -> WorkPiece:
    tab = Bar(
        material=work_metal("copper"), section=ROD, length=4e-3, emissivity=emissivity("copper", "oxidised"), cells=10
    )
    carbon = Bar(material=work_metal("graphite"), section=ROD, length=20e-3, emissivity=0.85, is_work=False, cells=20)
    holder = Jaw(temperature=COLD, contact=Joint(resistance=5e-5), heat_capacity=40.0, sink_conductance=0.5)
    return between_carbons(
        tab, carbon, Joint(resistance=1e-4, conductance=40.0), holder, Surroundings(temperature=COLD)
    )


SPACE = (1.7 / 60) ** 2
"""Error of the cells over the rise: the largest, dx = 1.7 L / 60, leaves T'' dx^2 / 8, and the rise is T'' L^2 / 8."""


# What is settled is within 0.05 K of rest, and the cells leave SPACE of the rise: for the parabola exactly, for the
# flatter cosh less than the same curvature at its ends would.
def test_settles_at_the_parabola() -> None:
    # Carslaw and Jaeger, Conduction of Heat in Solids, 4.9, from memory: J^2 rho x (L - x) / 2 k.
    found = settle(clamped(bar(), HELD, BARE), steady_current(CURRENT), start_temperature=COLD, frequency=0.0)
    run = found.run
    x = run.position
    expected = COLD + (CURRENT / ROD.area) ** 2 * 1e-6 * x * (LENGTH - x) / (2 * 40.0)
    top = expected.max() - COLD
    assert run.ending is Ending.SETTLED
    np.testing.assert_allclose(run.temperature[-1], expected, atol=0.05 + SPACE * top)


def test_settles_at_the_hyperbolic_cosine_of_a_fin() -> None:
    # The heated fin of every textbook: theta_inf (1 - cosh m (x - L/2) / cosh m L/2), m^2 = h P / (k A).
    h = 60.0
    piece = clamped(bar(), HELD, Surroundings(temperature=COLD, film=constant_film(h)))
    found = settle(piece, steady_current(CURRENT), start_temperature=COLD, frequency=0.0)
    m = sqrt(h * ROD.perimeter / (40.0 * ROD.area))
    limit = (CURRENT / ROD.area) ** 2 * 1e-6 * ROD.area / (h * ROD.perimeter)
    x = found.run.position
    expected = COLD + limit * (1 - np.cosh(m * (x - LENGTH / 2)) / cosh(m * LENGTH / 2))
    np.testing.assert_allclose(found.run.temperature[-1], expected, atol=0.05 + SPACE * (expected.max() - COLD))


def test_space_is_second_order() -> None:
    # Mean temperature of the fin above against its closed form; the march itself is at rest within 1e-3 of that.
    h = 60.0
    m = sqrt(h * ROD.perimeter / (40.0 * ROD.area))
    limit = (CURRENT / ROD.area) ** 2 * 1e-6 * ROD.area / (h * ROD.perimeter)
    errors = []
    for cells in (8, 16, 32):
        piece = clamped(bar(cells=cells), HELD, Surroundings(temperature=COLD, film=constant_film(h)))
        run = heat(piece, steady_current(CURRENT), duration=5e4, start_temperature=COLD, frequency=0.0)
        x = run.position
        expected = COLD + limit * (1 - np.cosh(m * (x - LENGTH / 2)) / cosh(m * LENGTH / 2))
        errors.append(float(np.abs(run.temperature[-1] - expected).max()))
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert np.all(rates > 1.8)
    assert np.all(rates < 2.4)


def test_heat_of_a_joint_leaves_both_ways() -> None:
    # Heat Q in the middle, none elsewhere: the rise is Q (L/2) / (2 k A), and both sides alike.
    joint = Joint(resistance=1e-3, conductance=0.5)
    piece = clamped(bar(material=Plain(rho=1e-15)), HELD, BARE, brazed=joint)
    found = settle(piece, steady_current(CURRENT), start_temperature=COLD, frequency=0.0)
    expected = COLD + CURRENT**2 * 1e-3 * LENGTH / 2 / (2 * 40.0 * ROD.area)
    # Linear profiles are exact in finite volumes; 0.05 K is what "settled" leaves.
    assert found.temperature == pytest.approx(expected, abs=0.06)
    assert found.run.hottest_position[-1] == pytest.approx(LENGTH / 2)


def test_jaw_with_a_sink_carries_the_heat_away() -> None:
    # At rest each of two like jaws passes half of all heat through its sink of 2 W/K.
    contact = Joint(resistance=2e-4, conductance=50.0)
    jaw = Jaw(temperature=COLD, contact=contact, heat_capacity=100.0, sink_conductance=2.0)
    found = settle(clamped(bar(), jaw, BARE), steady_current(CURRENT), start_temperature=COLD, frequency=0.0)
    power = CURRENT**2 * (1e-6 * LENGTH / ROD.area + 2 * 2e-4)
    assert found.run.jaw_temperature[-1] == pytest.approx([COLD + power / 2 / 2.0] * 2, abs=0.06)


def test_cools_by_radiation_alone() -> None:
    # dT/dt = -eps sigma P T^4 / (c A) into surroundings of 1 K: T = (T0^-3 + 3 eps sigma P t / (c A))^(-1/3).
    start, eps = 1500.0, 0.8
    piece = clamped(bar(emissivity=eps), LOOSE, Surroundings(temperature=1.0, film=None))
    run = heat(piece, steady_current(1e-9), duration=400.0, start_temperature=start, frequency=0.0)
    pace = 3 * eps * STEFAN_BOLTZMANN * ROD.perimeter / (4e6 * ROD.area)
    expected = (start**-3 + pace * run.time) ** (-1 / 3)
    # Steps are controlled to 0.05 K each and the errors of a cooling body fade: a few times that.
    np.testing.assert_allclose(run.temperature.mean(axis=1), expected, atol=0.2)


def test_heats_exponentially_and_time_is_second_order() -> None:
    # Uniform, rho rising by a per kelvin: theta = (exp(a p t) - 1) / a with p = J^2 rho / c.
    a = 2e-3
    piece = clamped(bar(material=Plain(coefficient=a), cells=4), LOOSE, BARE)
    pace = (CURRENT / ROD.area) ** 2 * 1e-6 / 4e6
    duration = np.log(4.0) / (a * pace)
    steps, errors = [], []
    for tolerance in (1e-3, 1e-4, 1e-5):
        run = heat(
            piece,
            steady_current(CURRENT),
            duration=duration,
            start_temperature=COLD,
            frequency=0.0,
            tolerance=tolerance,
        )
        steps.append(run.time.size - 1)
        errors.append(abs(run.hottest_temperature[-1] - COLD - 3.0 / a))
    slope = np.polyfit(np.log(steps), np.log(errors), 1)[0]
    # Second order; the first short steps of each run blur the count by a few.
    assert -2.4 < slope < -1.7
    assert errors[0] < 0.5


def test_melting_takes_the_latent_heat() -> None:
    # Adiabatic and uniform: the melt begins after c (Tm - T0) / (J^2 rho) and lasts latent / (J^2 rho).
    material = Plain(melting=1200.0, latent=2e9)
    run = heat(
        clamped(bar(material=material), LOOSE, BARE),
        steady_current(CURRENT),
        duration=1e4,
        start_temperature=COLD,
        frequency=0.0,
    )
    heating = (CURRENT / ROD.area) ** 2 * 1e-6
    found = milestones(run, 1000.0)
    # Enthalpy is straight in time, so that steps and interpolation are exact; a trace of heat leaks to the jaws.
    assert run.ending is Ending.MELTED
    assert found.target == pytest.approx(4e6 * 700.0 / heating, rel=1e-6)
    assert found.melting_begins == pytest.approx(4e6 * 900.0 / heating, rel=1e-6)
    assert found.melted_through == pytest.approx((4e6 * 900.0 + 2e9) / heating, rel=1e-6)


def brute_force(times: Floats, cells: int, emf: float, source: complex) -> tuple[Floats, Floats]:
    """March a steel strip between cold jaws in temperatures, on even cells, with a general integrator."""
    steel = work_metal("carbon steel")
    area, perimeter, length, contact = 27e-3 * 0.9e-3, 2 * 27.9e-3, 0.05, 4e-5
    dx = length / cells

    def drawn(t: Floats) -> tuple[float, Floats]:
        ohms = np.interp(t, steel.temperature, steel.resistivity) * dx / area
        return emf / abs(source + ohms.sum() + contact), ohms

    def rate(_: float, t: Floats) -> Floats:
        current, ohms = drawn(t)
        k = np.interp(np.r_[COLD, t, COLD], steel.temperature, steel.thermal_conductivity)
        conductance = area / (0.5 * dx / k[1:] + 0.5 * dx / k[:-1])
        # Half a cell to the jaws.
        conductance[0], conductance[-1] = area * k[1] / (0.5 * dx), area * k[-2] / (0.5 * dx)
        flow = conductance * -np.diff(np.r_[COLD, t, COLD])
        lost = perimeter * dx * (0.8 * STEFAN_BOLTZMANN * (t**4 - COLD**4) + 15.0 * (t - COLD))
        return (current**2 * ohms + flow[:-1] - flow[1:] - lost) / (7850.0 * steel_heat_capacity(t) * area * dx)

    found = solve_ivp(
        rate, (0, times[-1]), np.full(cells, COLD), "LSODA", times, rtol=1e-7, atol=1e-5, lband=1, uband=1
    )
    return found.y.max(axis=0), np.array([drawn(t)[0] for t in found.y.T])


def test_agrees_with_an_independent_integrator() -> None:
    # Other unknowns (temperatures), other cells (even), another integrator and the network's own formula, over the peak
    # of the heat capacity. Ours: steps within 0.5 K and SPACE of 900 K, 0.7 K; its even cells (1 / 100)^2 of it, 0.1 K.
    strip = StripSection(width=27e-3, thickness=0.9e-3)
    blade = Bar(material=work_metal("carbon steel"), section=strip, length=0.05, emissivity=0.8)
    jaw = Jaw(temperature=COLD, contact=Joint(resistance=2e-5))
    piece = clamped(blade, jaw, Surroundings(temperature=COLD, film=constant_film(15.0)))
    emf, source = 3.7, 6e-4 + 9e-4j
    run = heat(piece, thevenin(emf, source.real, source.imag), duration=1.6, start_temperature=COLD, frequency=0.0)
    times = np.linspace(0.05, 1.6, 12)
    hottest, current = brute_force(times, 100, emf, source)
    assert hottest[-1] > 1100.0
    np.testing.assert_allclose(PchipInterpolator(run.time, run.hottest_temperature)(times), hottest, atol=1.3)
    np.testing.assert_allclose(PchipInterpolator(run.time, run.current_rms)(times), current, rtol=2e-3)


@pytest.mark.parametrize(
    ("piece", "duration", "switch_off"),
    [(steel_blade(), 1.5, None), (steel_blade(), 6.0, 0.7), (copper_between_carbons(), 8.0, None)],
    ids=["blade", "blade, then off", "carbons"],
)
def test_energy_is_all_accounted_for(piece: WorkPiece, duration: float, switch_off: float | None) -> None:
    line = thevenin(2.0, 7e-4, 8e-4)
    run = heat(piece, line, duration=duration, start_temperature=COLD, frequency=50.0, switch_off=switch_off)
    # The scheme books every joule; what is left is Newton's tolerance, far below the 0.1 % promised.
    assert abs(run.energy.imbalance) < 1e-5 * run.energy.largest
    assert min(run.energy.electric, run.energy.radiated, run.energy.convected, run.energy.into_jaws) > 0
    # The books agree with the meters: the integral of volts times amperes over the recorded instants.
    on = run.current_rms > 0
    power = PchipInterpolator(run.time[on], (run.voltage_rms * run.current_rms)[on])
    metered = float(power.integrate(run.time[on][0], run.time[on][-1]))
    assert metered == pytest.approx(run.energy.electric, rel=1e-3)


def _deviation(piece: WorkPiece, duration: float) -> tuple[HeatingRun, HeatingRun, float]:
    line = thevenin(2.0, 7e-4, 8e-4)
    # The estimate goes with the cube of the step: a thousandth makes steps ten times finer.
    coarse = heat(piece, line, duration=duration, start_temperature=COLD, frequency=50.0)
    fine = heat(piece, line, duration=duration, start_temperature=COLD, frequency=50.0, tolerance=5e-5)
    end = min(coarse.time[-1], fine.time[-1])
    inside = coarse.time <= end
    expected = PchipInterpolator(fine.time, fine.temperature)(coarse.time[inside])
    return coarse, fine, float(np.abs(coarse.temperature[inside] - expected).max())


def test_steps_hold_half_a_kelvin() -> None:
    coarse, fine, worst = _deviation(copper_between_carbons(), 1.5)
    assert fine.time.size > 7 * coarse.time.size
    assert worst < 0.5


@pytest.mark.slow
@pytest.mark.parametrize("duration", [1.0, 8.0])
def test_steps_hold_half_a_kelvin_through_transformation_and_melting(duration: float) -> None:
    coarse, fine, worst = _deviation(steel_blade(), duration)
    assert fine.time.size > 7 * coarse.time.size
    assert worst < 0.5


def test_derivatives_are_those_of_the_rates() -> None:
    # Central differences of a smooth stretch; a kink of the straight pieces within the step would show as O(1).
    piece = steel_blade(cells=8)
    system = System([piece], np.array([50.0]))
    rng = np.random.default_rng(7)
    y = system.start([COLD])[0]
    steel = work_metal("carbon steel")
    # Middles between table points, so that the differences stay on one piece.
    at = rng.integers(100, 400, y.size - 2)
    y[1:-1] = 0.5 * (steel.enthalpy[at] + steel.enthalpy[at + 1])
    y[0], y[-1] = 310.0, 330.0
    current = 1500.0

    def at(unknowns: Floats, amperes: float = current) -> State:
        return system.evaluate(unknowns[None], np.array([amperes]), NONE)

    state = at(y)
    matrix = np.diag(state.diagonal[0]) + np.diag(state.lower[0, 1:], -1) + np.diag(state.upper[0, :-1], 1)
    # The heat of a joint shifts a little between its sides with their conductivities; that part is left out on purpose.
    faces = system.contact_faces
    loose = np.zeros(y.size, dtype=bool)
    loose[faces] = loose[faces + 1] = True
    for column in range(y.size):
        step = 1e-4 * (1.0 if column in (0, y.size - 1) else 4e6)
        up, down = y.copy(), y.copy()
        up[column] += step
        down[column] -= step
        above, below = at(up), at(down)
        slope = (above.rate - below.rate)[0] / (2 * step)
        scale = np.abs(matrix[:, column]).max()
        tight = ~loose if loose[column] else np.ones_like(loose)
        np.testing.assert_allclose(slope[tight], matrix[tight, column], atol=1e-4 * scale)
        np.testing.assert_allclose(
            (above.resistance - below.resistance)[0] / (2 * step),
            state.resistance_by_unknown[0, column],
            rtol=1e-3,
            atol=1e-20,
        )
    above, below = at(y, current + 0.1), at(y, current - 0.1)
    np.testing.assert_allclose((above.rate - below.rate) / 0.2, state.rate_by_current, rtol=1e-3, atol=1e-6)
    assert (above.resistance - below.resistance)[0] / 0.2 == pytest.approx(state.resistance_by_current[0], rel=0.02)


def test_bars_in_a_chain_keep_their_own_properties() -> None:
    # Each neighbour differs from the one before in one thing, the second in its length alone. At one temperature and
    # without contacts a chain's resistance is the sum of its bars', and each radiates as it does by itself.
    steel, copper = work_metal("carbon steel"), work_metal("copper")
    wide, narrow = StripSection(width=27e-3, thickness=0.9e-3), StripSection(width=20e-3, thickness=0.9e-3)
    bars = (
        Bar(material=steel, section=wide, length=0.02, emissivity=0.8, cells=8),
        Bar(material=steel, section=wide, length=0.03, emissivity=0.8, cells=8),
        Bar(material=steel, section=narrow, length=0.02, emissivity=0.8, cells=8),
        Bar(material=copper, section=narrow, length=0.02, emissivity=0.8, cells=8),
        Bar(material=copper, section=narrow, length=0.02, emissivity=0.3, cells=8),
    )

    def state_of(*chain: Bar) -> State:
        piece = WorkPiece(left=HELD, right=HELD, bars=chain, joints=(Joint(),) * (len(chain) - 1), surroundings=BARE)
        system = System([piece], np.array([50.0]))
        return system.evaluate(system.start([900.0]), np.array([2000.0]), NONE)

    together, alone = state_of(*bars), [state_of(bar) for bar in bars]
    assert together.resistance == pytest.approx(sum(one.resistance for one in alone), rel=1e-12)
    np.testing.assert_allclose(together.radiated, np.concatenate([one.radiated for one in alone], axis=1), rtol=1e-12)


def test_mirrored_piece_gives_mirrored_temperatures() -> None:
    left = Jaw(temperature=COLD, contact=Joint(resistance=5e-5))
    piece = WorkPiece(left=left, right=HELD, bars=(bar(),), surroundings=BARE)
    runs = [
        heat(p, steady_current(CURRENT), duration=20.0, start_temperature=COLD, frequency=0.0)
        for p in (piece, replace(piece, left=HELD, right=left))
    ]
    np.testing.assert_allclose(runs[0].temperature[-1], runs[1].temperature[-1][::-1], atol=1e-6)


def test_cools_after_switching_off() -> None:
    run = heat(
        clamped(bar(), HELD, BARE),
        steady_current(CURRENT),
        duration=120.0,
        start_temperature=COLD,
        frequency=0.0,
        switch_off=20.0,
    )
    on = run.time <= 20.0
    assert np.all(np.diff(run.hottest_temperature[on]) >= 0)
    assert run.current_rms[-1] == 0.0
    assert time_to(run, COLD + 10.0) < 20.0
    assert run.hottest_temperature[-1] < 0.7 * (run.hottest_temperature.max() - COLD) + COLD
    # Once the profile is the first sine, it fades as exp(-pi^2 k t / (c L^2)). Of 30 to 55 K the steps' 0.1 K leave
    # 0.5 % in the pace, the cells 0.1 %.
    late = run.time > 80.0
    fading = np.log(run.hottest_temperature[late] - COLD)
    pace = np.polyfit(run.time[late], fading, 1)[0]
    assert pace == pytest.approx(-(pi**2) * 40.0 / (4e6 * LENGTH**2), rel=1e-2)
    assert time_to(run, 5000.0) is None
    assert run.melt_progress[-1] == -inf
