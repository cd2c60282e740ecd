"""A part of an estimate is the same number whichever other parts are asked for."""

from typing import Any

import pytest

import fem.characteristics.magnetising.shorted
import fem.estimation.inputs.bursts
from fem.characteristics.magnetising.shorted import INSTANTS
from fem.design.job import read_job
from fem.design.transformer import Design, as_given
from fem.errors import OutOfRange
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.examples import example
from fem.quantity import Unknown
from tests.support.kept import KEPT

NEEDS_THE_WORK = (Part.HEATING, Part.LOAD_LINE)
"""What works into the hot work piece where no load is described."""


@pytest.fixture(scope="module")
def brazing() -> Design:
    """The example with nothing at the lead ends but the work piece."""
    return Design.model_validate(
        {key: table for key, table in as_given(read_job(str(example()))).items() if key != "load"}
    )


def test_heat_and_load_line_take_the_hot_work_piece_when_asked_for_alone(brazing: Design) -> None:
    together = estimate(brazing, wanted={*NEEDS_THE_WORK, Part.WORK_PIECE}, characteristics=KEPT).to_dict()
    assert together["heating"]["burst"]["last_current_rms_A"] == pytest.approx(
        together["work_piece"]["hot_current_rms_A"], rel=1e-6
    )
    assert together["heating"]["duty"]["works_into"] == "the work piece"
    assert together["heating"]["loaded"] is None
    for part, key in zip(NEEDS_THE_WORK, ("heating", "load_line"), strict=True):
        alone = estimate(brazing, wanted={part}, characteristics=KEPT).to_dict()
        assert alone[key] == together[key]
        assert alone["work_piece"] is None
        assert alone["gaps"] == []


