"""Contacts of metals in the march: against a field that resolves the spot, Kohlrausch's relation, energy, limits."""

from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from fem.design.work_piece import WorkPieceDescription
from fem.estimation.inputs.work import work_of
from fem.materials.contact import LORENZ, contact_metal, spot_temperature
from fem.materials.work_metals import work_metal
from fem.work.bodies import Bar, Constriction, Jaw, Joint, SpotMetal
from fem.work.burst import heat
from fem.work.chain import WorkPiece
from fem.work.run import HeatingRun
from fem.work.sections import RoundSection
from fem.work.spot import Spot
from fem.work.volumes import System
from tests.physics.test_work_piece import BARE
from tests.support.contact_field import ContactField
from tests.support.lines import steady_current, thevenin
from tests.support.plain import Plain

Floats = NDArray[np.float64]
COLD, RADIUS, SPOT, BAR = 300.0, 2e-3, 0.15e-3, 12e-3
JAW_K, BAR_K, FILM_K, AMPERES = 390.0, 40.0, 20.0, 250.0
LAW = np.arange(200.0, 4000.0, 10.0)
FIRM = SpotMetal(temperature=LAW, resistivity_ratio=LAW / COLD, softening=5000.0, melting=9000.0)
"""As in the field: resistivity goes with temperature, and nothing softens."""


@dataclass(frozen=True, kw_only=True)
class Lorenz(Plain):
    """A metal of level conductivity that keeps to Wiedemann and Franz."""

    @property
    def resistivity(self) -> Floats:
        return LORENZ * self.temperature / self.conductivity


def pressed(contact: Joint) -> WorkPiece:
    bar = Bar(
        material=Lorenz(conductivity=BAR_K), section=RoundSection(diameter=2 * RADIUS), length=BAR, emissivity=0.0
    )
    return WorkPiece(
        left=Jaw(temperature=COLD, contact=contact), right=Jaw(temperature=COLD), bars=(bar,), surroundings=BARE
    )


@pytest.mark.parametrize(
    ("film", "faces", "off", "spot_off"),
    [(0.0, 1e4, 0.05, 0.02), (0.0, 1e3, 0.05, 0.03), (8e-12, 1e4, 0.10, 0.13)],
    ids=["clean", "clean, hollow faces", "film"],
)
def test_transient_of_a_resolved_contact(film: float, faces: float, off: float, spot_off: float) -> None:
    # Spot, layer and both bodies in 2-D, implicit in time, against one dimension and a lumped contact that knows the
    # cold resistance alone, as if measured. Rises are compared from one radius away, where the field is straight.
    # With a film the lump takes its heat to the jaw as if the film conducted without end.
    spot_area = pi * SPOT**2
    field = ContactField(
        radius=RADIUS,
        spot=SPOT,
        jaw=1e-3,
        bar=BAR,
        jaw_k=JAW_K,
        bar_k=BAR_K,
        film=film,
        film_k=FILM_K,
        faces=faces,
        capacity=4e6,
        lorenz=LORENZ,
    )
    area = pi * RADIUS**2
    cold = field.run(1e-3, COLD, 1e-3, 1)["resistance"][0]
    measured = cold - LORENZ * COLD / area * (BAR / BAR_K + 1e-3 / JAW_K) - film / spot_area
    found = field.run(AMPERES, COLD, 1.0, 100)
    narrow = Constriction(resistance=measured, share=BAR_K / (JAW_K + BAR_K), near=FIRM, far=FIRM)
    contact = Joint(resistance=film / spot_area, conductance=faces * (area - spot_area), constriction=narrow)
    run = heat(pressed(contact), steady_current(AMPERES), duration=1.0, start_temperature=COLD, frequency=0.0)
    for step in (30, 100):
        moment = found["time"][step]
        assert np.interp(moment, run.time, run.resistance) == pytest.approx(found["resistance"][step], rel=0.03)
        spot = float(np.interp(moment, run.time, run.spot_temperature[:, 0]))
        assert spot - COLD == pytest.approx(found["hottest"][step] - COLD, rel=spot_off)
        for place in (RADIUS, 2 * RADIUS, 3 * RADIUS):
            expected = np.interp(place, found["z"], found["profile"][step]) - COLD
            along = [np.interp(moment, run.time, column) for column in run.temperature.T]
            assert np.interp(place, run.position, along) - COLD == pytest.approx(expected, rel=off)


def metal(name: str) -> SpotMetal:
    found, touching = work_metal(name), contact_metal(name)
    return SpotMetal(
        temperature=found.temperature,
        resistivity_ratio=found.resistivity / float(found.resistivity_at(293.15)),
        softening=touching.softening,
        melting=touching.melting,
    )


@pytest.mark.parametrize(("t1", "t2", "share"), [(300.0, 300.0, 0.5), (300.0, 300.0, 0.1), (350.0, 700.0, 0.3)])
def test_spot_keeps_to_kohlrausch(t1: float, t2: float, share: float) -> None:
    # An identity, whatever the share: the hottest place hangs on the voltage and the bodies alone.
    spot = Spot(Constriction(resistance=1e-4, share=share, near=FIRM, far=FIRM), 0.0)
    for volts in (0.02, 0.1, 0.3):
        law = spot.law(t1, t2, volts**2 / LORENZ, 1.0)
        assert law.hottest == pytest.approx(spot_temperature(volts, t1, t2), rel=1e-9)


