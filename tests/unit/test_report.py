"""The report draws what it is given; it neither solves nor loses anything."""

import io
import json
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import make_dataclass, replace
from pathlib import Path

import meshio
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from matplotlib.figure import Figure
from rich.console import Console

from fem.digits import brief, digits
from fem.estimation.by_length import LengthEffect
from fem.estimation.parts import Part
from fem.estimation.result import Estimate
from fem.estimation.stations.in_order import STATIONS
from fem.estimation.stations.section import Station
from fem.field.static.space import node_locations
from fem.quantity import Unknown, declared, extended, of
from fem.report.figures.drawing import draw, flux_density
from fem.report.figures.estimate import FIGURES, save
from fem.report.files.json import to_json
from fem.report.files.vtu import write_vtu
from fem.report.text import lists
from fem.report.text.estimate import chapters, report
from fem.report.text.lengths import lengths_chapter
from fem.report.text.numbers import NOTHING, duration, percent, shown
from geometries.cores.stacked import Joint
from geometries.described.quantities import CURRENT, INDUCTANCE, LENGTH, RESISTANCE, VOLTAGE, parse_quantity
from tests.support.drawn import assert_readable

# Half of the third digit, at its worst where the number begins with 1.00.
THIRD_DIGIT = 5e-3 * (1 + 1e-9)


@pytest.mark.parametrize(
    ("dimension", "unit"),
    [(CURRENT, "A"), (INDUCTANCE, "H"), (LENGTH, "m"), (RESISTANCE, "ohm"), (VOLTAGE, "V")],
)
@given(value=st.floats(1e-9, 1e4))
def test_shown_numbers_read_back_to_three_digits(dimension, unit, value):
    text = shown(value, unit)
    number = text.split()[0]
    smallest = NOTHING * parse_quantity(f"1 {text.split()[1]}", dimension)
    assert "e" not in number
    assert parse_quantity(text, dimension) == pytest.approx(value, rel=THIRD_DIGIT) or value < smallest
    assert len(number.replace(".", "").lstrip("0")) >= 3 or (value < smallest and number == "0")


@given(
    # with one digit 9.5e8 is 1e9, beyond what is read
    value=st.floats(-9.4e8, 9.4e8).filter(lambda value: abs(value) >= 1e-6) | st.sampled_from([0.0, -0.0]),
    significant=st.integers(1, 6),
)
def test_digits_read_back_within_their_last_one_and_have_no_exponent(value, significant):
    for text in (digits(value, significant), brief(value, significant)):
        # Half of the last digit, at its worst where the number begins with 1; the text is exact decimal.
        assert float(text) == pytest.approx(value, rel=0.5 * 10.0 ** (1 - significant) * (1 + 1e-9), abs=0.0)
        assert re.fullmatch(r"-?\d+(\.\d+)?", text)
        assert text != "-0"
        assert not text.endswith(".")


@given(
    value=st.floats(allow_nan=True, allow_infinity=True),
    unit=st.sampled_from(["A", "m", "m2", "A/m2", "H", "ohm", "K", "s", "-"]),
)
def test_every_float_can_be_shown(value, unit):
    text = shown(value, unit)
    assert text
    assert not re.search(r"nan|inf\b|^-0(\.0*)?( |$)", text)
    number = digits(value)
    assert "e" not in number or not 1e-6 <= abs(value) < 9.4e8


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.00951, "m", "9.51 mm"),
        (3.03e-6, "H", "3.03 uH"),
        (0.9996e-3, "H", "1.00 mH"),
        (9.5e-4, "ohm", "0.950 mohm"),
        (0.645, "ohm", "0.645 ohm"),
        (31.08e6, "A/m2", "31.1 A/mm2"),
        (2176.0, "A", "2180 A"),
        (0.0, "A", "0 A"),
        (-3.47e-18, "m", "0 mm"),
        (-1e-13, "A", "0 A"),
        (3e-18, "m2", "0 mm2"),
        (273.15 + 1e-13, "K", "0 degC"),
        (1.2e8, "A", "120000000 A"),
        (math.inf, "A", "unlimited A"),
        (313.15, "K", "40.0 degC"),
        (70e-6, "m2", "70.0 mm2"),
        (0.0932, "-", "0.093"),
    ],
)
def test_numbers_are_written_in_the_unit_of_the_bench(value, unit, text):
    assert shown(value, unit) == text


