"""What to wind, told: aims and margins, ranks, table, JSON, CSV, and the lines for the job file."""

import csv
import json
import tomllib
from dataclasses import replace
from io import StringIO
from math import inf
from typing import Any

import pytest
from rich.console import Console

import fem.options.winding
from fem.cli import run
from fem.design.job import read_job
from fem.design.tables import JobError
from fem.design.transformer import Design
from fem.options.aims import Aim, aims_of, asked
from fem.options.candidates import Candidate, candidates
from fem.options.found import WindingOptions
from fem.options.outcome import Outcome
from fem.options.winding import _option, _ranked
from fem.quantity import Unknown
from fem.report.text.options import job_lines, options_csv, options_json, options_report
from geometries.shapes.blocks import blocks_of
from geometries.windings.arrangement import Windings, place
from tests.support.every_kind import design_of

OUTCOME = Outcome(
    works_into="the load",
    no_load_voltage=2.94,
    flux_density=1.52,
    knee_margin=-0.04,
    idle_current=1.16,
    core_loss=41.0,
    joined_current=2250.0,
    joined_primary_current=29.6,
    current=1140.0,
    primary_current=15.1,
    resistance=1.5e-3,
    burst=3.0,
    time_to_temperature=Unknown("no [work_piece] is described"),
    longest_burst=36.0,
    limiting_part="lead 1",
    shortest_period=28.0,
    breaker="holds",
    breaker_earliest=Unknown("carried for good"),
    conductor_length=1.9,
    secondary_mass=0.57,
    spare_height=0.0043,
    spare_build=0.0019,
)


def shop(kind: str = "shell", **more: Any) -> Design:
    given = design_of(kind).model_dump(exclude_unset=True)
    stock = [{"cable": "16 mm2", "insulated": "8 mm", "length": 2.0}]
    return Design.model_validate(given | {"shop": {"conductors": stock, "primary_slides": True}} | more)


@pytest.fixture(scope="module")
def few() -> list[Candidate]:
    return candidates(shop())[0][:4]


def told(aims: list[Aim], few: list[Candidate], *outcomes: Outcome) -> WindingOptions:
    options = _ranked([_option(one, found, aims) for one, found in zip(few, outcomes, strict=False)])
    return WindingOptions(
        aims=tuple(aims),
        options=tuple(options),
        fitting=9,
        nearly=tuple(few[3:]),
        assumed_stock=False,
        failed=(),
        stopped=False,
    )


def test_what_is_wanted_comes_from_the_wish_and_else_from_the_job() -> None:
    design = shop(duty={"on_time": 2.0, "off_time": 30.0}, mains={"voltage": 230, "frequency": 50, "breaker": "B16"})
    assert [(aim.word, aim.wanted, aim.told) for aim in aims_of(design)] == [
        ("burst", 2.0, "duty"),
        ("breaker", 2.0, "mains"),
    ]
    wished = design.vary("wish.burst", "4 s").vary("wish.breaker", "C20").vary("wish.current", "1 kA")
    wished = wished.vary("limits.idle_current", "1 A")
    assert [(aim.word, aim.wanted, aim.told) for aim in aims_of(wished)] == [
        ("current", 1000.0, "wish"),
        ("burst", 4.0, "wish"),
        ("breaker", 4.0, "wish"),
        ("idle", 1.0, "limits"),
    ]
    there = asked(wished)
    assert there.mains.breaker == "C20"
    assert there.duty is not None
    assert there.duty.on_time == 4.0


@pytest.mark.parametrize(
    ("aim", "found", "margin"),
    [
        (("current", "current", 1000.0, True), {}, 0.14),
        (("idle", "idle_current", 1.0, False), {}, 1 / 1.16 - 1),
        (("burst", "longest_burst", 30.0, True), {}, 0.2),
        (("burst", "longest_burst", 30.0, True), {"longest_burst": Unknown("no part reaches its limit")}, inf),
        (("burst", "longest_burst", 30.0, True), {"longest_burst": Unknown("no convergence", gap=True)}, -1.0),
        (("heat", "time_to_temperature", 3.0, False), {"time_to_temperature": Unknown("never")}, -1.0),
        (("breaker", "breaker_earliest", 3.0, True), {}, inf),
        (("breaker", "breaker_earliest", 3.0, True), {"breaker": "opens", "breaker_earliest": 1.5}, -0.501),
    ],
)
def test_a_margin_is_a_share_of_what_is_wanted(aim: Any, found: dict[str, Any], margin: float) -> None:
    word, key, wanted, least = aim
    it = Aim(word=word, key=key, wanted=wanted, unit="", least=least, told="wish")
    assert it.margin(replace(OUTCOME, **found)) == pytest.approx(margin)


