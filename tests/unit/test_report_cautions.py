"""Cautions follow from the numbers, and from published limits."""

from dataclasses import replace
from importlib.resources import files

import pytest

from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.stations.bench.breaker import breaker_cautions
from fem.estimation.stations.built.build import BUILD
from fem.estimation.stations.built.saturation import SATURATION
from fem.estimation.stations.states.open_circuit import OPEN_CIRCUIT
from fem.heat.adiabatic import adiabatic_time
from fem.materials.metals import metal as conductor
from fem.quantity import NOT_ASKED
from fem.trust.caution import Caution, Danger, foremost, in_order
from fem.trust.general import always
from fem.trust.hot import eyes, solder_fumes
from fem.trust.live import extra_turns, old_winding, stray, touch
from fem.trust.near_leads import near_leads
from tests.campaign.always import always as always_holds
from tests.support.kept import KEPT
from tests.support.one import lead_field


@pytest.fixture(scope="module")
def design() -> Design:
    return read_job(str(files("fem") / "examples" / "bandsaw_brazing.toml"))


def texts(station, design, found, about: str) -> list[str]:
    return [c.text for c in station.cautions(Case(design=design), found) if c.about == about]


def test_heating_time_of_the_published_example():
    # "Permissible short-circuit current" after IEC 60949: 95 mm2 copper, 90 to 250 degC
    # in 1 s, adiabatic current printed as 13.6 kA; its third digit is worth 0.7 % of the time, twice 0.05/13.6.
    density = 13.6e3 / 95e-6
    assert adiabatic_time(conductor("copper"), density, 90 + 273.15, 250 + 273.15) == pytest.approx(
        1.0, rel=2 * 0.05 / 13.6
    )


@pytest.mark.parametrize(
    ("metal", "k", "end"), [("copper", 143e6, 160), ("copper", 176e6, 250), ("aluminium", 95e6, 160)]
)
def test_heating_time_gives_the_factors_of_the_wiring_rules(metal, k, end):
    # BS 7671, table 54.2: J = k / sqrt(t) for protective conductors from 30 degC. k has three digits or two; the
    # constants' own three digits (226, 148) add as much.
    seconds = adiabatic_time(conductor(metal), k, 30 + 273.15, end + 273.15)
    assert seconds**0.5 == pytest.approx(
        1.0, rel=0.5 / (k * 1e-6) + 0.5 / (conductor(metal).short_time_constant * 1e-6)
    )


def test_heating_time_falls_with_the_square_of_the_current():
    copper = conductor("copper")
    slow, fast = (adiabatic_time(copper, density, 300, 400) for density in (1e7, 2e7))
    assert fast == pytest.approx(slow / 4, rel=1e-12)


def test_field_of_one_lead():
    # mu0 I/(2 pi r) with mu0 = 4 pi 1e-7 H/m: 1000 A makes 2 mT at 10 cm, 1 mT at 20 cm.
    assert lead_field(1000.0, 0.1) == pytest.approx(2e-3, rel=1e-9)
    assert lead_field(1000.0, 0.2) == pytest.approx(1e-3, rel=1e-9)
    assert lead_field(1000.0, 1.0) == pytest.approx(0.2e-3, rel=1e-9)


@pytest.mark.parametrize(
    ("breaker", "current", "says"),
    [
        # IEC 60898-1: not within an hour at 1.13 times its rating, within the hour at 1.45, not at
        # once up to 3 (B), 5 (C), 10 (D), at once from 5, 10, 20 on.
        ("B16", 1.12 * 16, "may trip it"),
        ("B16", 1.45 * 16, "within the hour"),
        ("B16", 2.55 * 16, "within a minute or two"),
        ("B16", 3.0 * 16, "within a minute or two"),
        ("B16", 3.1 * 16, "may trip it at once"),
        ("B16", 5.0 * 16, ". That trips it at once"),
        ("C16", 5.1 * 16, "may trip it at once"),
        ("C16", 4.9 * 16, "within a minute or two"),
        ("C16", 10.0 * 16, ". That trips it at once"),
        ("D16", 20.0 * 16, ". That trips it at once"),
        ("UL 489 20 A", 30.0, "look up"),
        # IEC 60269, gG 16 A: within the hour from 25.6 A, within 5 s from 65 A, I2t at most 1000 A2s.
        ("gG16", 24.0, "may blow it"),
        ("gG16", 30.0, "blows it within the hour"),
        ("gG16", 70.0, "blows it within a minute or two"),
        ("gG16", 400.0, "blows it at once"),
        ("BS 1362 13 A", 26.0, "blows it within the hour"),
        ("B16", 15.9, None),
    ],
)
def test_what_the_breaker_does_when_the_lead_ends_are_joined(design, breaker, current, says):
    mains = design.vary("mains.breaker", breaker).mains
    found = [caution.text for caution in breaker_cautions(mains, {"Shorted": current}, NOT_ASKED)]
    assert len(found) == (says is not None)
    assert says is None or says in found[0]