def test_percentages_and_digits():
    assert percent(-0.0388) == "-3.9 %"
    assert percent(0.34) == "34 %"
    assert digits(0.017241, 5) == "0.017241"
    assert percent(-1e-17) == "0 %"
    assert percent(9.9) == "990 %"
    assert percent(-40000.0) == "-40000 times"
    assert [brief(110.4, 2), brief(100.0), brief(2.0, 2), brief(0.25)] == ["110", "100", "2", "0.25"]


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (52.43, "52.4 s"),
        (59.97, "1 min"),
        (100.0, "1 min 40 s"),
        (7505.0, "2 h 5 min"),
        (1800.0, "30 min"),
        (1e5, "27 h 50 min"),
        (1e9, "11600 days"),
        (math.inf, "never"),
        (None, "never"),
    ],
)
def test_times_are_written_in_what_one_waits_by(seconds, text):
    assert duration(seconds) == text


def printed(estimate: Estimate, width: int) -> str:
    stream = io.StringIO()
    console = Console(file=stream, width=width, color_system=None)
    console.print(report(estimate))
    return stream.getvalue()


def test_what_each_length_does_on_screen_and_as_json(hand_made):
    """What is below a hundredth of a per cent is left out on screen, what is not told is said; JSON has everything."""
    rows = (
        ("core.stack_depth", 0.05, 1e-3, (-0.0123, 0.04, None)),
        ("core.joint_gap", 1e-4, 1e-5, (0.0, -0.002, 0.0)),
        ("windings.spacing", 0.003, 1e-3, (1e-5, 0.0, 0.0)),
    )
    names = ("flux_density_change", "idle_current_change", "short_circuit_current_change")
    effects = [
        LengthEffect(key=key, length=length, more=more, **dict(zip(names, changes, strict=True)))
        for key, length, more, changes in rows
    ]
    console = Console(file=io.StringIO(), width=100, color_system=None)
    console.print(lengths_chapter(effects))
    lines = [" ".join(line.split()) for line in console.file.getvalue().splitlines()]
    assert "core.stack_depth 50.0 mm 1.00 mm -1.23 % +4.00 % not told" in lines
    assert "core.joint_gap 0.100 mm 0.0100 mm +0.00 % -0.20 % +0.00 %" in lines
    assert not any("spacing" in line for line in lines)
    found = json.loads(to_json(hand_made, effects))
    assert [row["key"] for row in found["lengths"]] == [row[0] for row in rows]
    assert found["lengths"][0]["length_m"] == 0.05
    assert found["lengths"][0]["short_circuit_current_change"] is None
    assert "lengths" not in json.loads(to_json(hand_made))


@pytest.mark.parametrize("width", [80, 100])
def test_the_report_keeps_to_its_columns_and_needs_no_colour(hand_made, width):
    text = printed(hand_made, width)
    assert max(map(len, text.splitlines())) <= width
    assert "\x1b" not in text


def test_every_line_has_a_unit_a_count_or_a_reason(hand_made):
    unit = r"(A|V|W|VA|T|mm|mm2|A/mm2|ohm|mohm|[munp]?H|kg|degC|%|turns|N|N/m|A2s)"
    for heading, lines in chapters(hand_made):
        for line in lines:
            if line.value == "none":
                assert line.note in {"the curve never bends that sharply", "no knee"}, heading
            elif line.value and not line.label.endswith(("power factor", "turns", "over r.m.s.")):
                assert re.fullmatch(rf"-?[\d.]+ {unit}", line.value), line


