"""Two paths of the current between the same jaws against closed forms, phasors and an integrator written here."""

from dataclasses import replace
from importlib.resources import files
from math import cosh, pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator

from fem.circuit.leads.ring import ring_inductance
from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.inputs.work import work_of
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.materials.work_metals import work_metal
from fem.quantity import Unknown
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.chain import Beside, clamped
from fem.work.line import LoadLine
from fem.work.sections import RoundSection, StripSection
from tests.support.kept import KEPT
from tests.support.one import heat, settle
from tests.support.plain import Plain

Floats = NDArray[np.float64]

COLD = 300.0
BARE = Surroundings(temperature=COLD, film=None)
HELD = Jaw(temperature=COLD)
LOOSE = Joint(conductance=1e-12)
THICK, THIN = RoundSection(diameter=6e-3), RoundSection(diameter=4e-3)


def bar(section: RoundSection = THICK, length: float = 0.08, **material: float) -> Bar:
    return Bar(material=Plain(**material), section=section, length=length, emissivity=0.0)


def amperes(current: float) -> LoadLine:
    return LoadLine(resistance=[0.0, 1.0, 10.0, 100.0], current=[current] * 4)


def thevenin(emf: float, source: complex) -> LoadLine:
    load = np.linspace(0.0, 0.05, 12)
    return LoadLine(resistance=load, current=emf / np.abs(source + load))


def test_constant_bars_share_by_conductance_and_settle_as_two_fins() -> None:
    """Kirchhoff's shares; of each the heated fin of every textbook, with no fin of the other in it.

    theta_inf (1 - cosh m (x - L/2) / cosh m L/2), m^2 = h P/(k A); at rest within 0.05 K, cells as in the other tests.
    """
    h, total = 60.0, 250.0
    room = Surroundings(temperature=COLD, film=lambda surface, air, diameter: np.full_like(surface, h))
    second = bar(THIN, 0.12, rho=5e-7)
    piece = replace(clamped(bar(), HELD, room), beside=Beside(bar=second))
    run = settle(piece, amperes(total), start_temperature=COLD, frequency=0.0).run
    ohms = [1e-6 * 0.08 / THICK.area, 5e-7 * 0.12 / THIN.area]
    assert run.beside is not None
    for path, own, other, length, section, rho in (
        (run, 0, 1, 0.08, THICK, 1e-6),
        (run.beside, 1, 0, 0.12, THIN, 5e-7),
    ):
        current = total * ohms[other] / sum(ohms)
        assert path.own_current_rms[-1] == pytest.approx(current, rel=1e-9), own
        m = sqrt(h * section.perimeter / (40.0 * section.area))
        limit = current**2 * rho / section.area / (h * section.perimeter)
        rise = limit * (1 - np.cosh(m * (path.position - length / 2)) / cosh(m * length / 2))
        np.testing.assert_allclose(path.temperature[-1] - COLD, rise, atol=0.05 + (1.7 / 60) ** 2 * rise.max())


def blade(width: float) -> Bar:
    strip = StripSection(width=width, thickness=1e-3)
    return Bar(material=work_metal("carbon steel"), section=strip, length=0.05, emissivity=0.0)


def test_two_equal_paths_are_one_of_twice_the_section() -> None:
    """Each with half of the contact, between jaws that warm up and are cooled once, not twice. Steps may differ."""
    contact = Joint(resistance=4e-5, conductance=50.0)
    jaw = Jaw(temperature=COLD, contact=contact, heat_capacity=20.0, sink_conductance=5.0)
    both = replace(jaw, contact=Joint(resistance=2e-5, conductance=100.0))
    two = replace(clamped(blade(20e-3), jaw, BARE), beside=Beside(bar=blade(20e-3), contact=contact))
    line = thevenin(3.0, 8e-4 + 1e-3j)
    runs = [
        heat(piece, line, duration=4.0, start_temperature=COLD, frequency=0.0)
        for piece in (two, clamped(blade(40e-3), both, BARE))
    ]
    one, whole = runs
    assert one.beside is not None
    for name in ("current_rms", "voltage_rms", "resistance"):
        np.testing.assert_allclose(getattr(one, name), getattr(whole, name), rtol=1e-9)
    np.testing.assert_allclose(one.own_current_rms, one.beside.own_current_rms, rtol=1e-12)
    np.testing.assert_allclose(one.temperature, whole.temperature, rtol=1e-9)
    np.testing.assert_allclose(one.jaw_temperature, whole.jaw_temperature, rtol=1e-9)
    assert one.jaw_temperature[-1].min() > COLD + 20.0
    for name in ("electric", "stored", "into_jaws"):
        assert getattr(one.energy, name) == pytest.approx(getattr(whole.energy, name), rel=1e-8)
    assert abs(one.energy.imbalance) < 1e-6 * one.energy.largest


