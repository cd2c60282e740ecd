"""How long the machine takes to cool: down to what can be reached, told with it; never an infinite time."""

import json
from importlib.resources import files
from math import inf
from pathlib import Path

import pytest

from fem.design.job import read_job
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.stations.bench import repeated
from fem.report.files.json import to_json
from fem.report.text.heat import heating
from tests.support.kept import KEPT

EXAMPLE = read_job(Path(str(files("fem") / "examples" / "bandsaw_brazing.toml")))
DUTY = {"on_time": "5 s", "off_time": "300 s", "plugged_in": False}


def found(ambient: str):
    design = EXAMPLE.vary("work_piece", None).vary("duty", {**DUTY, "ambient": ambient})  # bursts into the load
    return estimate(design, wanted=frozenset({Part.HEATING}), characteristics=KEPT)


def cool_down_line(result) -> str:
    return next(line.note for line in heating(result) if line.label == "bursts")


@pytest.mark.parametrize(("ambient", "to"), [("25 degC", 313.15), ("35 degC", 313.15), ("40 degC", 318.15)])
def test_it_counts_down_to_40_degrees_or_to_5_above_a_warm_room(ambient, to):
    result = found(ambient)
    duty = result.heating.duty
    assert duty.cool_down_to == pytest.approx(to, abs=1e-9)
    assert duty.cool_down > 0
    assert json.loads(to_json(result))["heating"]["duty"]["cool_down_to_K"] == duty.cool_down_to
    assert f"to cool down to {to - 273.15:.1f} degC" in cool_down_line(result)


def test_what_is_not_reached_is_none_with_its_reason(monkeypatch):
    monkeypatch.setattr(repeated, "cool_down_times", lambda *_, **__: [inf])
    result = found("40 degC")
    assert not result.heating.duty.cool_down
    assert result.reasons["heating.duty.cool_down_s"] == "not reached within two days"
    assert cool_down_line(result) == "bursts until steady; not down to 45.0 degC within two days"
    assert json.loads(to_json(result))["heating"]["duty"]["cool_down_s"] is None