def test_a_rating_alone_says_what_it_was_taken_for(design):
    mains = design.vary("mains.breaker", "20 A").mains
    (caution,) = breaker_cautions(mains, {"Idle": 1.0}, 100.0)
    assert '"20 A" names no standard: a breaker of UL 489 is taken' in caution.text


def test_a_plug_fuse_is_named_beside_the_breaker(design):
    # BS 1362, 13 A: blows at 1.9 times its rating within 30 min.
    mains = design.vary("mains.plug_fuse", "13 A").mains
    (caution,) = breaker_cautions(mains.model_copy(update={"breaker": "D63"}), {"Shorted": 25.0}, NOT_ASKED)
    assert "1.92 times the 13 A plug fuse. That blows it within the hour" in caution.text


def test_a_first_peak_in_the_instantaneous_band_is_named(design):
    # IEC 60898-1, table 7: type B does not open at once below 3 times its rating, r.m.s.
    mains = design.vary("mains.breaker", "B16").mains
    assert list(breaker_cautions(mains, {}, 2.9 * 16)) == []
    (caution,) = breaker_cautions(mains, {}, 100.0)
    assert "may trip" in caution.text


def test_without_a_breaker_nothing_is_promised(design):
    (caution,) = breaker_cautions(design.vary("mains.breaker", None).mains, {"Idle": 1.0}, 100.0)
    assert "not checked" in caution.text


def test_saturation_is_named_only_where_there_is_some(design, hand_made):
    assert "1.53 T" in texts(SATURATION, design, hand_made.saturation, "saturation")[0]
    low = replace(hand_made.saturation, peak_flux_density=1.3, margin=0.1)
    assert texts(SATURATION, design, low, "saturation") == []


def test_zero_clearance_is_named(design, hand_made):
    assert texts(BUILD, design, hand_made.build, "fit") == []
    found = texts(BUILD, design.vary("windings.leg_clearance", 0.0), hand_made.build, "fit")
    assert any("no clearance to the leg" in text for text in found)


def test_two_primaries_are_live_together(design, hand_made):
    assert texts(BUILD, design, hand_made.build, "two cores") == []
    (text,) = texts(BUILD, design, replace(hand_made.build, cores=2, primaries="series"), "two cores")
    assert "the other is live too" in text


def test_a_high_secondary_voltage_is_named(design, hand_made):
    found = hand_made.open_circuit
    assert texts(OPEN_CIRCUIT, design, found, "touch") == []
    assert len(texts(OPEN_CIRCUIT, design, replace(found, secondary_voltage_rms=30.0), "touch")) == 1


def test_what_always_holds_is_always_said_last(design, hand_made):
    subjects = [c.about for c in hand_made.cautions]
    assert subjects[-len(always()) :] == [caution.about for caution in always()]
    said = " ".join(f"{c.about}: {c.text}" for c in hand_made.cautions)
    for word in ("mains", "earth", "capacitors", "RCD", "Mohm", "fumes", "burns", "code", "licensed", "unknown"):
        assert word in said


