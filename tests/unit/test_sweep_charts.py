"""Charts of a sweep: what is drawn is what the rows say, what failed is seen, all can be read and is the same again."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.collections import LineCollection
from matplotlib.figure import Figure

from fem.cli import run
from fem.report.figures.sweep import Charts
from fem.report.figures.sweep_axes import found_of, varied
from fem.report.figures.sweep_front import draw_front
from fem.report.figures.sweep_lines import draw_bars, draw_lines
from fem.report.figures.sweep_map import draw_map
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.select import read_condition, read_front
from tests.support.drawn import assert_readable

AMPERES, INPUT = "short_circuit.secondary_current_rms_A", "short_circuit.primary_current_rms_A"
ROOM = "windings.secondary: 4 turns reach {:.1f} mm above the lower yoke, 80.0 mm is there"


def a_row(position: int, point: dict[str, Any], *, band: float = 0.0) -> Row:
    """Return a row whose current goes with the turns and the area; four turns do not fit."""
    turns, area = (
        int(point.get("windings.secondary.turns", 2)),
        float(str(point.get("leads.area", "50 mm2")).split()[0]),
    )
    if turns == 4:
        reason = ROOM.format(80 + area)
        return Row(key="", position=position, point=point, status=Status.REFUSED, reason=reason, results={})
    amperes = 10.0 * turns * area
    results = {AMPERES: amperes, INPUT: amperes * turns / 200, f"{AMPERES}.low": (1 - band) * amperes}
    results |= {f"{AMPERES}.high": (1 + band) * amperes} if band else {}
    return Row(key="", position=position, point=point, status=Status.DONE, reason="", results=results)


def a_sweep(areas: int = 5, turns: int = 4, **how: float) -> list[Row]:
    """Return rows of a sweep over areas from 10 mm2 up and turns from 1 up."""
    pairs = [(t, 10 * (a + 1)) for t in range(1, turns + 1) for a in range(areas)]
    points = [{"windings.secondary.turns": t, "leads.area": f"{a} mm2"} for t, a in pairs]
    return [a_row(k, point, **how) for k, point in enumerate(points)]


def drawn(draw: Any, rows: list[Row], **how: Any) -> tuple[Any, str]:
    axes = Figure().add_subplot()
    return axes, draw(rows, axes, **how)


def test_lines_are_the_rows_and_failed_points_lie_on_the_axis_with_their_reason() -> None:
    axes, caption = drawn(draw_lines, a_sweep(), key=AMPERES)
    lines = {str(line.get_label()): line for line in axes.lines}
    np.testing.assert_allclose(lines["secondary turns 3"].get_xydata(), [(a, 30.0 * a) for a in range(10, 60, 10)])
    crosses = next(line for line in axes.lines if line.get_marker() == "x")
    np.testing.assert_allclose(crosses.get_xdata(), range(10, 60, 10))
    assert "secondary turns 4" not in lines
    assert f"5 of 20 ({ROOM.format(90)})" in caption  # five that differ in their millimetres alone are one reason
    assert axes.get_xlabel() == "leads area [mm2]"
    assert axes.get_title(loc="left") == "lead ends joined, secondary [A]"


def test_bands_are_areas_and_limits_are_lines_at_their_value() -> None:
    rows = [a_row(k, {"windings.secondary.turns": k + 1}, band=0.1) for k in range(3)]
    axes, _ = drawn(draw_lines, rows, key=AMPERES, conditions=[read_condition(f"{AMPERES} > 800")])
    corners = axes.collections[0].get_paths()[0].vertices
    assert {(3.0, 1350.0), (3.0, 1650.0), (1.0, 450.0), (1.0, 550.0)} <= {(x, round(y, 6)) for x, y in corners}
    assert [line.get_ydata() for line in axes.lines if line.get_linestyle() == "--"] == [[800.0, 800.0]]
    hollow = next(line for line in axes.lines if line.get_markerfacecolor() == "white")
    np.testing.assert_allclose(hollow.get_xydata(), [(1.0, 500.0)])


def test_a_map_has_each_number_in_its_cell_and_a_line_round_what_is_kept() -> None:
    rows = a_sweep(areas=3)
    axes, caption = drawn(draw_map, rows, key=AMPERES, conditions=[read_condition(f"{AMPERES} >= 400")])
    cells = {text.get_position(): text.get_text() for text in axes.texts}
    assert cells == {(a, t): text for t, row in enumerate((("(100)", "(200)", "(300)"), ("(200)", "400", "600"),
                     ("(300)", "600", "900"))) for a, text in enumerate(row)}  # fmt: skip
    assert len(axes.patches) == 3
    assert "Hatched. Without a number: 3 of 12" in caption
    line = next(c for c in axes.collections if isinstance(c, LineCollection))
    sides = {tuple(map(tuple, side.tolist())) for side in line.get_segments()}
    assert sides == {
        ((0.5, 0.5), (0.5, 1.5)),
        ((0.5, 1.5), (0.5, 2.5)),
        ((0.5, 0.5), (1.5, 0.5)),
        ((1.5, 0.5), (2.5, 0.5)),
    }


@pytest.mark.parametrize("goal", ["min", "max"])
def test_the_front_is_what_nothing_beats(goal: str) -> None:
    """Against the definition, pair by pair."""
    rows, goals = a_sweep(), read_front(f"{AMPERES}:max,{INPUT}:{goal}")
    axes, caption = drawn(draw_front, rows, goals=goals)
    sign = -1 if goal == "min" else 1
    pairs = {(10.0 * t * a, sign * t * t * a / 20) for t in (1, 2, 3) for a in range(10, 60, 10)}
    best = [p for p in sorted(pairs) if not any(q[0] >= p[0] and q[1] >= p[1] and q != p for q in pairs)]
    diamonds = next(line for line in axes.lines if line.get_marker() == "D")
    np.testing.assert_allclose(diamonds.get_xydata(), [(x, sign * y) for x, y in best])
    assert f"They are {len(best)} of 20 designs. Without a number: 5 of 20" in caption
    _, none = drawn(draw_front, rows, goals=goals, conditions=[read_condition(f"{AMPERES} > 1e6")])
    assert none.startswith("No design meets")


def test_words_and_gauges_are_bars() -> None:
    rows = [
        a_row(k, {"leads.area": "50 mm2", "windings.secondary.lay": lay}) for k, lay in enumerate(("along", "2 + 1"))
    ]
    axes, _ = drawn(draw_bars, rows, key=AMPERES)
    assert [bar.get_height() for bar in axes.patches] == [1000.0, 1000.0]
    assert [text.get_text() for text in axes.get_xticklabels()] == ["along", "2 + 1"]
    gauges = [a_row(k, {"x.cable": text}) for k, text in enumerate(("2/0 AWG", "4 AWG"))]
    assert [one.numbers for one in varied(gauges)] == [None]
    numbers = varied([a_row(k, {"leads.length": text}) for k, text in enumerate(("2 m", "0.5 m", "1e1 m"))])[0]
    assert numbers.values == ["0.5 m", "2 m", "1e1 m"]


def test_results_are_in_the_units_of_the_report() -> None:
    def one(key: str, value: float) -> Any:
        return found_of([Row(key="", position=0, point={}, status=Status.DONE, reason="", results={key: value})], key)

    for key, value, label, number in (
        ("work_piece.hottest_temperature_K", 373.15, "hottest place of the work [degC]", 100.0),
        ("build.spare_height_m", 0.004, "build: window height to spare, clearances and spacing kept [mm]", 4.0),
        ("build.secondary.mass_kg", 0.5, "build: conductor mass, secondary [kg]", 0.5),
        ("saturation.margin", 0.05, "%", 5.0),
    ):
        found = one(key, value)
        assert label in found.label
        assert found.values == pytest.approx([number])
        assert found.at(value) == pytest.approx(number)


@pytest.mark.parametrize(("areas", "turns"), [(5, 1), (3, 4), (125, 4)])
def test_charts_can_be_read_with_few_points_and_with_many(areas: int, turns: int) -> None:
    conditions, goals = (read_condition(f"{AMPERES} > 700"),), read_front(f"{AMPERES}:max,{INPUT}:min")
    charts = Charts(results=(AMPERES, INPUT), conditions=conditions, goals=goals)
    found = dict(charts.of(a_sweep(areas, turns), "A $5 supply for bandsaw blades " * 4))
    assert {f"{name}.svg" for name in found} <= set(charts.files)
    assert "front" in found
    for name, figure in found.items():
        if name != "front":
            assert_readable(figure)


def test_rows_that_do_not_differ_give_no_chart() -> None:
    assert not list(Charts().of(a_sweep(1, 1), ""))
    assert not list(Charts().of([row for row in a_sweep() if row.status is not Status.DONE], ""))


@pytest.mark.slow
def test_a_sweep_and_one_resumed_write_the_same_charts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from fem.examples import example

    asked = [
        "sweep",
        str(example()),
        "--vary",
        "leads.length=1:3m",
        "-o",
        str(tmp_path / "rows.csv"),
        "-q",
        "--figures",
    ]
    assert run([*asked, str(tmp_path / "a")]) == 0
    (tmp_path / "rows.csv").unlink()
    assert run([*asked, str(tmp_path / "b"), "--resume"]) == 0
    first, second = ({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in "ab")
    assert set(first) == {"lines.svg", "lines.png"}
    assert first == second
    assert run(["sweep", str(example()), "--vary", "leads.length=1:2m", "--figures", str(example())]) == 2
    assert "rewound" in capsys.readouterr().err