def test_hot_resistance_is_that_of_isotherms() -> None:
    # Equipotentials are isotherms, so where rho = rho0 T/T0 a contact's resistance is R0 over the mean of T0/T along
    # the potential: R0 D/(T0 asin(D/Tm)), D^2 = Tm^2 - T0^2. Three points of Gauss leave 1 % at this height.
    spot = Spot(Constriction(resistance=1e-4, share=0.5, near=FIRM, far=FIRM), 0.0)
    for top in (400.0, 900.0):
        apart = sqrt(top**2 - COLD**2)
        law = spot.law(COLD, COLD, 4 * apart**2, 1.0)
        assert law.constriction.real == pytest.approx(1e-4 * apart / (COLD * np.arcsin(apart / top)), rel=0.015)


def test_heat_of_a_metal_contact_splits_evenly_and_that_of_its_film_by_resistance() -> None:
    # Q1 = U^2/(2R) + L (T2^2 - T1^2)/(2R), its mirror on the other side, the film's heat shared the other way.
    narrow = Constriction(resistance=2e-4, share=0.2, near=metal("copper"), far=metal("carbon steel"))
    system = System(pressed(Joint(resistance=1e-4, conductance=0.0, constriction=narrow)), 0.0)
    y = system.start(COLD)
    state = system.evaluate(y, 100.0, np.ones(1))
    constriction = state.at.left[0] + state.at.right[0] - 1e-4
    assert state.at.left[0] == pytest.approx(0.5 * constriction + 0.8e-4, rel=1e-9)
    assert state.at.right[0] == pytest.approx(0.5 * constriction + 0.2e-4, rel=1e-9)
    assert 1 / state.at.thermal[0] == pytest.approx(LORENZ * (COLD + COLD) / (2 * constriction), rel=1e-9)


def test_derivatives_with_spots_are_those_of_the_rates() -> None:
    narrow = Constriction(resistance=3e-4, share=0.1, near=metal("copper"), far=metal("carbon steel"))
    system = System(pressed(Joint(resistance=1e-4, conductance=0.3, constriction=narrow)), 0.0)
    y, grown, amperes = system.start(COLD), np.ones(1), 400.0
    y[0], y[-1] = 330.0, 1.2e6
    state = system.evaluate(y, amperes, grown)
    step = 10.0
    above, below = (system.evaluate(y + sign * step * np.eye(y.size)[-1], amperes, grown) for sign in (1, -1))
    slope = (above.rate - below.rate) / (2 * step)
    assert slope[0] == 0  # a jaw that stays as it is
    assert slope[1] == pytest.approx(state.spots.of_right[0], rel=0.03)  # the share among the cells is left out
    assert slope[-1] == pytest.approx(state.spots.to[0, 2], rel=1e-4)
    ohms = (above.resistance - below.resistance) / (2 * step)
    assert ohms == pytest.approx(state.spots.of_resistance[0], rel=1e-4)
    above, below = (system.evaluate(y, amperes + sign * 0.1, grown) for sign in (1, -1))
    assert (above.rate[-1] - below.rate[-1]) / 0.2 == pytest.approx(state.spots.to[0, 3], rel=1e-6)
    cell = 4e3 * np.eye(y.size)[1]
    above, below = system.evaluate(y + cell, amperes, grown), system.evaluate(y - cell, amperes, grown)
    assert (above.rate[-1] - below.rate[-1]) / 8e3 == pytest.approx(state.spots.to[0, 1], rel=1e-3)


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


def burst(given: WorkPieceDescription, times: float = 1.0, duration: float = 1.5) -> HeatingRun:
    piece = work_of(given, contacts=times)
    return heat(piece, thevenin(3.0, 8e-4, 1e-3), duration=duration, start_temperature=298.15, frequency=50.0)


@pytest.mark.parametrize("ohms", [2e-5, 2e-4, 1e-3, 5e-3])
def test_energy_closes_and_no_voltage_passes_melting(ohms: float) -> None:
    run = burst(blade(contact_resistance=ohms))
    assert abs(run.energy.imbalance) < 1e-6 * run.energy.largest
    settled = run.time > 0.1
    volts = (run.current_rms[:, None] * run.contact_resistance)[settled][:, [0, -1]]
    # steel melts last: what its melting voltage, 0.6 V, is computed from
    assert volts.max() < spot_voltage_of("carbon steel")
    assert run.spot_temperature[settled].max() < work_metal("carbon steel").liquidus


def spot_voltage_of(name: str) -> float:
    return 2 * sqrt(LORENZ * (work_metal(name).liquidus ** 2 - 298.15**2))


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
    narrow = Constriction(resistance=1e-12, share=0.1, near=metal("copper"), far=metal("carbon steel"))
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
