"""The verdict: one screen whatever the job has or lacks, and nothing in it that is not in the estimate."""

import io
import re
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.console import Console

from fem.cli import run
from fem.design.typical import LeftOut, Taken
from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.text.estimate import NAMES, report, sections
from fem.report.text.numbers import shown
from fem.report.text.verdict import held, verdict_screen
from fem.report.verdict.answer import Decides
from fem.report.verdict.whole import Verdict, verdict
from tests.support.told import DESIGNS, quickly

LINES, COLUMNS = 24, 80
"""Of the smallest terminal that is common."""


@pytest.fixture(scope="module", params=DESIGNS)
def found(request: pytest.FixtureRequest) -> Estimate:
    """Several designs, each number with a wide band."""
    return quickly(request.param)


def screen(told: Verdict, width: int = COLUMNS) -> list[str]:
    console = Console(file=io.StringIO(), width=width, color_system=None)
    console.print(verdict_screen(told))
    return console.file.getvalue().splitlines()


def test_it_fits_the_screen_and_no_answer_is_cut(found: Estimate) -> None:
    told = verdict(found)
    lines = screen(told)
    assert len(lines) <= LINES
    assert max(map(len, lines)) <= COLUMNS
    for one in told.answers:
        assert held(one.answer) == one.answer, one
    assert not any("..." in line for line in lines[1:])


def test_it_fits_with_gaps_too(found: Estimate) -> None:
    """Whichever section is lost is named with its reason; the others stand."""
    why = Unknown("no convergence: the burst was not followed beyond 0.217 s for want of data on the metal", gap=True)
    for section in ("work_piece", "heating", "milliohms", "load", "switch_on", "load_line"):
        lines = screen(verdict(replace(found, **{section: why})))
        assert len(lines) <= LINES
        assert max(map(len, lines)) <= COLUMNS
        assert section in {"milliohms", "load", "load_line"} or any("not known" in line for line in lines), section


def test_numbers_are_those_of_the_estimate(found: Estimate) -> None:
    text = "\n".join(screen(verdict(replace(found, bands={}))))
    current, idle = found.short_circuit.secondary_current_rms, found.idle.current_rms
    for value, unit in ((current, "A"), (idle, "A"), (found.open_circuit.secondary_voltage_rms, "V")):
        assert shown(value, unit) in text
    if found.switch_on:
        assert shown(found.switch_on.primary_first_peak, "A") in text


def test_the_milliohm_table_has_the_largest_rows_and_sums_to_the_whole(found: Estimate) -> None:
    told, milliohms = verdict(found), found.milliohms
    assert milliohms
    state = milliohms.burst or milliohms.loaded or milliohms.shorted
    assert state
    *rows, whole = told.milliohms
    largest = sorted((part.voltage for part in state.parts.values()), reverse=True)[:4]
    assert [row.voltage for row in rows[:4]] == largest
    assert sum(row.percent for row in rows) == whole.percent == 100
    assert sum(row.resistance for row in rows) == pytest.approx(state.resistance, rel=1e-9)
    assert sum(row.reactance for row in rows) == pytest.approx(state.reactance, rel=1e-9)
    assert sum(row.power for row in rows) == pytest.approx(state.power, rel=1e-9)


def test_the_longest_burst_is_the_one_described(found: Estimate) -> None:
    """Of the work where there is work, else into the load, else with the lead ends joined."""
    (answer,) = (one.answer for one in verdict(replace(found, bands={})).answers if one.question == "longest burst")
    heating, work = found.heating, found.work_piece
    assert heating
    if work:
        assert "lead ends joined" not in answer
        assert "work melts through" in answer or "set by" in answer or "no limit" in answer
    else:
        state = heating.loaded or heating.shorted
        assert state
        assert f"set by {state.limiting_part}" in answer
        assert answer.endswith("into the load" if heating.loaded else "lead ends joined")


def test_what_decides_stands_in_words(hand_made: Estimate) -> None:
    """A breaker's words, and yes or no, are in the text: colour says nothing that it does not."""
    answers = {one.question: one for one in verdict(hand_made).answers}
    assert answers["no-load"].decides is Decides.CARE
    assert "above 1.50 T" in answers["no-load"].answer
    assert answers["stay plugged in?"].answer.startswith("not known")
    console = Console(file=io.StringIO(), width=COLUMNS, color_system=None)
    console.print(verdict_screen(verdict(hand_made)))
    assert "\x1b" not in console.file.getvalue()


