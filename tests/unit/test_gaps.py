"""What fails among an estimate's parts leaves a gap with its reason; a fault of the program goes through."""

from dataclasses import replace

import pytest

import fem.estimation.one_design
import fem.sweeps.workers.solving
from fem.cli import run
from fem.design.job import read_job
from fem.design.transformer import as_given
from fem.errors import NotConverged, OutOfRange
from fem.estimation.once import attempt, once
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.examples import example
from fem.quantity import Unknown
from fem.sweeps.points import sweep
from fem.sweeps.rows.store import Status


def test_what_is_computed_comes_through() -> None:
    assert attempt(lambda: 7) == 7


def test_a_declared_failure_is_a_gap_with_its_reason() -> None:
    def ends() -> int:
        msg = "the table ends at 1.2 T"
        raise OutOfRange(msg)

    def strays() -> int:
        msg = "current"
        raise NotConverged(msg, residual=0.1, tolerance=1e-10, tried="50 steps")

    assert attempt(ends) == Unknown("the table ends at 1.2 T", gap=True)
    assert attempt(strays) == Unknown(
        "no convergence: current: relative residual 0.1 instead of 1e-10 after 50 steps", gap=True
    )


@pytest.mark.parametrize("fault", [ValueError("a shape is wrong"), ZeroDivisionError("a number was 0")])
def test_a_fault_of_the_program_is_no_gap(fault: Exception) -> None:
    def breaks() -> int:
        raise fault

    with pytest.raises(type(fault)):
        attempt(breaks)


def test_a_failure_is_remembered_and_not_tried_again() -> None:
    tried = []

    class Asked:
        @once
        def state(self) -> int:
            """Fail."""
            tried.append(1)
            msg = "it never settles"
            raise OutOfRange(msg)

        @once
        def number(self) -> int:
            """Work."""
            tried.append(2)
            return 7

    asked = Asked()
    for _ in range(2):
        with pytest.raises(OutOfRange, match="never settles"):
            _ = asked.state
        assert asked.number == 7
    assert tried == [1, 2]


def test_gaps_are_printed_at_their_place_and_leave_with_exit_code_1(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], hand_made: Estimate
) -> None:
    key, band = "short_circuit.secondary_first_peak_A", "bands.idle.current_rms_A"
    holed = replace(
        hand_made,
        short_circuit=replace(
            hand_made.short_circuit, secondary_first_peak=Unknown("the core's data end at 1.2 T", gap=True)
        ),
        half_wave_supply=Unknown("it never settles", gap=True),
        bands={"idle.current_rms_A": Unknown("no end in sight", gap=True)},
    )
    monkeypatch.setattr(fem.estimation.one_design, "estimate", lambda *_, **__: holed)
    assert run(["estimate", "-q", "--whole"]) == 1
    out, err = capsys.readouterr()
    text = " ".join(out.split())
    assert "the core's data end at 1.2 T" in text
    assert "band not known: no end in sight" in text
    assert "a failed relay) " in text
    assert "half wave supply not known it never settles" in text
    assert "volts per turn" in text
    assert err == f"rewound: could not be computed: {key}, half_wave_supply, {band}\n"
    assert holed.to_dict()["gaps"] == [key, "half_wave_supply", band]


def test_a_sweep_s_point_with_a_gap_is_done_and_says_what_is_missing(
    monkeypatch: pytest.MonkeyPatch, hand_made: Estimate
) -> None:
    holed = replace(hand_made, half_wave_supply=Unknown("lost", gap=True))
    monkeypatch.setattr(fem.sweeps.workers.solving, "estimate", lambda *_, **__: holed)
    jobs = [({"n": 1}, as_given(read_job(str(example()))))]
    ((row,),) = sweep(jobs, wanted={Part.HALF_WAVE_SUPPLY})
    assert row.status is Status.DONE
    assert row.has_gaps
    assert row.reason == "half_wave_supply: lost"
    assert row.results["half_wave_supply"] is None
    assert row.results["idle.current_rms_A"] == hand_made.idle.current_rms
