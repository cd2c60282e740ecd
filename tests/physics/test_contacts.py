"""Contacts of metals in the march: against a field that resolves the spot, Kohlrausch's relation, energy, limits."""

from dataclasses import dataclass, replace
from functools import partial
from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from fem.design.work_piece import WorkPieceDescription
from fem.estimation.inputs.contact import scatter_of, spot_metal
from fem.estimation.inputs.work import work_of
from fem.estimation.stations.bench.contact import lap_in_burst
from fem.materials.contact import LORENZ, contact_metal, spot_temperature
from fem.materials.work_metals import work_metal
from fem.work.bodies import Bar, Constriction, Jaw, Joint, SpotMetal
from fem.work.chain import WorkPiece
from fem.work.run import HeatingRun
from fem.work.sections import RoundSection
from fem.work.spot import Law, Spots
from fem.work.state import State
from fem.work.volumes import System
from tests.physics.test_work_piece import BARE
from tests.support.contact_field import ContactField
from tests.support.lines import steady_current, thevenin
from tests.support.one import heat
from tests.support.plain import Plain

Floats = NDArray[np.float64]
COLD, RADIUS, SPOT, BAR, JAW = 300.0, 2e-3, 0.15e-3, 12e-3, 1e-3
BAR_K = 40.0
LAW = np.arange(200.0, 4000.0, 10.0)
FIRM = SpotMetal(temperature=LAW, resistivity_ratio=LAW / COLD, softening=5000.0, melting=9000.0)
"""A spot whose resistivity goes with temperature, and that never softens."""


@dataclass(frozen=True, kw_only=True)
class Lorenz(Plain):
    """A metal of level conductivity that keeps to Wiedemann and Franz."""

    @property
    def resistivity(self) -> Floats:
        return LORENZ * self.temperature / self.conductivity


def firm(name: str) -> SpotMetal:
    """Return what a metal does that neither softens nor melts, its resistance told at COLD."""
    if not name:
        return FIRM
    found = spot_metal(name)
    ratio = found.resistivity_ratio / np.interp(COLD, found.temperature, found.resistivity_ratio)
    return replace(found, resistivity_ratio=ratio, softening=5000.0, melting=9000.0)


def pressed(contact: Joint) -> WorkPiece:
    bar = Bar(
        material=Lorenz(conductivity=BAR_K), section=RoundSection(diameter=2 * RADIUS), length=BAR, emissivity=0.0
    )
    return WorkPiece(
        left=Jaw(temperature=COLD, contact=contact), right=Jaw(temperature=COLD), bars=(bar,), surroundings=BARE
    )


@dataclass(frozen=True, kw_only=True)
class Resolved:
    """A contact to be resolved: metals by name, 0 for ones that keep to Wiedemann and Franz; film over the clean cold
    spot [-], its thickness [m] and conductivity [W/(m K)]; pressed faces [W/(m2 K)]; current [A]."""

    metals: tuple[str, str] = ("copper", "carbon steel")
    film: float = 0.0
    layer: float = 1e-6
    film_k: float = 20.0
    faces: float = 1e4
    amperes: float = 250.0


CLEAN = Resolved()
OXIDISED = Resolved(film=7.0, layer=1e-7, film_k=5.0, amperes=100.0)
SCALED = Resolved(film=9.0, layer=1e-5, film_k=2.5, amperes=80.0)


