"""The examples run, use what any script may use, and their numbers stand in relation to each other and to estimates."""

import ast
import json
from importlib import import_module
from importlib.resources import files
from pathlib import Path

import pytest

import fem
from fem.examples import (
    BUILT_IN,
    UnknownExample,
    does_it_saturate,
    example,
    example_design,
    example_names,
    how_many_turns,
    how_often,
    interleave_it,
)
from fem.examples import how_long_a_cable as cable
from fem.report.files.json import to_json
from tests.support.kept import KEPT

FOLDER = Path(str(files("fem.examples")))
SCRIPTS = sorted(path.stem for path in FOLDER.glob("*.py") if path.stem not in ("__init__", "drawing"))


@pytest.fixture(autouse=True)
def kept(monkeypatch):
    """Scripts and what they are held against take their fields from where all tests do."""
    monkeypatch.setattr(fem, "Kept", lambda: KEPT)
    monkeypatch.setenv("REWOUND_CACHE", str(KEPT.folder))
    return KEPT


def drawn(picture):
    return picture.read_text("utf-8").rstrip().endswith("</svg>")


def test_every_job_is_a_good_one():
    assert BUILT_IN in example_names()
    for name in example_names():
        assert example_design(name).title
    with pytest.raises(UnknownExample, match="there is bandsaw_brazing"):
        example("cheese")


def test_the_built_in_example_is_the_shop_s_supply(kept):
    found = fem.estimate(example_design(), wanted=set(), characteristics=kept)
    # A salvaged core runs hot: 1.4 to 1.6 T (common practice, no source).
    assert 1.4 < found.saturation.peak_flux_density < 1.6
    # An ideal transformer: 3/230 of the mains; the magnetising drop and the leakage take a few per cent at most.
    assert 0.95 * 3.0 < found.open_circuit.secondary_voltage_rms < 3.0
    assert found.cautions
    assert json.loads(to_json(found))["title"] == "Bandsaw blade brazing supply"


@pytest.mark.parametrize("name", SCRIPTS)
def test_a_script_asks_a_question_by_public_names(name):
    tree = ast.parse((FOLDER / f"{name}.py").read_text("utf-8"))
    assert ast.get_docstring(tree).endswith("?")
    ours = {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    ours |= {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert {module for module in ours if module.startswith(("fem", "geometries"))} <= {"fem", "fem.examples.drawing"}
    used = {
        node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "fem"
    }
    assert used <= set(fem.__all__)
    assert callable(import_module(f"fem.examples.{name}").main)


def test_some_turns_drive_most_current(tmp_path):
    picture = tmp_path / "turns.svg"
    turns, current = how_many_turns.main(turns=(3, 5, 6), picture=picture)
    # Neither the fewest nor the most: volts grow with the turns, what stands against the current with their square.
    assert 3 < turns < 6
    design = example_design()
    # Not more than an ideal transformer drives into the bare load.
    assert current < 230 * turns / design.windings.primary.turns / design.load.resistance
    assert drawn(picture)


def test_extra_turns_bring_the_flux_down_to_the_limit(tmp_path, kept):
    picture = tmp_path / "idle.svg"
    peak, extra = does_it_saturate.main(limit=1.4, picture=picture)
    assert peak == fem.estimate(example_design(), wanted=set(), characteristics=kept).saturation.peak_flux_density
    # b N = const but for the drop of the idle current in the primary, less than 1 % of the mains; whole turns only.
    turns = example_design().windings.primary.turns
    assert turns * (peak / 1.4 - 1) <= extra <= turns * (1.01 * peak / 1.4 - 1) + 1
    assert drawn(picture)


def test_interleaving_cuts_the_leakage_to_less_than_half_and_not_below_a_quarter(tmp_path, kept):
    picture = tmp_path / "load.svg"
    before, after = interleave_it.main(picture=picture)
    leakage = fem.estimate(example_design(), wanted=set(), characteristics=kept).leakage
    assert before == leakage.window_reactance_secondary + leakage.end_turn_reactance_secondary
    # Coils of heights H and gaps g with n faces between them leak as (H/3 + n g)/n^2 in a field along the faces
    # (Rogowski): two faces in place of one give 1/4 for g = 0, 1/2 for H = 0.
    assert 1 / 4 < after / before < 1 / 2
    assert drawn(picture)


def test_a_cable_that_is_longer_than_the_longest_leaves_the_blade_too_cold(tmp_path, kept, monkeypatch):
    picture, sweep, rows = tmp_path / "time.svg", fem.sweep, []
    monkeypatch.setattr(fem, "sweep", lambda *a, **b: rows.extend(sweep(*a, **b)) or rows)
    lengths, burst = (1.2, 4.0), 2.5
    longest = cable.main(lengths=lengths, burst=burst, picture=picture)
    design = example_design().vary("work_piece.switch_off", burst)
    longer = min(length for length in lengths if length > longest)
    one = fem.estimate(design.vary("leads.length", longest), wanted={fem.Part.WORK_PIECE}, characteristics=kept)
    times = {row.point["leads.length"]: row.results["work_piece.time_to_target_s"] for row in rows}
    assert times[longest] == one.work_piece.time_to_target <= burst
    assert times[longer] is None
    assert drawn(picture)


def test_repeated_bursts_are_shorter_than_a_single_one(tmp_path, monkeypatch):
    picture, estimate, found = tmp_path / "bursts.svg", fem.estimate, []
    monkeypatch.setattr(fem, "estimate", lambda *a, **b: found.append(estimate(*a, **b)) or found[-1])
    longest, share = how_often.main(on_time=2.2, off_time=75.0, picture=picture)
    # Each begins on a machine that is warm already.
    assert share * (2.2 + 75.0) < longest
    heating = found[0].heating
    # What another load allows knows no work piece, so the picture's point of the same load is the same.
    assert [one.heating.loaded.longest for one in found].count(longest) == 2
    assert (longest, share) == (heating.loaded.longest, heating.duty.allowed_share)
    assert drawn(picture)