def test_an_endless_second_path_is_none() -> None:
    line = thevenin(3.0, 8e-4 + 1e-3j)
    alone = clamped(blade(20e-3), HELD, BARE)
    endless = replace(alone, beside=Beside(bar=replace(blade(20e-3), length=1e6), contact=LOOSE, loop_inductance=1.0))
    one, other = (heat(p, line, duration=0.8, start_temperature=COLD, frequency=50.0) for p in (alone, endless))
    np.testing.assert_allclose(other.temperature[-1], one.temperature[-1], rtol=1e-6)
    assert other.energy.electric == pytest.approx(one.energy.electric, rel=1e-6)


def lumped_paths(currents_of: object, capacities: Floats, duration: float, times: Floats) -> Floats:
    """March two lumps whose resistance rises straight with temperature, to 1e-10."""

    def rate(_: float, t: Floats) -> Floats:
        currents, ohms = currents_of(t)
        return currents**2 * ohms / capacities

    return solve_ivp(rate, (0.0, duration), np.full(2, COLD), "DOP853", times, rtol=1e-10, atol=1e-9).y


def test_lumps_share_by_impedance_as_phasors_say() -> None:
    """Mesh equations of the source's loop and the paths' own, solved as they stand; nothing leaves the bars.

    What drives the one against the other is the loop's flux: L_1 + L_2 = L, in the ratio of lengths.
    Steps within 0.05 K (the tolerance asked for) and the straight lines between recorded instants.
    """
    loop, omega = 2e-6, 2 * pi * 50.0
    first, second = bar(THICK, 0.08, rho=2e-8, coefficient=4e-3), bar(THIN, 0.9, rho=3e-9, coefficient=2e-3)
    piece = clamped(first, replace(HELD, contact=LOOSE), BARE)
    piece = replace(piece, beside=Beside(bar=second, contact=LOOSE, loop_inductance=loop))
    emf, source = 2.0, 3e-4 + 5e-4j
    inductances = loop * np.array([0.08, 0.9]) / 0.98

    def currents_of(t: Floats) -> tuple[Floats, Floats]:
        ohms = np.array(
            [
                2e-8 * (1 + 4e-3 * (t[0] - COLD)) * 0.08 / THICK.area,
                3e-9 * (1 + 2e-3 * (t[1] - COLD)) * 0.9 / THIN.area,
            ]
        )
        z = ohms + 1j * omega * inductances
        # the line is asked at the resistance: reactance belongs to the leads
        seen = (z[0] * z[1] / z.sum()).real
        whole = emf / abs(source + seen)
        mesh = np.array([[1, 1], [z[0], -z[1]]])
        return np.abs(np.linalg.solve(mesh, np.array([whole, 0.0]))), ohms

    capacities = np.array([4e6 * 0.08 * THICK.area, 4e6 * 0.9 * THIN.area])
    run = heat(piece, thevenin(emf, source), duration=3.0, start_temperature=COLD, frequency=50.0)
    times = np.linspace(0.2, 3.0, 9)
    expected = lumped_paths(currents_of, capacities, 3.0, times)
    assert run.beside is not None
    assert expected[0, -1] > COLD + 100
    for path, kelvin in zip((run, run.beside), expected, strict=True):
        found = PchipInterpolator(run.time, path.temperature[:, path.position.size // 2])(times)
        np.testing.assert_allclose(found, kelvin, atol=0.5)
    split = np.array([currents_of(t)[0] for t in expected.T]).T
    for path, current in zip((run, run.beside), split, strict=True):
        np.testing.assert_allclose(PchipInterpolator(run.time, path.own_current_rms)(times), current, rtol=1e-3)
    # by resistance alone the second path would have another share
    ohms = currents_of(np.full(2, COLD))[1]
    assert run.beside.own_current_rms[0] / run.current_rms[0] < 0.8 * ohms[0] / ohms.sum()


def test_a_circle_s_inductance_and_how_an_arc_shares_it() -> None:
    """Neumann's integral over filaments a mean distance apart: of the whole circle, and of an arc's current in it.

    An arc f of the circle, its current alone, puts f of the flux through it. The formula's next term is of
    (g/8a)^2 ln(8a/g): 1e-6 here.
    """
    length, g = 2.4, 6e-3
    radius, n = length / (2 * pi), 6000
    angle = 2 * pi * (np.arange(n) + 0.5) / n
    # of one element with all: the same wherever it lies
    apart = np.sqrt((2 * radius * np.sin(angle / 2)) ** 2 + g**2)
    per_element = 1e-7 * (radius * 2 * pi / n) ** 2 * np.sum(np.cos(angle) / apart)
    assert ring_inductance(length, g) == pytest.approx(n * per_element, rel=2e-3)
    arc = angle < 2 * pi * 0.05
    at = np.sqrt((2 * radius * np.sin((angle[arc, None] - angle) / 2)) ** 2 + g**2)
    linked = 1e-7 * (radius * 2 * pi / n) ** 2 * np.sum(np.cos(angle[arc, None] - angle) / at)
    assert linked == pytest.approx(0.05 * n * per_element, rel=1e-9)


@pytest.fixture(scope="module")
def example() -> Design:
    return read_job(str(files("fem.examples") / "bandsaw_brazing.toml"))


def test_the_rest_of_a_blade_takes_its_share(example: Design) -> None:
    """A closed blade clamped over 44 mm: 2.4 m of it go the other way round, by Ohm's law and the published table."""
    design = example.vary("work_piece.second_path.length", "2.4 m").vary("work_piece.jaws.contact_resistance", 0.0)
    design = design.vary("work_piece.joint", None)
    wanted = frozenset({Part.WORK_PIECE})
    found = estimate(design, wanted=wanted | {Part.BANDS}, characteristics=KEPT)
    state = found.work_piece
    assert not isinstance(state, Unknown)
    path = state.second_path
    assert not isinstance(path, Unknown)
    # Both of one steel, cold: by length. In its weak field the steel is at its most magnetic, some 900, and the blade
    # half a skin depth from either face: 4/45 0.45^4, 0.4 %, of resistance more; the loop's 0.6 mohm beside 19, 0.05 %.
    assert 0.994 * 0.044 / 2.444 < path.cold_share < 0.044 / 2.444
    assert path.cold_share < path.hot_share < 0.1
    assert path.hot_current_rms == pytest.approx(path.hot_share * state.hot_current_rms)
    assert abs(state.energy_imbalance) < 1e-4 * state.energy
    band = found.bands["work_piece.second_path.hottest_temperature_K"]
    assert band.low < path.hottest_temperature < band.high
    single = estimate(design.vary("work_piece.second_path", None), wanted=wanted, characteristics=KEPT).work_piece
    assert not isinstance(single, Unknown)
    assert 1.0 < state.cold_current_rms / single.cold_current_rms < 1.01
    assert state.power.total == pytest.approx(state.power.work + state.power.second_path, rel=1e-9)


def test_a_ring_clamped_across_heats_alike_on_both_sides(example: Design) -> None:
    """Half and half, with the jaws' typical contact in common: what one piece of both sections would have of it."""
    ring = (
        example.vary("work_piece.joint", None).vary("work_piece.length", 0.3).vary("work_piece.second_path.length", 0.3)
    )
    given = ring.work_piece
    assert given is not None
    piece = work_of(given)
    assert piece.beside is not None
    for contact in (piece.left.contact, piece.beside.contact):
        assert contact.constriction is not None
        assert contact.constriction.resistance == pytest.approx(2 * given.jaws.contact_resistance, rel=1e-12)
    assert piece.beside.bar.section == piece.bars[0].section
    found = estimate(ring, wanted=frozenset({Part.WORK_PIECE}), characteristics=KEPT).work_piece
    assert not isinstance(found, Unknown)
    path = found.second_path
    assert not isinstance(path, Unknown)
    assert path.cold_share == pytest.approx(0.5, rel=1e-9)
    assert path.hottest_temperature == pytest.approx(found.hottest_temperature, abs=1e-6)
    assert not isinstance(found.contact, Unknown)
    assert found.contact.cold_resistance == pytest.approx(given.jaws.contact_resistance, rel=0.05)