@pytest.mark.parametrize(
    ("case", "off", "spot_off"),
    [
        pytest.param(CLEAN, 0.05, 0.05, id="clean"),
        pytest.param(OXIDISED, 0.05, 0.07, id="oxidised"),
        *(
            pytest.param(case, off, spot_off, id=name, marks=pytest.mark.slow)
            for name, case, off, spot_off in (
                ("scaled", SCALED, 0.05, 0.05),
                ("clean, hollow faces", replace(CLEAN, faces=1e3), 0.05, 0.05),
                ("Wiedemann and Franz", replace(CLEAN, metals=("", "")), 0.06, 0.05),
                ("little film, thick", Resolved(metals=("", ""), film=0.4, layer=4e-6), 0.05, 0.05),
                ("stainless", replace(CLEAN, metals=("copper", "stainless steel"), amperes=100.0), 0.13, 0.1),
            )
        ),
    ],
)
def test_transient_of_a_resolved_contact(case: Resolved, off: float, spot_off: float) -> None:
    # Spot, film and both bodies in 2-D with the metals' own tables, implicit in time, against bars in one dimension and
    # a contact that knows the clean spot's cold resistance and what the film adds, as if measured. Means over the
    # section are compared, which is what one dimension is about. Of a spot the hottest place; of one whose film rules
    # the mean of its hotter face, as films spread their heat evenly and the middle gets a fifth hotter. Single spots
    # lag for some 30 ms. From 0.1 s on all is within 5 %, but between copper and stainless steel: where faces conduct
    # as well as the bars, they take more from around the spot than from the bar on the mean.
    metals = [
        work_metal(name) if name else Lorenz(conductivity=k)
        for name, k in zip(case.metals, (390.0, BAR_K), strict=True)
    ]
    near, far = metals
    rho = [float(np.interp(COLD, m.temperature, m.resistivity)) for m in metals]
    area, spot_area = pi * RADIUS**2, pi * SPOT**2
    resolved = partial(
        ContactField, radius=RADIUS, spot=SPOT, jaw=JAW, bar=BAR, near=near, far=far, layer=case.layer, faces=case.faces
    )
    bars = (rho[0] * JAW + rho[1] * BAR) / area
    clean = (
        resolved(film=0.0, film_k=0.0).cold_resistance(COLD) - bars - bool(case.film) * rho[1] * case.layer / spot_area
    )
    field = resolved(film=case.film * clean * spot_area, film_k=case.film_k)
    found = field.run(case.amperes, COLD, np.r_[0.0, np.geomspace(1e-3, 1.0, 40)])
    film = field.cold_resistance(COLD) - bars - clean if case.film else 0.0
    narrow = Constriction(
        resistance=clean,
        share=rho[0] / sum(rho),
        near=firm(case.metals[0]),
        far=firm(case.metals[1]),
        insulates=bool(case.film) * case.layer / (case.film_k * spot_area),
    )
    contact = Joint(resistance=film, conductance=case.faces * (area - spot_area), constriction=narrow)
    jaw, bar = (
        Bar(material=m, section=RoundSection(diameter=2 * RADIUS), length=length, emissivity=0.0)
        for m, length in ((near, JAW), (far, BAR))
    )
    piece = WorkPiece(
        left=Jaw(temperature=COLD), right=Jaw(temperature=COLD), bars=(jaw, bar), joints=(contact,), surroundings=BARE
    )
    run = heat(piece, steady_current(case.amperes), duration=1.0, start_temperature=COLD, frequency=0.0)
    for moment in (0.1, 0.3, 1.0):
        mean, faces = ([np.interp(moment, found["time"], c) for c in found[name].T] for name in ("mean", "spot"))
        along = [np.interp(moment, run.time, column) for column in run.temperature.T]
        for place in (-JAW / 2, RADIUS / 4, RADIUS, 2 * RADIUS, 3 * RADIUS):
            expected = np.interp(place + (case.layer if place > 0 else 0.0), field.z, mean) - COLD
            assert np.interp(place + JAW, run.position, along) - COLD == pytest.approx(expected, rel=off, abs=0.1)
        expected = np.interp(moment, found["time"], found["resistance"])
        assert np.interp(moment, run.time, run.resistance) == pytest.approx(expected, rel=0.02)
        hottest = max(faces) if case.film > 1 else np.interp(moment, found["time"], found["hottest"])
        spot = float(np.interp(moment, run.time, run.spot_temperature[:, 1]))
        assert spot - COLD == pytest.approx(hottest - COLD, rel=spot_off)


def law_of(share: float, t1: float, t2: float, superheat: float) -> Law:
    spots = Spots([[Constriction(resistance=1e-4, share=share, near=FIRM, far=FIRM)]], [[0.0]])
    return spots.law(np.array([[[t1]], [[t2]]]), np.array([[superheat]]), np.ones((1, 1)))


@pytest.mark.parametrize(("t1", "t2", "share"), [(300.0, 300.0, 0.5), (300.0, 300.0, 0.1), (350.0, 700.0, 0.3)])
def test_spot_keeps_to_kohlrausch(t1: float, t2: float, share: float) -> None:
    # An identity, whatever the share: the hottest place hangs on the voltage and the bodies alone.
    for volts in (0.02, 0.1, 0.3):
        law = law_of(share, t1, t2, volts**2 / LORENZ)
        assert float(law.hottest[0, 0]) == pytest.approx(spot_temperature(volts, t1, t2), rel=1e-9)


def test_hot_resistance_is_that_of_isotherms() -> None:
    # Equipotentials are isotherms, so where rho = rho0 T/T0 a contact's resistance is R0 over the mean of T0/T along
    # the potential: R0 D/(T0 asin(D/Tm)), D^2 = Tm^2 - T0^2. Three points of Gauss leave 1 % at this height.
    for top in (400.0, 900.0):
        apart = sqrt(top**2 - COLD**2)
        law = law_of(0.5, COLD, COLD, 4 * apart**2)
        assert float(law.constriction[0, 0]) == pytest.approx(1e-4 * apart / (COLD * np.arcsin(apart / top)), rel=0.015)