def test_the_report_follows_the_questions_as_they_come_up(hand_made):
    text = printed(hand_made, 100)
    order = [
        "fits: 4.30 mm",
        "volts per turn",
        "above the 1.50 T to keep to",
        "no-load current, r.m.s.",
        "the curve never bends that sharply",
        "turns needed, the primary wound anew",
        "in the end turns",
        "no-load volts of the secondary",
        "first peak",
        "reduced voltage: a test",
        "to spare",
        "load resistance",
        "remanence assumed",
        "Cautions",
        "mesh error",
    ]
    ends = [0]
    for words in order:
        assert words in text[ends[-1] :], words
        ends.append(text.index(words, ends[-1]) + len(words))
    assert "0.71 A to 2.40 A: steel, gap" in text


def test_what_needs_no_remedy_says_so(hand_made):
    saturation = replace(hand_made.saturation, target_flux_density=1.6, extra_turns=0, fewest_primary_turns=220)
    saturation = replace(saturation, turns_keep_to="1.60 T and 1.2 A at no-load")
    notes = [line.note for _, lines in chapters(replace(hand_made, saturation=saturation)) for line in lines]
    assert "not needed: 230 turns already keep to 1.60 T and 1.2 A at no-load" in notes
    assert "within the 1.60 T to keep to" in notes


def test_a_design_without_load_says_so(hand_made):
    text = printed(replace(hand_made, load=Unknown("no [load] is described")), 100)
    assert "no [load] is described" in text


def test_brackets_in_a_title_are_no_markup(hand_made):
    assert "[bold] 2 [/]" in printed(replace(hand_made, title="[bold] 2 [/]"), 100)


def test_lists_name_what_a_job_may_name(hand_made):
    stream = io.StringIO()
    console = Console(file=stream, width=100, color_system=None)
    for table in (lists.steels, lists.conductors, lists.laminations, lists.metals):
        console.print(table())
    text = stream.getvalue()
    for name in ("M400-50A", 'cable = "70 mm2"', "EI120", "aluminium"):
        assert name in text
    # IEC 60228:2004, table 3: flexible copper of 70 mm2 has at most 0.272 ohm/km at 20 degC.
    assert re.search(r'"70 mm2" .* 0\.272$', text, re.MULTILINE)


def test_json_loses_nothing_and_keeps_the_order_of_sections(hand_made):
    text = to_json(hand_made)
    assert json.loads(text) == hand_made.to_dict()
    assert list(json.loads(text)) == list(hand_made.to_dict())
    assert text == to_json(hand_made)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_no_number_is_a_gap_in_json_and_costs_nothing_else(hand_made, value):
    written = json.loads(to_json(replace(hand_made, idle=replace(hand_made.idle, core_loss=value))))
    assert written["idle"].pop("core_loss_W") is None
    assert written["reasons"].pop("idle.core_loss_W") == f"came out as {value}, which is no result"
    assert written["gaps"] == ["idle.core_loss_W"]
    expected = hand_made.to_dict()
    del expected["idle"]["core_loss_W"]
    assert {**written, "gaps": []} == expected


def test_figures_are_the_same_on_every_run(hand_made, tmp_path):
    # The two that differ most in what they are made of: lines and text; pixels and contours.
    for name, figure in FIGURES[:2]:
        first = [path.read_bytes() for path in save(figure(hand_made), tmp_path / "first", name)]
        second = [path.read_bytes() for path in save(figure(hand_made), tmp_path / "second", name)]
        assert first == second
        ET.fromstring(first[0].decode())
        assert first[1].startswith(b"\x89PNG")


