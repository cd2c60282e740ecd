"""`rewound sweep` as it is typed: exit codes, what goes where, resuming. The field is solved once."""

import csv
import json
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from fem.cli import run
from fem.design.job import read_job
from fem.estimation.case import Case
from fem.estimation.one_design import estimate
from fem.sweeps import designs
from fem.sweeps.rows import keeping
from fem.sweeps.rows.flat import flat
from fem.sweeps.workers import solving, task

EXAMPLE = str(files("fem.examples") / "bandsaw_brazing.toml")


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "200")


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_rows_on_screen_in_a_file_and_in_the_store(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "rows.csv"
    vary = ["--vary", "leads.length=0.8,1.2,1.6m", "--vary", "windings.secondary.turns=3,9"]
    sort = ["--sort", "short_circuit.secondary_current_rms_A", "--top", "2"]
    assert run(["sweep", EXAMPLE, *vary, "-o", str(out), *sort]) == 0
    shown, told = capsys.readouterr()
    lines = [line for line in shown.splitlines() if line.rstrip().endswith(("0", "1", "2", "3", "4")) and " m " in line]
    assert len(lines) == 2
    assert "... and 1 more rows" in shown
    assert "can kill" in shown
    assert "6 points: 3 done, 3 refused (the first: windings.secondary" in told
    found = rows(out)
    assert [row["position"] for row in found] == [str(k) for k in range(6)]
    assert [row["status"] for row in found].count("refused") == 3
    done = [row for row in found if row["status"] == "done"]
    currents = [float(row["short_circuit.secondary_current_rms_A"]) for row in done]
    design = read_job(EXAMPLE).vary("leads.length", 0.8)
    expected = estimate(design, wanted=frozenset(), characteristics=task._kept()).short_circuit.secondary_current_rms
    assert currents[0] == pytest.approx(expected, rel=1e-12)
    assert run(["sweep", EXAMPLE, *vary, "-o", str(out)]) == 2
    assert "is there already: --resume goes on with it" in capsys.readouterr().err
    out.unlink()
    assert run(["sweep", EXAMPLE, *vary, "-o", str(out), "--resume"]) == 0
    assert "6 rows taken over" in capsys.readouterr().err
    assert rows(out) == found


def test_resuming_takes_only_rows_of_this_sweep_and_says_what_has_changed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    job, out = tmp_path / "my.toml", tmp_path / "rows.csv"
    text = Path(EXAMPLE).read_text("utf-8")
    job.write_text(text, "utf-8")
    assert run(["sweep", str(job), "--vary", "leads.length=1:3m", "-o", str(out), "-q"]) == 0
    first = rows(out)
    assert run(["sweep", str(job), "--vary", "leads.length=4,3,2m", "-o", str(out), "--resume"]) == 0
    assert "2 rows taken over" in capsys.readouterr().err
    again = rows(out)
    assert [row["leads.length"] for row in again] == ["4 m", "3 m", "2 m"]
    key = "short_circuit.secondary_current_rms_A"
    assert [row[key] for row in again[:0:-1]] == [row[key] for row in first[1:]]
    job.write_text(text.replace('voltage = "230 V"', 'voltage = "240 V"'), "utf-8")
    assert run(["sweep", str(job), "--vary", "leads.length=1:3m", "-o", str(out), "--resume"]) == 0
    told = capsys.readouterr().err
    assert "the job has changed" in told
    assert "taken over" not in told
    # more volts, more current; the row that is no longer asked for stays in the store alone
    assert all(float(a[key]) > float(b[key]) for a, b in zip(rows(out), first, strict=True))
    for module in (task, keeping):
        monkeypatch.setattr(module, "computed_by", lambda: "of other sources")
    assert run(["sweep", str(job), "--vary", "leads.length=1:3m", "-o", str(out), "--resume"]) == 0
    told = capsys.readouterr().err
    assert "versions or sources have changed" in told
    assert "taken over" not in told


def test_another_curve_in_the_same_file_is_another_point(tmp_path: Path) -> None:
    table = tmp_path / "curve.csv"
    keys = []
    for last in ("1.5", "1.6"):
        table.write_text(f"H_A_per_m,B_T\n0,0\n100,0.5\n5000,{last}\n", "utf-8")
        task._content.cache_clear()
        keys.append(task.point_key({"core": {"bh_table": str(table)}}, frozenset()))
    assert len(set(keys)) == 2
    assert task.point_key({"core": {"bh_table": "nowhere.csv"}}, frozenset())


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "give at least one --vary or --within"),
        (["--vary", "leads.length"], "expected key=values"),
        (["--vary", "leads.lenght=1:2m"], 'did you mean "length"'),
        (["--vary", "leads.length=1:2"], "with its unit"),
        (["--vary", "leads.length=1:2m", "--zip", "--vary", "leads.area=35,50,70mm2"], "equally many"),
        (["--within", "leads.length=1"], "expected key=+-tolerance"),
        (["--vary", "leads.length=1:2m", "--keep", "cheap"], "is no condition"),
        (["--vary", "leads.length=1:2m", "--front", "a:max"], "two or three goals"),
        (["--vary", "leads.length=1:2m", "--with", "magic"], 'no part "magic"'),
        (["--vary", "leads.length=1:2m", "--find", "a=1"], "give both"),
        (["--find", "a=1", "--along", "leads.length=2:1m"], "expected key=least:greatest"),
        (["--find", "a=1", "--along", "leads.length=1:2m", "--vary", "leads.length=1:2m"], "varied too"),
        (["--vary", "leads.length=1:2m", "--sort", "idle.current"], 'did you mean "idle.current_rms_A"'),
    ],
)
def test_one_clear_line_and_exit_code_2(arguments: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["sweep", EXAMPLE, "-q", *arguments]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert len(told.splitlines()) == 1


def test_failed_points_are_rows_and_exit_code_1(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    genuine = solving.sections

    def fails(case: Case) -> object:
        if case.design.leads is not None and np.any(case.design.leads.length == 2.0):
            raise ZeroDivisionError("a number was 0")
        return genuine(case)

    monkeypatch.setattr(solving, "sections", fails)
    out = tmp_path / "rows.csv"
    assert run(["sweep", EXAMPLE, "--vary", "leads.length=1:3m", "-o", str(out)]) == 1
    assert "3 points: 2 done, 1 failed (the first: ZeroDivisionError: a number was 0)" in capsys.readouterr().err
    assert [row["status"] for row in rows(out)] == ["done", "failed", "done"]
    monkeypatch.setattr(solving, "sections", genuine)
    assert run(["sweep", EXAMPLE, "--vary", "leads.length=1:3m", "-o", str(out), "--resume"]) == 0
    assert [row["status"] for row in rows(out)] == ["done"] * 3


def test_the_reverse_question_agrees_with_the_straight_one(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """What is found gives, estimated, what was wanted; nine turns do not go in, which the exit code says."""
    out = tmp_path / "found.csv"
    key = "short_circuit.secondary_current_rms_A"
    search = ["--find", f"{key}=1500", "--along", "leads.length=0.5:6m"]
    assert run(["sweep", EXAMPLE, "--vary", "windings.secondary.turns=3,9", *search, "-o", str(out), "-q"]) == 1
    found = rows(out)
    assert [row["status"] for row in found] == ["done", "refused"]
    design = read_job(EXAMPLE).vary("leads.length", found[0]["leads.length"])
    current = estimate(design, wanted=frozenset(), characteristics=task._kept()).short_circuit
    assert current.secondary_current_rms == pytest.approx(1500, rel=1e-4)


def test_designs_made_in_python_are_swept_too() -> None:
    design = read_job(EXAMPLE)
    found = designs.sweep(design, {"leads.length": ["1.2 m", 2.0, -1.0]})
    assert [row.point["leads.length"] for row in found] == ["1.2 m", 2.0, -1.0]
    assert [row.status.value for row in found] == ["done", "done", "refused"]
    for row in found[:2]:
        variant = design.vary("leads.length", row.point["leads.length"])
        whole = flat(estimate(variant, wanted=frozenset(), characteristics=task._kept()).to_dict())
        numbers = {key: value for key, value in whole.items() if type(value) is float}
        assert {key: row.results[key] for key in numbers} == pytest.approx(numbers, rel=1e-12)
        assert {key: value for key, value in row.results.items() if key not in numbers} == {
            key: value for key, value in whole.items() if key not in numbers
        }
    with pytest.raises(KeyError, match="colour"):
        designs.sweep(design, {"leads.colour": ["red"]})
    json.dumps([dict(row.results) for row in found], allow_nan=False)