def test_ranks_go_by_things_missed_then_margins_then_copper(few: list[Candidate]) -> None:
    """Of two with all, 12 and 14 % to spare, the lighter; one that misses comes last and says just that."""
    aims = [Aim(word="current", key="current", wanted=1000.0, unit="A", least=True, told="wish")]
    heavy, light = replace(OUTCOME, secondary_mass=0.9), replace(OUTCOME, current=1120.0)
    found = told(aims, few, replace(OUTCOME, current=990.0, secondary_mass=0.1), heavy, light)
    assert [option.outcome.current for option in found.options] == [1120.0, 1140.0, 990.0]
    assert found.options[2].misses == ("current 990 A, 1000 A wanted",)
    assert "least copper" in found.reason
    short = told(aims, few, replace(OUTCOME, conductor_length=2.5), replace(OUTCOME, secondary_mass=5.0))
    assert short.options[1].misses == ("stock 2 m, 2.5 m needed",)


def test_where_nothing_asks_for_current_the_most_is_best(few: list[Candidate]) -> None:
    """A breaker and a burst alone are met best by no current at all; within a step of 5 % the lighter is taken."""
    design = shop(mains={"voltage": 230, "frequency": 50, "breaker": "B16"})
    weak, strong = replace(OUTCOME, current=400.0, secondary_mass=0.1), replace(OUTCOME, current=1300.0)
    found = told(aims_of(design), few, weak, strong, replace(strong, breaker="opens", current=2000.0))
    assert [option.outcome.current for option in found.options] == [1300.0, 400.0, 2000.0]
    assert "drives the most" in found.reason
    assert [aim.said() for aim in aims_of(design)] == ["breaker holds for good"]


def test_the_report_keeps_to_its_width_and_json_and_csv_say_the_same(few: list[Candidate]) -> None:
    aims = aims_of(
        shop(mains={"voltage": 230, "frequency": 50, "breaker": "B16"}, wish={"current": 1200.0, "burst": 3.0})
    )
    found, text = told(aims, few, OUTCOME, replace(OUTCOME, current=1250.0)), StringIO()
    Console(file=text, width=100, markup=False, highlight=False).print(options_report(found, shop()))
    assert max(map(len, text.getvalue().splitlines())) <= 100
    assert "Just missed: " in text.getvalue()
    assert "has all that is wanted" in text.getvalue()
    data = json.loads(options_json(found, shop()))
    rows = list(csv.DictReader(StringIO(options_csv(found))))
    assert [float(row["outcome.current_A"]) for row in rows] == [1250.0, 1140.0]
    assert [option["outcome"]["current_A"] for option in data["options"]] == [1250.0, 1140.0]
    assert rows[1]["misses"] == "; ".join(data["options"][1]["misses"]) != ""


@pytest.mark.parametrize("kind", ["shell", "concentric", "two-leg", "interleaved"])
def test_the_lines_for_the_job_wind_what_was_told(kind: str) -> None:
    """Read in place of the job's own secondary they put every conductor where the candidate has it."""
    design = shop(kind)
    own = design.windings.model_dump(exclude_unset=True, exclude={"secondary"})
    for one in candidates(design)[0][::7]:
        lines = tomllib.loads("\n".join(job_lines(one, design))).get("windings", {})
        both = own | lines
        both["primary"] = own["primary"] | lines.get("primary", {})
        blocks = place(design.core, Windings.model_validate(both))
        for mine, theirs in zip(blocks, one.blocks, strict=True):
            assert (mine.winding, mine.share) == (theirs.winding, theirs.share)
            sizes = [(b.bottom, b.height, b.build, b.leg_clearance, b.leg_axis) for b in (mine, theirs)]
            assert sizes[0] == pytest.approx(sizes[1], abs=1e-9)
        assert len(blocks_of(blocks, "secondary")[0].places) == len(blocks_of(one.blocks, "secondary")[0].places)


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        ("[shop]\nconductors = []", "shop: conductors: 0 are listed, which is outside 1 to 20"),
        ('[shop]\nconductors = [{ cable = "35 mm2", length = "1 mm" }]', "shop.conductors.0.length: 1 mm is outside"),
        ('[wish]\ncurrent = "1 kV"', "wish.current: expected a current with its unit"),
        ('[wish]\ncurent = "1 kA"', 'wish.curent: unknown key "curent"; did you mean "current"?'),
        ('[wish]\nbreaker = "Z16"', "wish.breaker: expected a breaker such as"),
    ],
)
def test_a_wrong_shop_or_wish_is_one_line(lines: str, says: str, tmp_path: Any) -> None:
    from tests.unit.test_job import EXAMPLE

    job = tmp_path / "job.toml"
    job.write_text(EXAMPLE.partition("[shop]")[0].partition("[wish]")[0] + "\n" + lines + "\n", "utf-8")
    with pytest.raises(JobError) as caught:
        read_job(job)
    (line,) = caught.value.lines
    assert says in line


def test_the_command_prints_writes_and_keeps_what_is_computed(
    few: list[Candidate], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Any
) -> None:
    found = replace(told([], few, OUTCOME), stopped=True)
    monkeypatch.setattr(fem.options.winding, "winding_options", lambda *_, **__: found)
    assert run(["options", "-q", "--csv", str(tmp_path / "rows.csv"), "--json", str(tmp_path / "all.json")]) == 130
    out, _ = capsys.readouterr()
    assert out.startswith("What to wind: ")
    assert json.loads((tmp_path / "all.json").read_text("utf-8"))["stopped"] is True
    assert (tmp_path / "rows.csv").read_text("utf-8").count("\n") == 2