@pytest.mark.parametrize(("name", "figure"), FIGURES)
def test_no_text_is_cropped_or_overprinted(hand_made, name, figure):
    # The longest words there are, a title twice as long as fits, and a dollar sign, which is no formula.
    wordy = {"joint": Joint.INTERLEAVED, "joint_gap": 0.123e-3, "stack_depth": 123.4e-3}
    pictures = replace(hand_made.pictures, core=hand_made.pictures.core.model_copy(update=wordy))
    drawn: Figure = figure(replace(hand_made, title="A $5 supply for bandsaw blades " * 4, pictures=pictures))
    assert_readable(drawn)


def test_flux_density_is_exact_for_a_quadratic_potential(hand_made):
    field = hand_made.pictures.idle_field
    problem = field.model.fine.problem
    x, y = node_locations(problem.space, problem.geometry)
    known = replace(field, fine=replace(field.fine, A=x**2 + 3 * x * y + y))
    Bx, By = flux_density(known, np.array([[1 / 3], [1 / 3]]))
    cx, cy = problem.geometry.points[:, problem.space.triangles].mean(axis=1)
    # Rounding of gradients over elements of 1e-4 m; B = (dA/dy, -dA/dx).
    np.testing.assert_allclose(Bx[0], 3 * cx + 1, rtol=1e-9)
    np.testing.assert_allclose(By[0], -(2 * cx + 3 * cy), atol=1e-9)


def test_the_drawing_covers_the_whole_plane_once_and_is_its_own_mirror_image(hand_made):
    pictures = hand_made.pictures
    drawing = draw(pictures.idle_field)
    x, y = (c[drawing.triangles.triangles] for c in (drawing.triangles.x, drawing.triangles.y))
    area = 0.5 * abs((x[:, 1] - x[:, 0]) * (y[:, 2] - y[:, 0]) - (x[:, 2] - x[:, 0]) * (y[:, 1] - y[:, 0])).sum()
    x0, y0, x1, y1 = pictures.section.outline
    assert area == pytest.approx((x1 - x0) * (y1 - y0), rel=1e-9)
    half = drawing.A.size // 2
    np.testing.assert_array_equal(drawing.A[:half], -drawing.A[half:])
    np.testing.assert_array_equal(drawing.triangles.x[:half], -drawing.triangles.x[half:])


def test_vtu_holds_the_field(hand_made, tmp_path: Path):
    file = tmp_path / "field.vtu"
    write_vtu(hand_made, file)
    read = meshio.read(file)
    field = hand_made.pictures.idle_field
    np.testing.assert_array_equal(read.point_data["A_Wb_per_m"], field.fine.A)
    np.testing.assert_array_equal(read.cell_data["region"][0], field.model.fine.region)
    # The mid-side nodes lie between their corners, in the order VTU wants: 01, 12, 20.
    points, cells = read.points, read.cells[0].data
    for k, (i, j) in enumerate(((0, 1), (1, 2), (2, 0))):
        middle = (points[cells[:, i]] + points[cells[:, j]]) / 2
        np.testing.assert_allclose(points[cells[:, 3 + k]], middle, atol=1e-15)


@pytest.mark.parametrize("section", [s for s in STATIONS if s.part in (None, Part.SWITCH_ON, Part.HALF_WAVE_SUPPLY)])
def test_a_result_declared_anew_is_told_without_more_ado(hand_made: Estimate, section: Station) -> None:
    """One more field in a section's class gives a line of the report and a key of the JSON: nothing else is touched."""
    present = getattr(hand_made, section.key)
    wider = make_dataclass(
        "Wider",
        [("anew", float, of("V", "what is declared anew"))],
        bases=(type(present),),
        frozen=True,
        kw_only=True,
        slots=True,
    )
    estimate = replace(hand_made, **{section.key: extended(wider, present, anew=12.3)})
    assert re.search(r"what is declared anew +12\.3 V", printed(estimate, 100))
    assert estimate.to_dict()[section.key]["anew_V"] == 12.3
    assert "anew_V" in {found.key for found in declared(wider)}
