"""A part of an estimate is the same number whichever other parts are asked for."""

import pytest

import fem.study.case
from fem.errors import OutOfRange
from fem.examples import example
from fem.study.cache import Kept
from fem.study.design import Design, as_given
from fem.study.estimate import Part, estimate
from fem.study.job import read_job

NEEDS_THE_WORK = (Part.HEATING, Part.LOAD_LINE)
"""What works into the hot work piece where no load is described."""


@pytest.fixture(scope="module")
def kept() -> Kept:
    return Kept()


@pytest.fixture(scope="module")
def brazing() -> Design:
    """The example with nothing at the lead ends but the work piece."""
    return Design.model_validate(
        {key: table for key, table in as_given(read_job(str(example()))).items() if key != "load"}
    )


def test_heat_and_load_line_take_the_hot_work_piece_when_asked_for_alone(brazing: Design, kept: Kept) -> None:
    together = estimate(brazing, wanted={*NEEDS_THE_WORK, Part.WORK_PIECE}, characteristics=kept).to_dict()
    assert together["heating"]["loaded"]["load_resistance_ohm"] == together["work_piece"]["hot_resistance_ohm"]
    for part, key in zip(NEEDS_THE_WORK, ("heating", "load_line"), strict=True):
        alone = estimate(brazing, wanted={part}, characteristics=kept).to_dict()
        assert alone[key] == together[key]
        assert alone["work_piece"] is None
        assert alone["gaps"] == []


def test_a_work_piece_that_fails_takes_with_it_only_what_rests_on_it(
    brazing: Design, kept: Kept, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No hot resistance: no burst into it, no duty, no volts there. The lead ends joined and the load line stand."""
    tries = []

    def glows(*_: object, **__: object) -> None:
        tries.append(1)
        msg = "the carbon passes 3500 degC after 2.1 s: no data beyond"
        raise OutOfRange(msg)

    monkeypatch.setattr(fem.study.case, "heat", glows)
    found = estimate(brazing, characteristics=kept, wanted={*NEEDS_THE_WORK, Part.WORK_PIECE, Part.BANDS})
    assert set(found.gaps) == {"work_piece", "load_line.drops", "heating.loaded", "heating.duty"}
    assert {found.reasons[key] for key in found.gaps} == {"the carbon passes 3500 degC after 2.1 s: no data beyond"}
    assert len(tries) == 1
    assert found.heating is not None
    assert found.heating.shorted is not None
    assert found.load_line is not None