def test_what_the_job_leaves_out_is_named(hand_made: Estimate) -> None:
    left_out = (LeftOut(key="mains.breaker", untold="whether it holds"), LeftOut(key="duty", untold="how often"))
    assumed = (Taken(key="core.steel", value="a middling one", why="nobody knows"),)
    told = verdict(replace(hand_made, left_out=left_out, assumed=assumed))
    assert told.untold == "breaker, duty; 1 key taken as usual"


def test_the_mains_line_says_what_the_machine_works_into(found: Estimate) -> None:
    said = {one.question for one in verdict(found).answers if one.question.startswith("mains")}
    state = "burst" if found.supply.burst else "loaded" if found.load else "joined"
    assert said <= {f"mains, {state}", "mains, bursts"}
    assert {one.question for one in verdict(replace(found, supply=replace(found.supply, devices={}))).answers} >= {
        f"mains, {state}"
    }


def test_letters_of_two_columns_keep_to_the_screen(found: Estimate) -> None:
    lines = screen(verdict(replace(found, title="鋼帯ろう付け" * 8)))
    assert lines[0].startswith("鋼帯ろう付け")
    assert lines[1].startswith("lead ends")
    assert max(map(cell_len, lines)) <= COLUMNS


@pytest.fixture
def computed(monkeypatch: pytest.MonkeyPatch, hand_made: Estimate) -> None:
    monkeypatch.setattr("fem.estimation.one_design.estimate", lambda design, **_: hand_made)


@pytest.mark.usefixtures("computed")
def test_the_rest_is_told_on_request(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["estimate", "-q"]) == 0
    first = capsys.readouterr().out
    assert "--whole" in first.splitlines()[-1]
    assert run(["estimate", "-q", "--whole"]) == 0
    whole = capsys.readouterr().out
    assert whole.startswith(first.splitlines()[0])
    assert "Leakage ---" in whole
    assert run(["estimate", "-q", "--section", "leakage", "--section", "flux"]) == 0
    some = capsys.readouterr().out
    assert some.index("Flux in the core") < some.index("Leakage ---")
    assert "Cautions" not in some
    assert run(["estimate", "-q", "--section", "work"]) == 0
    assert "not asked for" in capsys.readouterr().out


def test_a_section_that_there_is_not_names_all_that_there_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["estimate", "--section", "cheese"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("rewound: --section cheese: no such section; there are ")
    assert err.count("\n") == 1
    assert all(name in err for name in NAMES)


def test_the_whole_report_has_every_section(hand_made: Estimate) -> None:
    console = Console(file=io.StringIO(), width=100, color_system=None)
    console.print(report(hand_made))
    for heading in ("Cautions", "Checks of the computation"):
        assert heading in console.file.getvalue()


@pytest.fixture(scope="module")
def told(found: Estimate) -> list[str]:
    """The lines of all sections but the cautions, which are sentences of their own."""
    console = Console(file=io.StringIO(), width=250, color_system=None)
    console.print(*sections(found, [name for name in NAMES if name != "cautions"]))
    return [" ".join(line.split()) for line in console.file.getvalue().splitlines()]


def test_numbers_of_the_whole_report_are_written_as_one_reads_them(told: list[str]) -> None:
    """No exponent, no minus before nothing, no minutes in seconds."""
    for line in told:
        assert not re.search(r"\d[eE][+-]\d", line), line
        assert not re.search(r"(?<![\d.])-0(?:\.0+)?(?![\d.])", line), line
        seconds = re.findall(r"(?<![\w.-])(\d+(?:\.\d+)?) s\b", line)
        assert all(float(number) < 60 for number in seconds), line


def test_one_thing_has_one_name(told: list[str]) -> None:
    others = r"\bidle\b|shorted|nothing connected|without load|short[ -]circuit"
    assert [line for line in told if re.search(others, line, re.IGNORECASE)] == []


def test_no_shares_sum_to_more_than_the_whole(told: list[str]) -> None:
    lists = [some for line in told for some in re.findall(r"(?:[A-Za-z' ]+ \d+ %, )+[A-Za-z' ]+ \d+ %", line)]
    assert lists
    for some in lists:
        assert sum(map(int, re.findall(r"(\d+) %", some))) <= 100, some