@pytest.mark.parametrize("insulates", [0.0, 1e-3, 50.0, 1e9])
def test_heat_of_a_contact_divides_as_in_three_resistances(insulates: float) -> None:
    # Q1 = U^2/(2R) + L (T2^2 - T1^2)/(2R), its mirror on the other side; what a film makes in its middle meets the way
    # out through either half of it and either side, 2R/(2 L T) of heat each, here solved as a network.
    one, other = FIRM, replace(FIRM, lorenz=1.3 * LORENZ)
    narrow = Constriction(resistance=2e-4, share=0.2, near=one, far=other, insulates=insulates)
    system = System([pressed(Joint(resistance=1e-4, conductance=0.0, constriction=narrow))], np.zeros(1))
    # so little current that all stays at one temperature
    at = system.evaluate(system.start([COLD]), np.array([1e-3]), np.ones((1, 1))).at
    half, sides = insulates / 2, [0.2 * 2e-4 / (LORENZ * COLD), 0.8 * 2e-4 / (1.3 * LORENZ * COLD)]
    whole = sum(sides) + insulates
    into = 0.2e-4 + 1e-4 * (sides[1] + half) / whole + (0.2e-4 * (sides[1] + insulates) + 0.8e-4 * sides[1]) / whole
    assert at.left[0, 0] == pytest.approx(into, rel=1e-6)
    assert at.left[0, 0] + at.right[0, 0] == pytest.approx(3e-4, rel=1e-9)
    assert at.thermal[0, 0] == pytest.approx(whole, rel=1e-6)


def test_derivatives_with_spots_are_those_of_the_rates() -> None:
    narrow = Constriction(
        resistance=3e-4, share=0.1, near=spot_metal("copper"), far=spot_metal("carbon steel"), insulates=30.0
    )
    system = System([pressed(Joint(resistance=1e-4, conductance=0.3, constriction=narrow))], np.zeros(1))
    y, amperes = system.start([COLD])[0], 400.0
    y[0], y[-1] = 330.0, 1.2e6

    def at(unknowns: Floats, current: float = amperes) -> tuple[State, Floats]:
        state = system.evaluate(unknowns[None], np.array([current]), np.ones((1, 1)))
        return state, state.rate[0]

    state, _ = at(y)
    step = 10.0
    above, below = (at(y + sign * step * np.eye(y.size)[-1]) for sign in (1, -1))
    slope = (above[1] - below[1]) / (2 * step)
    assert slope[0] == 0  # a jaw that stays as it is
    assert slope[1] == pytest.approx(state.spots.of_right[0, 0], rel=0.03)  # the share among the cells is left out
    assert slope[-1] == pytest.approx(state.spots.to[2, 0, 0], rel=1e-4)
    ohms = (above[0].resistance[0] - below[0].resistance[0]) / (2 * step)
    assert ohms == pytest.approx(state.spots.of_resistance[0, 0], rel=1e-4)
    above, below = (at(y, amperes + sign * 0.1) for sign in (1, -1))
    assert (above[1][-1] - below[1][-1]) / 0.2 == pytest.approx(state.spots.to[3, 0, 0], rel=1e-6)
    cell = 4e3 * np.eye(y.size)[1]
    above, below = at(y + cell), at(y - cell)
    assert (above[1][-1] - below[1][-1]) / 8e3 == pytest.approx(state.spots.to[1, 0, 0], rel=1e-3)


def blade(**jaws: object) -> WorkPieceDescription:
    return WorkPieceDescription.model_validate(
        {
            "metal": "carbon steel",
            "section": {"strip": "27 mm x 0.9 mm"},
            "length": 0.04,
            "duration": 1.5,
            "jaws": {"heat_capacity": 250.0} | jaws,
        }
    )


def burst(given: WorkPieceDescription, duration: float = 1.5) -> HeatingRun:
    piece = work_of(given)
    return heat(piece, thevenin(3.0, 8e-4, 1e-3), duration=duration, start_temperature=298.15, frequency=50.0)


@pytest.mark.parametrize("ohms", [2e-5, 2e-4, 1e-3, 5e-3])
def test_energy_closes_and_no_voltage_passes_melting(ohms: float) -> None:
    run = burst(blade(contact_resistance=ohms))
    assert abs(run.energy.imbalance) < 1e-6 * run.energy.largest
    settled = run.time > 0.1
    volts = (run.current_rms[:, None] * run.contact_resistance)[settled][:, [0, -1]]
    # steel melts last; its melting voltage as measured, R. Holm, from memory
    assert volts.max() < contact_metal("carbon steel").melting_voltage
    assert run.spot_temperature[settled].max() < work_metal("carbon steel").liquidus


