"""A station asked alone: only what it needs is solved, each once, and its numbers are those of the whole estimate."""

from __future__ import annotations

import pytest

from fem.design.job import read_job
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.one_design import estimate
from fem.estimation.stations.built.build import build
from fem.estimation.stations.built.saturation import saturation
from fem.estimation.stations.in_order import STATIONS
from fem.estimation.stations.states.open_circuit import open_circuit
from fem.examples import example
from tests.campaign.always import always
from tests.support.kept import KEPT, whole_example


@pytest.fixture(scope="module")
def design() -> Design:
    return read_job(str(example()))


def solved(case: Case) -> set[str]:
    """Return the names of all that a case has solved so far."""
    return {name.removeprefix("_").removesuffix("_once") for name in vars(case) if name.endswith("_once")}


def test_the_window_is_filled_without_any_field(design: Design) -> None:
    def unasked(*_: object) -> object:
        pytest.fail("a field was asked for")

    case = Case(design=design, source=unasked)  # type: ignore[arg-type]
    assert case.fitted.fits
    assert solved(case) == {"blocks", "fitted"}


def test_the_build_solves_no_circuit(design: Design) -> None:
    case = Case(design=design, source=KEPT)
    assert build(case).secondary.turns == design.windings.secondary.turns
    assert solved(case) == {"blocks", "fitted", "sheet", "_characterised", "windings"}


def test_no_load_voltage_solves_no_short_circuit_no_burst_and_no_first_peak(design: Design) -> None:
    case = Case(design=design, wanted=frozenset(), source=KEPT)
    assert 1.0 < open_circuit(case).secondary_voltage_rms < 10.0
    assert "at_idle" in solved(case)
    assert not {"circuit", "shorted", "burst", "fields", "switched_on"} & solved(case)
    flux = saturation(case)
    assert not flux.extra_turns
    assert solved(case) >= {"knee"}
    assert "shorted" not in solved(case)


def test_stations_have_a_section_each_and_leave_no_null_without_a_reason(design: Design) -> None:
    found = whole_example()
    assert always(found.to_dict()) == []
    keys = [station.key for station in STATIONS]
    assert len(set(keys)) == len(keys)
    assert all(isinstance(getattr(found, s.key), s.result) for s in STATIONS if s.key != "load")
    bare = estimate(design, wanted=frozenset(), characteristics=KEPT)
    assert always(bare.to_dict()) == []
