"""The numbers by which designs are judged: an estimate's own, whatever is worked into, computed or kept."""

from math import inf
from pathlib import Path

import pytest

from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.fields.kept import Kept
from fem.estimation.inputs.supply import devices_of
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.mains.forecasts import forecast
from fem.options.outcome import PARTS, Outcome, keys_of, outcome, outcomes
from fem.quantity import Unknown
from fem.sweeps.rows.flat import flat
from tests.support.every_kind import design_of
from tests.support.kept import KEPT

PIECE = {
    "metal": "carbon steel",
    "section": {"round": "4 mm"},
    "length": "30 mm",
    "duration": "2 s",
    "target_temperature": "600 degC",
}


def built(**tables: object) -> Design:
    given = design_of("few conductors").model_dump(exclude_unset=True)
    given["mains"] |= {"breaker": "B10"}
    given["windings"]["secondary"] |= {"height": "28 mm"}
    return Design.model_validate(given | {"leads": {"length": 1.0, "area": "25 mm2", "spacing": 0.04}} | tables)


@pytest.mark.parametrize(
    ("tables", "into"),
    [
        ({"work_piece": PIECE | {"switch_off": 0.2}, "duty": {"on_time": 2.0, "off_time": 40.0}}, "the work piece"),
        ({"load": {"resistance": 2e-3}, "duty": {"on_time": 2.0, "off_time": 40.0}}, "the load"),
        ({}, "joined lead ends"),
    ],
)
def test_an_outcome_is_what_an_estimate_says(tables: dict[str, object], into: str) -> None:
    design = built(**tables)
    others = [design.varied({"mains.voltage": 0.8 * design.mains.voltage})]
    others.append(design.varied({"windings.secondary.turns": 5000}))
    _, refused, found = outcomes([*others, design], KEPT)  # those with work are followed together
    assert isinstance(refused, DoesNotFit)
    assert isinstance(found, Outcome)
    whole = estimate(design, wanted=PARTS | {Part.CUT_LIST}, characteristics=KEPT)
    told = flat(whole.to_dict())
    assert found.works_into == into
    for name, key in keys_of(design).items():
        value = getattr(found, name)
        if told.get(key) is not None:
            assert value == (told[key] if isinstance(told[key], str) else pytest.approx(told[key], rel=1e-12)), name
        elif not (name == "time_to_temperature" and value):  # which an estimate knows up to the burst's end alone
            assert isinstance(value, Unknown), name
            assert value.reason
    assert found.conductor_length == pytest.approx(whole.cut_list.pieces["secondary"].total_length, rel=1e-12)
    if "work_piece" not in tables:
        (device,) = devices_of(design.mains).values()
        assert found.breaker == forecast(device, float(found.primary_current), found.burst or inf).behaviour.value


def test_an_outcome_on_disk_is_the_one_computed_and_belongs_to_its_design(tmp_path: Path) -> None:
    """Shop, wish and title do not part designs; a number does, and so does what a tolerance would do to bands."""
    design = built(load={"resistance": 2e-3})
    kept = Kept(folder=tmp_path)
    first = outcome(design, kept)
    files = set(tmp_path.iterdir())
    named = design.model_copy(update={"title": "another"}).vary("wish.current", 10.0)
    assert outcome(named, Kept(folder=tmp_path)) == first
    assert set(tmp_path.iterdir()) == files
    assert outcome(design.vary("load.resistance", 3e-3), kept).current < first.current


def test_time_beyond_the_burst_is_that_with_the_current_left_on() -> None:
    """A burst that ends before the work is hot says as much as a longer one, but for the machine's warming."""
    duty = {"on_time": 2.0, "off_time": 40.0}
    short = outcome(built(work_piece=PIECE | {"switch_off": 0.2}, duty=duty), KEPT)
    long = estimate(built(work_piece=PIECE), wanted={Part.WORK_PIECE}, characteristics=KEPT).work_piece
    assert short.burst < long.time_to_target < 2.0
    assert short.time_to_temperature == pytest.approx(long.time_to_target, rel=0.02)