def test_implants_are_kept_off_by_the_pair_of_leads_not_by_a_lone_one():
    # B = mu0 I/(2 pi) d/r^2 abreast of a pair: r = sqrt(2e-7 * 1000 * 0.04 / 1e-4) m; of a lone lead 2e-7 I/B = 2.0 m.
    implants, people = near_leads(1000.0, 50.0, 0.04)
    assert "within 28 cm of the leads. There 1000 A 40 mm apart make 0.1 mT at 50 Hz" in implants.text
    assert implants.danger is Danger.KILLS
    assert people.short == "Keep people 20 cm from the leads, yourself 8.9 cm."
    assert "within 2 m of a lead" in next(near_leads(1000.0, 50.0)).text


@pytest.mark.parametrize(
    ("voltage", "says"),
    [(25.0, None), (30.0, "Above 25 V a.c."), (60.0, "Above 50 V a.c. or 120 V d.c."), (2000.0, "Above 1000 V a.c.")],
)
def test_lead_ends_are_judged_by_their_band_of_voltage(voltage, says):
    # IEC 61140: extra-low voltage ends at 50 V a.c. and 120 V d.c., low voltage at 1000 V a.c.
    assert [says in caution.text for caution in touch(voltage)] == [True] * (says is not None)


def test_eye_shade_goes_by_process_and_voltage_and_only_with_an_arc_by_amperes(design):
    # 29 CFR 1910.133: torch brazing 3 or 4, soldering 2, an arc of 160 to 250 A 10, of 250 to 550 A 11.
    assert "shade 3 or 4 for brazing" in eyes(design, 3.0, 2000.0).text
    solder = design.vary("work_piece.joint.filler_melts_at", "183 degC")
    assert "shade 2 for soldering" in eyes(solder, 3.0, 2000.0).text
    for current, shade in ((200.0, 10), (500.0, 11), (2000.0, 14)):
        assert f"filter shade {shade} at least" in eyes(design, 30.0, current).text


def test_what_the_job_makes_acute_is_said_and_nothing_else(design):
    assert len(list(old_winding(design, 1.0))) == 1
    assert list(old_winding(design.vary("core.joint", "butt"), 1.0)) == []
    assert list(extra_turns(design)) == []
    extra = {"turns": 4, "conductor": {"round": "1.6 mm"}}
    assert "230 V against earth" in next(extra_turns(design.vary("windings.primary.extra", extra))).text
    assert list(stray(50.0)) == []
    assert len(list(stray(2000.0))) == 1
    assert [c.about for c in solder_fumes(design)] == ["solder fumes"]
    assert list(solder_fumes(design.vary("work_piece", None))) == []


def test_one_number_of_how_long_a_burst_may_be(design):
    """The heat model's where it is known; with no heat escaping only where it is not asked for."""
    wanted = frozenset({Part.HEATING})
    for part, adiabatic in ((wanted, False), (frozenset(), True)):
        found = estimate(design, wanted=part, characteristics=KEPT)
        (said,) = [
            caution for caution in found.cautions if "no heat escaping" in caution.text or "longer" in caution.text
        ]
        assert ("no heat escaping" in said.text) == adiabatic
        if not adiabatic:
            assert said.numbers["heating.shorted.longest_s"] == found.heating.shorted.longest
        assert always_holds(found.to_dict()) == []


def test_the_worst_stands_first_and_the_rest_as_they_came():
    came = [
        Caution(about=about, text="", danger=danger, general=general)
        for about, danger, general in (
            ("mains", Danger.KILLS, True),
            ("breaker", Danger.DISTURBS, False),
            ("heat", Danger.BURNS, False),
            ("fit", Danger.DAMAGES, False),
            ("work", Danger.BURNS, False),
            ("touch", Danger.KILLS, False),
            ("work", Danger.DAMAGES, False),
        )
    ]
    listed = in_order(came)
    assert [c.about for c in listed] == ["touch", "heat", "work", "fit", "work", "breaker", "mains"]
    assert in_order(listed) == listed
    assert [c.about for c in foremost(came)] == ["touch", "heat", "work"]
    assert [c.about for c in foremost(came, 5)] == ["touch", "heat", "work", "fit", "breaker"]
    assert [c.about for c in foremost(came[:2])] == ["breaker", "mains"]


def test_general_words_stand_by_danger_too():
    assert in_order(always()) == always()
