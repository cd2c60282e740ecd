"""The command that checks the tool against published values: all rows are met, a wrong number is told and counted."""

import json
from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

import fem.verification.run
from fem.cli import run
from fem.report.text.verify import summary, verify_table
from fem.verification.published import Measure, Published, published_values
from fem.verification.run import Incomplete, Outcome, Verification, verify


@pytest.fixture(scope="module")
def checked() -> Verification:
    return verify()


@pytest.mark.parametrize("key", published_values())
def test_published_value(checked: Verification, key: str) -> None:
    """The row says where the value is printed and where its tolerance comes from."""
    outcome = next(outcome for outcome in checked.outcomes if outcome.published.key == key)
    assert outcome.passed, f"{outcome.computed} for {outcome.published.expected}: {outcome.deviation:+.2e}"


def row(measure: Measure, tolerance: float) -> Published:
    return Published(
        key="key", quantity="thing", unit="T", expected="2.00", measure=measure, tolerance=tolerance,
        why_tolerance="digits", source="a book", status="published",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("measure", "tolerance", "computed", "met"),
    [
        (Measure.RELATIVE, 0.01, 2.019, True),
        (Measure.RELATIVE, 0.01, 2.021, False),
        (Measure.RELATIVE, 0.01, 1.979, False),
        (Measure.ABSOLUTE, 0.01, 2.009, True),
        (Measure.ABSOLUTE, 0.01, 1.989, False),
        (Measure.AT_LEAST, 0.0, 2.0, True),
        (Measure.AT_LEAST, 0.0, 3.0, True),
        (Measure.AT_LEAST, 0.0, 1.999, False),
        (Measure.RELATIVE, 0.01, float("nan"), False),
        (Measure.AT_LEAST, 0.0, float("nan"), False),
    ],
)
def test_tolerance(measure: Measure, tolerance: float, computed: float, met: bool) -> None:
    assert row(measure, tolerance).met_by(computed) is met


@pytest.fixture
def missed(checked: Verification, monkeypatch: pytest.MonkeyPatch) -> Verification:
    """One value 2 % high."""
    first = checked.outcomes[0]
    found = replace(checked, outcomes=(replace(first, computed=1.02 * first.computed), *checked.outcomes[1:]))
    monkeypatch.setattr(fem.verification.run, "verify", lambda progress=None: found)
    monkeypatch.delenv("COLUMNS", raising=False)
    return found


def test_a_missed_value_fails_the_command(missed: Verification, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", "-q"]) == 1
    out, err = capsys.readouterr()
    assert err == ""
    assert out.count("FAIL ") + out.count("FAIL\n") == 1
    assert out.rstrip().endswith(missed.outcomes[0].published.key)
    assert "\x1b" not in out
    assert max(map(len, out.splitlines())) <= 100


def test_json(missed: Verification, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["verify", "-q", "--json", "-"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert found == missed.to_dict()
    assert [check["key"] for check in found["checks"]] == [o.published.key for o in missed.outcomes]
    assert [check["passed"] for check in found["checks"]] == [False] + [True] * (len(missed.outcomes) - 1)


def test_all_is_well(checked: Verification, monkeypatch, capsys, tmp_path) -> None:
    monkeypatch.setattr(fem.verification.run, "verify", lambda progress=None: checked)
    file = tmp_path / "checks.json"
    assert run(["verify", "--json", str(file)]) == 0
    assert json.loads(file.read_text("utf-8"))["passed"] is True
    out, err = capsys.readouterr()
    assert f"All {len(checked.outcomes)} checks passed" in out
    assert err == f"rewound: wrote {file}\n"
    assert run(["verify", "-q", "--json", str(tmp_path / "no" / "checks.json")]) == 2


def test_every_source_is_printed(checked: Verification) -> None:
    console = Console(width=400, record=True, file=StringIO())
    console.print(verify_table(checked))
    text = console.export_text()
    for outcome in checked.outcomes:
        assert outcome.published.source in text
    assert summary(checked) in text


def test_rows_and_values_must_match(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(fem.verification.run, "CHAPTERS", (("Nothing", (dict,)),))
    with pytest.raises(Incomplete, match="nothing computes: wire_internal"):
        verify()
    monkeypatch.setattr(fem.verification.run, "CHAPTERS", (("More", (lambda: {"phlogiston": 1.0},)),))
    with pytest.raises(Incomplete, match="'phlogiston' is computed"):
        verify()


def test_each_key_is_computed_once(checked: Verification) -> None:
    keys = [outcome.published.key for outcome in checked.outcomes]
    assert sorted(keys) == sorted(published_values())
    assert all(isinstance(outcome, Outcome) for outcome in checked.outcomes)
