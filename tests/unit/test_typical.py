"""The shortest job: what is not told is taken as usual and said, what follows from the rest is computed."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from pydantic import ValidationError

import fem
from fem.design.job import JOB_FILE, read_job
from fem.design.tables import JobError
from fem.design.transformer import Design
from fem.examples import example
from fem.trust.doubts import doubts_of
from tests.support.kept import KEPT

JOB = Path(str(example("shortest")))
SHORT = read_job(JOB)
TABLES = tomllib.loads(JOB.read_text("utf-8"))


def edited(tmp_path: Path, *edits: tuple[str, str]) -> Path:
    text = JOB.read_text("utf-8")
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    path = tmp_path / "job.toml"
    path.write_text(text, "utf-8")
    return path


def faults_of(path: Path) -> list[str]:
    with pytest.raises(JobError) as refused:
        read_job(path)
    return [line.removeprefix(f"{path}: ") for line in refused.value.lines]


def test_it_is_short_and_says_what_was_taken() -> None:
    assert len(JOB.read_text("utf-8").splitlines()) <= 20
    keys = [taken.key for taken in SHORT.taken]
    assert len(set(keys)) == len(keys)
    assert {"core.outer_leg_width", "core.joint", "core.steel", "windings.spacing", "leads.area"} <= set(keys)
    for taken in SHORT.taken:
        table = TABLES
        for name in taken.key.split("."):
            table = table.get(name, {}) if isinstance(table, dict) else {}
        assert table == {}, f"{taken.key} is told"
        assert taken.value
        assert taken.why
    assert [section.key for section in SHORT.left_out] == ["mains.breaker", "load", "work_piece", "duty"]


def test_telling_what_was_taken_changes_nothing() -> None:
    told = SHORT
    for taken in SHORT.taken:
        if taken.key in {"mains.source_resistance", "leads.joints", "windings.primary.conductor"}:
            continue  # of two numbers, of the build, and of a size that is rounded when it is said
        value = taken.value.removesuffix(" cable")
        told = told.vary(taken.key, value)
    near = told.model_dump(exclude={"windings"})
    for name, table in SHORT.model_dump(exclude={"windings"}).items():
        assert near[name] == pytest.approx(table) if isinstance(table, float) else near[name] == table
    assert {taken.key for taken in told.taken} == {
        "mains.source_resistance",
        "leads.joints",
        "windings.primary.conductor",
    }


def test_sheets_without_waste_have_outer_legs_and_yokes_of_half_the_leg() -> None:
    # Midcom technical note 85, as in ei_laminations.csv
    leg = SHORT.core.leg_width
    assert (SHORT.core.outer_leg_width, SHORT.core.yoke_height) == ((leg / 2, leg / 2), leg / 2)
    wider = SHORT.vary("core.leg_width", "50 mm")
    assert wider.core.yoke_height == pytest.approx(0.025, rel=1e-12)
    one = Design.model_validate({**TABLES, "core": {**TABLES["core"], "type": "two-leg"}}, context=JOB_FILE)
    assert one.core.yoke_height == one.core.leg_width


def test_the_wire_is_that_of_the_measured_resistance() -> None:
    # The same wire, told, of which the estimate computes the resistance by the winding as it lies in the window: the
    # mean turn here is of a build that is guessed, 0.6 of the window's width, half of which is pi/2 29 mm of 280 mm.
    told = SHORT.vary("windings.primary.conductor.round", SHORT.windings.primary.conductor.bare_width)
    plain = told.vary("windings.primary.resistance", None)
    found = fem.estimate(plain, wanted=set(), characteristics=KEPT).build.primary.resistance
    assert found == pytest.approx(SHORT.windings.primary.resistance, rel=0.15)
    # R goes with 1/d^2, exactly so where the mean turn is the same
    double = SHORT.vary("windings.primary.resistance", 2 * SHORT.windings.primary.resistance).windings.primary
    assert (SHORT.windings.primary.conductor.area / double.conductor.area) == pytest.approx(2, rel=2e-3)
    hand = SHORT.vary("windings.primary.wires_in_hand", 2).windings.primary
    assert hand.copper_area == pytest.approx(SHORT.windings.primary.copper_area, rel=2e-3)


def test_the_secondary_s_cable_goes_on_as_leads() -> None:
    twice = SHORT.vary("windings.secondary.turns", 1).vary("windings.secondary.wires_in_hand", 2)
    assert twice.leads.conductor.area == pytest.approx(140e-6)
    gauge = SHORT.vary("windings.secondary.conductor.cable", "1/0")
    assert gauge.leads.conductor.label == "1/0 AWG cable"


def test_what_was_taken_is_in_doubt_by_more() -> None:
    told = SHORT
    for key, value in (
        ("core.joint", "welded"),
        ("core.steel", "M530-50A"),
        ("core.yoke_height", "26 mm"),
        ("windings.spacing", "3 mm"),
        ("leads.spacing", "100 mm"),
    ):
        told = told.vary(key, value)
    narrow, wide = ({doubt.name: doubt for doubt in doubts_of(design)} for design in (told, SHORT))
    assert set(narrow) == set(wide)
    wider = {
        "core.joint_gap",
        "core.remanence",
        "core.yoke_height",
        "windings.spacing",
        "leads.spacing",
        "steel.field",
        "loss.grade",
        "loss.building",
    }
    for name, doubt in wide.items():
        width, other = (np.ptp(one.quantile(np.array([0.05, 0.95]))) for one in (doubt, narrow[name]))
        assert (width > other) if name in wider else (width == other), name


def test_an_estimate_lists_it() -> None:
    found = fem.estimate(SHORT, wanted=set(), characteristics=KEPT)
    assert found.assumed == SHORT.taken
    assert found.to_dict()["assumed"][0].keys() == {"key", "value", "why"}
    assert [section["key"] for section in found.to_dict()["left_out"]] == [s.key for s in SHORT.left_out]
    # of any joint the most remanence that one is known to leave: interleaved sheets
    peaks = fem.estimate(SHORT, wanted={fem.Part.SWITCH_ON}, characteristics=KEPT).switch_on
    assert "70% of the no-load peak, the most that any joints leave" in peaks.remanence_chosen


NEEDED = [
    ('leg_width = "52 mm"       # of the centre leg\n', "core.leg_width: missing"),
    ('stack_depth = "56 mm"\n', "core.stack_depth: missing"),
    ('window_width = "29 mm"\n', "core.window_width: missing"),
    ('arrangement = "side-by-side"\n', "windings.arrangement: missing"),
    (
        'resistance = "0.60 ohm"   # measured cold, or the conductor in its place\n',
        "windings.primary.conductor: missing",
    ),
    ('conductor = { cable = "70 mm2" }\n', "windings.secondary.conductor: missing"),
    ('length = "1.5 m"          # go plus return\n', "leads.length: missing"),
    ('voltage = "230 V"\n', "mains.voltage: missing"),
]


@pytest.mark.parametrize(("line", "fault"), NEEDED)
def test_what_nothing_stands_for_is_asked_for_in_one_line(tmp_path: Path, line: str, fault: str) -> None:
    assert faults_of(edited(tmp_path, (line, ""))) == [fault]


def test_a_wrong_key_is_not_wrong_once_more_where_others_follow_from_it(tmp_path: Path) -> None:
    (line,) = faults_of(edited(tmp_path, ('leg_width = "52 mm"', 'leg_width = "48 V"')))
    assert line.startswith("core.leg_width: expected a length")
    (line,) = faults_of(edited(tmp_path, ('resistance = "0.60 ohm"', 'resistance = "0.65 V"')))
    assert line.startswith("windings.primary.resistance: expected a resistance")
    with pytest.raises(ValidationError, match="leg_width"):
        SHORT.vary("core.leg_width", "48 V")


@pytest.mark.slow
def test_bands_hold_what_another_joint_or_sheet_would_give() -> None:
    band = fem.estimate(SHORT, wanted={fem.Part.BANDS}, characteristics=KEPT).bands["idle.current_rms_A"]
    for key, value in (("core.joint", "butt"), ("core.joint", "interleaved"), ("core.steel", "M800-50A")):
        other = fem.estimate(SHORT.vary(key, value), wanted=set(), characteristics=KEPT).idle.current_rms
        assert band.low < other < band.high, (key, value)
