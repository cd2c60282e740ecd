"""What fails among an estimate's parts leaves a gap with its reason; a fault of the program goes through."""

from dataclasses import replace

import pytest

import fem.estimation.one_design
import fem.sweeps.workers.task
from fem.cli import run
from fem.design.job import read_job
from fem.design.transformer import as_given
from fem.errors import NotConverged, OutOfRange
from fem.estimation.gaps import Gaps
from fem.estimation.stations.results import Estimate
from fem.examples import example
from fem.sweeps.points import sweep
from fem.sweeps.rows.store import Status


def test_what_is_computed_comes_through() -> None:
    gaps = Gaps()
    assert gaps.attempt("heating", lambda: 7) == 7
    gaps.explain("load", "no [load] is described")
    assert gaps.reasons == {"load": "no [load] is described"}
    assert gaps.failed == []


def test_a_declared_failure_is_a_gap_under_all_its_keys() -> None:
    gaps = Gaps()

    def ends() -> int:
        msg = "the table ends at 1.2 T"
        raise OutOfRange(msg)

    def strays() -> int:
        msg = "current"
        raise NotConverged(msg, residual=0.1, tolerance=1e-10, tried="50 steps")

    assert gaps.attempt(("a.low_V", "a.high_V"), ends) is None
    assert gaps.attempt("load", strays) is None
    assert gaps.reasons == {
        "a.low_V": "the table ends at 1.2 T",
        "a.high_V": "the table ends at 1.2 T",
        "load": "no convergence: current: relative residual 0.1 instead of 1e-10 after 50 steps",
    }
    assert gaps.failed == ["a.low_V", "a.high_V", "load"]


@pytest.mark.parametrize("fault", [ValueError("a shape is wrong"), ZeroDivisionError("a number was 0")])
def test_a_fault_of_the_program_is_no_gap(fault: Exception) -> None:
    def breaks() -> int:
        raise fault

    with pytest.raises(type(fault)):
        Gaps().attempt("load", breaks)


def test_gaps_are_printed_at_their_place_and_leave_with_exit_code_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], hand_made: Estimate
) -> None:
    key, band = "short_circuit.secondary_first_peak_A", "bands.idle.current_rms_A"
    holed = replace(
        hand_made,
        short_circuit=replace(hand_made.short_circuit, secondary_first_peak=None),
        half_wave_supply=None,
        reasons={key: "the core's data end at 1.2 T", band: "no end in sight", "half_wave_supply": "it never settles"},
        gaps=(key, band, "half_wave_supply"),
        bands={},
    )
    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda *_, **__: holed)
    assert run(["estimate", "-q"]) == 1
    out, err = capsys.readouterr()
    text = " ".join(out.split())
    assert "the core's data end at 1.2 T" in text
    assert "band not known: no end in sight" in text
    assert "a failed relay) " in text
    assert "half wave supply not known it never settles" in text
    assert "volts per turn" in text
    assert err == f"rewound: could not be computed: {key}, {band}, half_wave_supply\n"
    assert holed.to_dict()["gaps"] == [key, band, "half_wave_supply"]


def test_a_sweep_s_point_with_a_gap_is_done_and_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, hand_made: Estimate
) -> None:
    holed = replace(hand_made, half_wave_supply=None, reasons={"half_wave_supply": "lost"}, gaps=("half_wave_supply",))
    monkeypatch.setattr(fem.sweeps.workers.task, "estimate", lambda *_, **__: holed)
    jobs = [({"n": 1}, as_given(read_job(str(example()))))]
    ((row,),) = sweep(jobs)
    assert row.status is Status.DONE
    assert row.has_gaps
    assert row.reason == "half_wave_supply: lost"
    assert row.results["half_wave_supply"] is None
    assert row.results["idle.current_rms_A"] == hand_made.idle.current_rms