def test_a_work_piece_that_fails_takes_with_it_only_what_rests_on_it(
    brazing: Design, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No hot resistance: no burst into it, no duty, no volts there. The lead ends joined and the load line stand."""
    tries = []

    def glows(*_: object, **__: object) -> None:
        tries.append(1)
        msg = "the carbon passes 3500 degC after 2.1 s: no data beyond"
        raise OutOfRange(msg)

    monkeypatch.setattr(fem.estimation.inputs.bursts, "fed_side_by_side", glows)
    found = estimate(brazing, characteristics=KEPT, wanted={*NEEDS_THE_WORK, Part.WORK_PIECE, Part.BANDS})
    assert set(found.gaps) == {
        "work_piece",
        "milliohms.burst",
        "heating.burst",
        "heating.duty",
        "supply.burst",
        "supply.repeated_bursts",
    }
    assert {found.reasons[key] for key in found.gaps} == {"the carbon passes 3500 degC after 2.1 s: no data beyond"}
    # what failed once is not tried again: the burst, and the flow of the duty
    assert len(tries) == 2
    assert not isinstance(found.heating, Unknown)
    assert not isinstance(found.heating.shorted, Unknown)
    assert not isinstance(found.load_line, Unknown)


@pytest.fixture(scope="module")
def rectified(brazing: Design) -> Estimate:
    """The example behind a half-wave rectifier, resistances given at the temperature of the room."""
    given = {key: table for key, table in as_given(brazing).items() if key != "work_piece"}
    given["load"] = {"resistance": 1.5e-3, "rectifier": "half-wave"}
    design = Design.model_validate(given).vary("temperature", 298.15)
    return estimate(design, wanted={Part.HEATING, Part.LOAD_LINE}, characteristics=KEPT)


def test_a_rectified_load_heats_by_its_own_currents(rectified: Estimate) -> None:
    """One burst from cold has the r.m.s. currents of the load's own section, on both sides."""
    load, heat = rectified.load, rectified.heating
    assert not isinstance(load, Unknown)
    assert not isinstance(heat, Unknown)
    assert not isinstance(heat.loaded, Unknown)
    assert not isinstance(heat.duty, Unknown)
    for part, current in (("primary", load.primary_current_rms), ("secondary", load.current_rms)):
        area = getattr(rectified.build, part).conductor_area
        assert heat.loaded.parts[part].current_density * area == pytest.approx(current, rel=1e-6)
    # warm windings and leads take part of a loop that the load has half of
    assert 0.9 * load.current_rms < heat.duty.current_rms < load.current_rms
    assert heat.loaded.load_resistance == 1.5e-3
    assert rectified.gaps == ()
    assert "heating.loaded" not in rectified.reasons


def test_the_volts_behind_a_rectifier_add_up(rectified: Estimate) -> None:
    """Watts are those of the load's own section and of the source before it, to the steps of its waves."""
    load, told = rectified.load, rectified.milliohms
    assert not isinstance(load, Unknown)
    assert not isinstance(told, Unknown)
    assert not isinstance(told.loaded, Unknown)
    parts = told.loaded.parts
    assert sum(part.share for part in parts.values()) == pytest.approx(1.0, abs=1e-12)
    assert parts["load"].voltage == pytest.approx(load.voltage_rms, rel=1e-9)
    assert told.loaded.power - parts["source"].power == pytest.approx(load.input_power, rel=1e-2)


def test_the_duty_allowed_is_not_a_question_of_the_duty_asked_about(brazing: Design) -> None:
    """The same period shared out otherwise: the machine allows what it allows, and is too hot where it is hotter."""
    shares = []
    for on_time in (1.5, 55.0):
        duty = {"on_time": on_time, "off_time": 61.5 - on_time, "ambient": 298.15, "plugged_in": True}
        found = estimate(brazing.vary("duty", duty), wanted={Part.HEATING}, characteristics=KEPT).heating
        assert not isinstance(found, Unknown)
        assert not isinstance(found.duty, Unknown)
        shares.append(found.duty.allowed_share)
        assert bool(found.duty.too_hot) == (found.duty.share > found.duty.allowed_share)
        if not isinstance(found.duty.peak_temperatures, Unknown):
            limits = {"primary": 373.15, "secondary": 358.15, "lead 1": 358.15, "joints": 363.15}
            hot = {part for part, limit in limits.items() if found.duty.peak_temperatures[part] > limit}
            assert set(found.duty.too_hot) == hot
    assert shares == pytest.approx(shares[:1] * 2, rel=1e-12)


def test_joints_that_glow_end_the_burst_and_nothing_else(brazing: Design) -> None:
    """4 mohm of dirt take the joints' 115 J/K to their limit first and beyond 627 degC before any winding is warm."""
    dirty = brazing.vary("load", {"resistance": 1.5e-3}).vary("leads.joint_resistance", 4e-3)
    found = estimate(dirty, wanted={Part.HEATING}, characteristics=KEPT)
    assert found.gaps == ()
    assert not isinstance(found.heating, Unknown)
    shorted = found.heating.shorted
    assert not isinstance(shorted, Unknown)
    assert shorted.limiting_part == "joints"
    current = shorted.parts["secondary"].current_density * found.build.secondary.conductor_area
    # adiabatic up to 90 degC; two cables of 70 mm2 take k S sqrt(4 t/(pi a)) per kelvin and second, a 1.1e-4 m2/s, over
    # 5 s: 18 J/K, half of it as the rise grows with time, 8 % of the joints' own
    kept_in = 0.3 * 385 * 65 / (current**2 * 4e-3)
    assert kept_in < shorted.longest < 1.15 * kept_in
    hot = found.heating.joints["joints"]
    assert hot.heat_shorted == pytest.approx(current**2 * 4e-3)
    assert shorted.parts["joints"].working == shorted.longest
    reason = found.reasons["heating.shorted.parts.secondary.working_s"]
    assert reason.startswith("joints passes 627 degC after")


def test_the_flux_while_shorted_takes_few_fields(brazing: Design, monkeypatch: pytest.MonkeyPatch) -> None:
    """A correction that knows no slope needs five to six fields an instant here, and more than 25 beside a shunt.

    A secant knows it from the third on and then adds more than half as many digits again each time: four to five.
    """
    fields = []
    solve = fem.characteristics.magnetising.shorted.solve

    def counted(*given: Any, **named: Any) -> Any:
        fields.append(1)
        return solve(*given, **named)

    monkeypatch.setattr(fem.characteristics.magnetising.shorted, "solve", counted)
    # leads as nowhere else: what is kept is the last state
    longer = brazing.vary("leads.length", 1.27)
    found = estimate(longer, wanted={Part.SHORTED_PLACES}, characteristics=KEPT)
    assert found.gaps == ()
    assert INSTANTS < len(fields) <= 5 * INSTANTS