def test_worse_contacts_make_hotter_work_near_the_jaws() -> None:
    # The same current through the blade: all that the contacts add is heat beside the jaws.
    near = []
    for ohms in (0.0, 5e-5, 2e-4):
        piece = work_of(blade(contact_resistance=ohms))
        run = heat(piece, steady_current(1000.0), duration=1.5, start_temperature=298.15, frequency=50.0)
        near.append(run.temperature[-1][0])
    assert np.all(np.diff(near) > 5.0)


def test_no_resistance_is_the_perfect_joint_and_so_is_a_small_one_with_faces_that_conduct() -> None:
    perfect = burst(blade(contact_resistance=0.0))
    narrow = Constriction(resistance=1e-12, share=0.1, near=spot_metal("copper"), far=spot_metal("carbon steel"))
    piece = work_of(blade(contact_resistance=0.0))
    joint = Joint(conductance=1e4, constriction=narrow)
    piece = replace(piece, left=replace(piece.left, contact=joint), right=replace(piece.right, contact=joint))
    run = heat(piece, thevenin(3.0, 8e-4, 1e-3), duration=1.5, start_temperature=298.15, frequency=50.0)
    assert run.hottest_temperature[-1] == pytest.approx(perfect.hottest_temperature[-1], abs=0.5)


def test_a_softened_contact_stays_better() -> None:
    # Heated by 500 uohm at the beginning, the spot has grown: cooled again, it has less than it had cold.
    piece = work_of(blade(contact_resistance=5e-4))
    run = heat(
        piece, thevenin(3.0, 8e-4, 1e-3), duration=60.0, start_temperature=298.15, frequency=50.0, switch_off=0.3
    )
    assert run.contact_resistance[-1, 0] < 0.5 * run.contact_resistance[0, 0]
    assert run.contact_resistance[-1] == pytest.approx(run.contact_resistance[-1][::-1], rel=1e-6)


def test_typical_contacts_are_taken_where_none_is_told() -> None:
    ohms = [burst(blade(**told), duration=0.1).contact_resistance[0, 0] for told in ({}, {"force": 2000.0})]
    assert ohms[0] == pytest.approx(2 * ohms[1], rel=1e-3)  # 500 N where no force is told; Holm: its root
    assert 4e-5 < ohms[0] < 1e-3
    scaled = burst(blade(contact="scaled"), duration=0.1).contact_resistance[0, 0]
    assert scaled == pytest.approx(10 * ohms[0], rel=0.02)  # films are not warmer at 25 degC than at 20


def lapped(**joint: object) -> WorkPieceDescription:
    given = blade(contact_resistance=0.0).model_dump() | {"joint": joint}
    return WorkPieceDescription.model_validate(given)


def test_a_lap_of_which_nothing_is_told_is_a_dry_contact() -> None:
    # Handbook fit of machined mild steel on steel, K = 7600 uohm, from memory: 3.4 mohm at 50 N, its worse end.
    told = lapped(force=50.0)
    found = scatter_of(told.joint, ("mild steel", "mild steel"))
    assert found.high == pytest.approx(7600e-6 / sqrt(0.102 * 50.0), rel=1e-3)
    assert 0 < found.low < found.typical < found.high
    run = burst(lapped())
    assert run.contact_resistance[0, 1] > 1e-4
    assert abs(run.energy.imbalance) < 1e-6 * run.energy.largest
    lap = lap_in_burst(lapped(), run)
    assert "typical clean lap of carbon steel, 50 N assumed; stays dry" in lap.kind
    assert lap.cold_resistance == run.contact_resistance[0, 1]


def test_a_lap_that_is_told_keeps_its_resistance() -> None:
    run = burst(lapped(resistance=3e-5))
    np.testing.assert_allclose(run.contact_resistance[:, 1], 3e-5, rtol=1e-12)


def test_a_filled_lap_is_as_good_as_none_for_good() -> None:
    # What flows at 60 degC is gone early: from then on the blade is one without a lap that got the lap's heat as well.
    given = lapped(filler_melts_at=333.15)
    piece = work_of(given)
    run = heat(
        piece, thevenin(3.0, 8e-4, 1e-3), duration=60.0, start_temperature=298.15, frequency=50.0, switch_off=0.5
    )
    assert run.contact_resistance[-1, 1] < 2e-4 * run.contact_resistance[0, 1]
    assert run.hottest_temperature[-1] < 333.15 - 10
    lap = lap_in_burst(given, run)
    assert 0 < lap.filled_after < 0.1
    whole = burst(lapped(resistance=0.0), duration=0.5)
    end = int(np.searchsorted(run.time, 0.5))
    assert run.current_rms[end] == pytest.approx(whole.current_rms[-1], rel=0.02)
    stored = np.interp(0.5, run.time, run.hottest_temperature) - whole.hottest_temperature[-1]
    assert 0 < stored < 0.2 * (whole.hottest_temperature[-1] - 298.15)
    assert abs(run.energy.imbalance) < 1e-6 * run.energy.largest
