"""What cannot be had is said in one line with its reason and an exit code, from whichever command."""

import re
from importlib.resources import files
from pathlib import Path

import pytest
from pydantic import ValidationError

from fem.cli import run
from fem.design.job import read_job
from fem.design.tables import JobError, read_tables
from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.card import card
from fem.estimation.one_design import estimate
from fem.sweeps.axes import job_at

EXAMPLE = (files("fem") / "examples" / "bandsaw_brazing.toml").read_text("utf-8")
CURRENT = "short_circuit.secondary_current_rms_A"


def job_with(folder: Path, *edits: tuple[str, str]) -> Path:
    text = EXAMPLE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new, 1)
    job = folder / "job.toml"
    job.write_text(text, "utf-8")
    return job


TOO_MANY = ("turns = 3\n", "turns = 40\n")
TWO_LEG = (('type = "shell"', 'type = "two-leg"'), ('outer_leg_width = "26 mm"', ""))
SHUNT = ("[leads]", '[shunt]\nheight = "20 mm"\ntotal_gap = "1 mm"\n[leads]')
SECOND = ('steel = "M530-50A"', 'steel = "M530-50A"\nsecond = { spacing = "5 mm", primaries = "series" }')
NOT_FITTING = {
    "shell": ((TOO_MANY,), "windings.secondary"),
    "two-leg": ((*TWO_LEG, TOO_MANY), "windings.secondary"),
    "shunt": ((SHUNT,), "shunt"),
    "two-leg with shunt": ((*TWO_LEG, SHUNT), "shunt"),
    "second core": ((SECOND,), "core.second.spacing"),
}


@pytest.mark.parametrize("name", NOT_FITTING)
def test_what_does_not_fit_is_one_line_for_each_reason_from_every_command(tmp_path, capsys, name):
    edits, key = NOT_FITTING[name]
    job = job_with(tmp_path, *edits)
    with pytest.raises(JobError) as caught:
        read_job(job)
    lines = list(caught.value.lines)
    assert lines
    assert any(line.startswith(f"{job}: {key}: ") for line in lines)
    for command in (
        ["estimate", str(job)],
        ["card", str(job)],
        ["sweep", str(job), "--vary", "leads.length=1:3m"],
        ["sweep", str(job), "--find", f"{CURRENT}=900", "--along", "leads.length=1:3m"],
    ):
        assert run(command) == 2
        out, err = capsys.readouterr()
        assert (out, err.splitlines()) == ("", lines)
    design = Design.model_validate(read_tables(job), context={"job_file": True})
    for compute in (estimate, card):
        with pytest.raises(DoesNotFit) as refused:
            compute(design)
        assert [f"{job}: {key}: {text}" for key, text in refused.value.faults] == lines


def test_a_bad_table_ends_a_sweep_before_it_begins(tmp_path, capsys):
    (tmp_path / "t.csv").write_text("H_A_per_m,B_T\n0,0\n100,1\n90,1.2\n")
    job = job_with(tmp_path, ('steel = "M530-50A"', 'bh_table = "t.csv"'))
    assert run(["sweep", str(job), "--vary", "leads.length=1:3m"]) == 2
    assert capsys.readouterr().err == (
        f"{job}: core.bh_table: t.csv, line 4: 90 A/m, 1.2 T after 100 A/m, 1 T; both columns must rise\n"
    )


def test_where_some_points_fit_the_others_are_rows(tmp_path, capsys):
    job = job_with(tmp_path)
    assert run(["sweep", str(job), "--vary", "windings.secondary.turns=3,40"]) == 0
    assert re.search(r"2 points: 1 done, 1 refused \(the first: windings\.secondary: 40 turns", capsys.readouterr().err)


def test_a_search_that_finds_nothing_says_where_and_why(tmp_path, capsys):
    """At 1 to 2 m of 70 mm2 the example's short is some 1 kA: 1 MA lies beyond, and 40 turns do not go in."""
    job = job_with(tmp_path)
    find = ["--along", "leads.length=1:2m", "--vary", "windings.secondary.turns=3,40"]
    assert run(["sweep", str(job), "--find", f"{CURRENT}=1e6", *find]) == 1
    lines = [line for line in capsys.readouterr().err.splitlines() if "nothing found" in line]
    assert len(lines) == 2
    assert re.fullmatch(
        rf"rewound sweep: nothing found at windings\.secondary\.turns = 3: {re.escape(CURRENT)} is \d+\.?\d* to "
        r"\d+\.?\d* for leads\.length from 1 m to 2 m, not 1e\+06",
        lines[0],
    )
    assert "turns = 40: windings.secondary: 40 turns" in lines[1]


def test_a_search_for_what_is_no_result_is_refused(tmp_path, capsys):
    job = job_with(tmp_path)
    assert run(["sweep", str(job), "--find", "short_circuit.secondary_A=900", "--along", "leads.length=1:2m"]) == 2
    assert "unknown result" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("work_piece.section.strip", [[1], [2]]),
        ("work_piece.section.strip", [{"a": 1}]),
        ("leads.area", [[1]]),
        ("windings.primary.conductor.strip", [[1], [2]]),
        ("windings.primary.conductor.insulated", {"a": [1]}),
    ],
)
def test_no_kind_of_value_escapes_as_another_error(key, value):

    tables = read_tables(Path(str(files("fem") / "examples" / "bandsaw_brazing.toml")))
    with pytest.raises(ValidationError):
        Design.model_validate(job_at(tables, {key: value}), context={"job_file": True})
