"""What is in doubt of a design: whole rows, names of their own, distributions as they say of themselves."""

from pathlib import Path

import numpy as np
import pytest

from fem.assumptions import assumptions
from fem.design.job import read_job
from fem.examples import BUILT_IN
from fem.trust.doubts import Doubt, between, doubts_of
from fem.trust.draws import draws

JOB = Path(__file__).parents[2] / "fem" / "examples" / f"{BUILT_IN}.toml"
DESIGN = read_job(JOB)
FOUND = doubts_of(DESIGN)


def test_every_row_of_a_doubt_is_whole() -> None:
    for row in assumptions().values():
        if row.doubt:
            assert row.kind in {"normal", "rectangular", "triangular", "lognormal", "log-uniform"}, row.name
            assert row.drawn in {"factor", "shift", "value", "place"}, row.name
            assert row.words, row.name
            assert row.low <= row.high, row.name
            assert row.kind not in {"lognormal", "log-uniform"} or row.low > 0, row.name


def test_what_is_told_lies_between_the_ends_of_its_doubt() -> None:
    """Else every number that hangs on it lies at an end of its band: only what is told on the safe side does."""
    told = [row for row in assumptions().values() if row.doubt and not row.low < row.typical < row.high]
    assert {row.doubt for row in told} == {"core.remanence", "ring.inner"}


def test_doubts_of_a_design_have_names_of_their_own() -> None:
    names = [doubt.name for doubt in FOUND]
    assert len(set(names)) == len(names)
    assert {"mains.voltage", "core.leg_width", "windings.spacing", "primary.resistance", "contact.lap"} <= set(names)
    # the example tells its supply
    assert "mains.source_impedance" not in names


def test_what_the_design_does_not_tell_is_in_doubt() -> None:
    unknown = DESIGN.vary("mains.source_resistance", None)
    assert "mains.source_impedance" in {doubt.name for doubt in doubts_of(unknown)}
    told = DESIGN.vary("core.joint_gap", "0.1 mm")
    by_name = {doubt.name: doubt for doubt in doubts_of(told)}
    assert by_name["core.joint_gap"].high == pytest.approx(0.03e-3)


@pytest.mark.parametrize("doubt", FOUND, ids=lambda doubt: doubt.name)
def test_ends_and_median_are_what_is_said(doubt: Doubt) -> None:
    ends = doubt.raw(np.array([0.05, 0.5, 0.95]))
    if doubt.kind in {"normal", "lognormal"}:
        assert ends == pytest.approx([doubt.low, doubt.typical, doubt.high], rel=1e-9, abs=1e-15)
    else:
        limits = doubt.raw(np.array([0.0, 1.0]))
        assert limits == pytest.approx([doubt.low, doubt.high], rel=1e-9, abs=1e-15)
        return
    unmoved = {"factor": 1.0, "shift": 0.0, "place": 0.0}.get(doubt.drawn, doubt.typical)
    assert doubt.quantile(0.5) == pytest.approx(unmoved, rel=1e-9, abs=1e-15)


def test_places_reach_their_ends() -> None:
    assert between(np.array([-1.0, 0.0, 1.0]), 2.0, 4.0, 12.0) == pytest.approx([2, 4, 12])
    assert between(np.array([-1.0, 0.5, 1.0]), -2.0, 0.0, 3.0) == pytest.approx([-2, 1.5, 3])


def test_draws_are_asked_by_name() -> None:
    found = draws(FOUND, 64)
    assert found["mains.voltage"].shape == (64,)
    assert np.array_equal(found.first(16)["mains.voltage"], found["mains.voltage"][:16])
    assert np.all(found["mains.source_impedance"] == 1)
    assert np.all(found["shunt.height"] == 0)
    with pytest.raises(KeyError):
        found["phase of the moon"]
