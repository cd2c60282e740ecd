"""The bench sheet: one page of HTML that needs nothing else, with what the screen says, and room for readings."""

import html
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from fem.estimation.result import Estimate
from fem.quantity import Band, Unknown
from fem.report.sheet.drawing import inlined
from fem.report.sheet.page import bench_sheet
from fem.report.text.cut_list import metres
from fem.report.text.numbers import shown
from fem.report.text.sure import with_band
from fem.report.verdict.whole import verdict
from tests.support.told import DESIGNS, quickly

VOID = {"meta", "br", "link", "img", "input", "hr"}
HOSTILE = """<script>alert("1")</script> & it's </title> {{ title }} Säge ленточная 鋸 مشحمة \u202egnp"""


class Page(HTMLParser):
    """Elements with their words, and what is said of them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None], list[str]]] = []
        self._open: list[int] = []
        self.feed(text)
        assert not self._open, "not all elements are closed"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs), []))
        if tag not in VOID:
            self._open.append(len(self.elements) - 1)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs), []))

    def handle_endtag(self, tag: str) -> None:
        assert self.elements[self._open.pop()][0] == tag, f"{tag} closes another element"

    def handle_data(self, data: str) -> None:
        for number in self._open:
            self.elements[number][2].append(data)

    def all(self, *tags: str) -> list[str]:
        return [" ".join("".join(words).split()) for tag, _, words in self.elements if tag in tags]

    def attributes(self, *tags: str) -> list[dict[str, str | None]]:
        return [attrs for tag, attrs, _ in self.elements if tag in tags]

    @property
    def rows(self) -> list[list[str]]:
        """The cells of every row of a table."""
        found: list[list[str]] = []
        for tag, _, words in self.elements:
            if tag == "tr":
                found.append([])
            elif tag in ("th", "td"):
                found[-1].append(" ".join("".join(words).split()))
        return found


@pytest.fixture(scope="module", params=["work piece", "lead ends joined only"])
def found(request: pytest.FixtureRequest, hand_made: Estimate) -> Estimate:
    """Two designs; both have the example's window, with its first fields in place of solved ones."""
    return replace(quickly(request.param), pictures=hand_made.pictures)


@pytest.fixture(scope="module")
def page(found: Estimate) -> Page:
    return Page(bench_sheet(found))


def test_it_says_what_the_screen_says(found: Estimate, page: Page) -> None:
    told, rows = verdict(found), page.rows
    for one in told.answers:
        assert any(row[:2] == [one.question, one.answer] for row in rows), one.question
    shouted = [one for one in told.answers if one.decides.value in ("care", "stop")]
    assert all([one.question, one.answer, one.decides.value] in rows for one in shouted)
    assert told.changes[0] in next(row for row in rows if row[0] == "changes it most")[1]


def test_the_worst_cautions_stand_first_and_in_full(found: Estimate, page: Page) -> None:
    told = verdict(found).cautions
    assert len(told) == 3
    listed = page.all("li")
    for caution, item in zip(told, listed, strict=False):
        assert item.startswith(caution.about)
        assert item.endswith(caution.told)
    tags = [tag for tag, _, _ in page.elements]
    assert tags.index("li") < tags.index("table")
    every = " ".join(listed)
    assert all(caution.about in every for caution in found.cautions)
    assert "licensed practice" in listed[3]


def test_the_cut_list_has_a_row_for_each_piece_lug_and_insulation(found: Estimate, page: Page) -> None:
    listed = found.cut_list
    assert not isinstance(listed, Unknown)
    rows = page.rows
    assert len(listed.pieces) >= 2
    for name, piece in listed.pieces.items():
        row = next(row for row in rows if row[0].startswith(name) and f"{piece.pieces} x {metres(piece.length)}" in row)
        for part in (piece.round_leg, piece.leads, piece.tails, piece.slack):
            assert (metres(part) if part else "-") in row
        band = found.bands[f"cut_list.pieces.{name}.length_m"]
        assert isinstance(band, Band)
        assert piece.conductor in row[-2]
    for name, lug in listed.lugs.items():
        assert any(row[:2] == [f"crimped lugs, {name}", str(lug.count)] and lug.bolt in row[2] for row in rows), name
    for name, state in listed.insulation.items():
        assert any(row[:2] == [f"insulation, {name}", shown(state.thickness, "m")] for row in rows), name


def test_readings_have_what_is_expected_its_band_and_an_empty_box(found: Estimate, page: Page) -> None:
    readings = [row for row in page.rows if len(row) == 4 and row[3] == "" and row[1]]
    for key, value, unit in (
        ("idle.current_rms_A", found.idle.current_rms, "A"),
        ("open_circuit.secondary_voltage_rms_V", found.open_circuit.secondary_voltage_rms, "V"),
        ("short_circuit.secondary_current_rms_A", found.short_circuit.secondary_current_rms, "A"),
        ("short_circuit.input_power_W", found.short_circuit.input_power, "W"),
    ):
        band = found.bands[key]
        assert isinstance(band, Band)
        assert list(with_band(value, band, unit)) in [row[1:3] for row in readings], key
    boxes = [attrs for attrs in page.attributes("td") if attrs["data-head"] == "read"]
    assert len(boxes) == len(readings) >= 12


def test_it_needs_no_network_no_script_and_no_other_file(found: Estimate) -> None:
    text = bench_sheet(found)
    page = Page(text)
    tags = {tag for tag, _, _ in page.elements}
    assert not tags & {"script", "link", "img", "iframe", "object", "embed", "form", "input", "base"}
    attributes = [pair for _, attrs, _ in page.elements for pair in attrs.items()]
    assert not [name for name, _ in attributes if name.startswith("on") or name in ("src", "srcset", "action")]
    assert all(str(value).startswith("#") for name, value in attributes if name in ("href", "xlink:href"))
    assert not re.search(r"https?:|@import|url\((?!#)", text)


def test_it_is_read_without_eyes(page: Page) -> None:
    assert page.attributes("html") == [{"lang": "en"}]
    assert len(page.all("h1")) == 1
    assert all(attrs["scope"] in ("row", "col", "colgroup") for attrs in page.attributes("th"))
    assert len(page.all("caption")) == len(page.all("table"))
    ids = [attrs["id"] for _, attrs, _ in page.elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    (drawing,) = page.attributes("svg")
    assert drawing["role"] == "img"
    for _, attrs, _ in page.elements:
        for name in ("aria-labelledby", "href"):
            if name in attrs:
                assert str(attrs[name]).removeprefix("#") in ids
        for used in re.findall(r"url\(#([^)]*)\)", " ".join(map(str, attrs.values()))):
            assert used in ids


def test_a_hostile_title_is_only_words(found: Estimate) -> None:
    text = bench_sheet(replace(found, title=HOSTILE))
    page = Page(text)
    assert "<script" not in text
    words = HOSTILE.replace("\u202e", r"\u202e")
    assert page.all("h1") == [words]
    assert page.all("title")[0].startswith(words)
    assert "\u202e" not in text
    long = Page(bench_sheet(replace(found, title="x" * 10_000)))
    assert len(long.all("h1")[0]) < 120


def test_the_same_estimate_gives_the_same_bytes(found: Estimate) -> None:
    assert bench_sheet(found) == bench_sheet(found)
    assert found.provenance.job_digest[:16] in bench_sheet(found)


def test_figures_of_one_page_share_no_ids() -> None:
    figure = Figure()
    figure.add_subplot().plot([1, 2])
    ids = [set(re.findall(r'id="([^"]*)"', inlined(figure, name, "a line"))) for name in ("one", "other")]
    assert len(ids[0]) == len(ids[1]) > 5
    assert not ids[0] & ids[1]


def test_what_is_lost_is_named_with_its_reason(found: Estimate) -> None:
    why = Unknown("no convergence: the burst was not followed beyond 0.217 s", gap=True)
    for section in ("work_piece", "heating", "milliohms", "load", "switch_on", "meters", "cut_list"):
        text = bench_sheet(replace(found, pictures=None, **{section: why}))
        assert why.reason in text, section
        assert "a loose turn round" in text  # the rest stands


def test_an_estimate_without_design_and_pictures_has_a_sheet(hand_made: Estimate) -> None:
    page = Page(bench_sheet(replace(hand_made, pictures=None)))
    assert not page.attributes("svg")
    assert any(row[:1] == ["no-load"] for row in page.rows)


FRAME = """<!DOCTYPE html><meta charset="utf-8"><iframe id="seen" style="border:0;width:{width}px;height:9000px"
srcdoc="{sheet}"></iframe><script>onload = () => {{
document.title = "wide " + document.getElementById("seen").contentDocument.documentElement.scrollWidth }}</script>"""
"""Asks how wide a sheet becomes: the browser's own window is never narrower than 500 px."""


def browse(*arguments: str) -> subprocess.CompletedProcess[str]:
    browser = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("no Chromium is installed")
    start = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--enable-logging=stderr"]
    return subprocess.run([*start, *arguments], capture_output=True, text=True, timeout=120, check=True)


@pytest.fixture(scope="module", params=DESIGNS)
def sheet(request: pytest.FixtureRequest, hand_made: Estimate) -> Iterator[str]:
    return bench_sheet(replace(quickly(request.param), pictures=hand_made.pictures))  # type: ignore[return-value]


@pytest.mark.slow
@pytest.mark.parametrize("width", [360, 1280])
def test_nothing_sticks_out_at_the_side(sheet: str, width: int, tmp_path: Path) -> None:
    frame = tmp_path / "frame.html"
    frame.write_text(FRAME.format(width=width, sheet=html.escape(sheet)), "utf-8")
    seen = browse("--dump-dom", str(frame))
    assert f"<title>wide {width}</title>" in seen.stdout
    assert "CONSOLE" not in seen.stderr


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("font", ["Arial", "DejaVu Sans"])
def test_it_prints_on_two_pages(sheet: str, paper: str, font: str, tmp_path: Path) -> None:
    """Where there is no Arial nor a font of its widths, others are up to a sixth wider."""
    file, printed = tmp_path / "sheet.html", tmp_path / "sheet.pdf"
    file.write_text(
        sheet.replace("</style>", f"@page {{ size: {paper} }} body {{ font-family: '{font}' }}</style>"), "utf-8"
    )
    seen = browse(f"--print-to-pdf={printed}", "--no-pdf-header-footer", str(file))
    assert "CONSOLE" not in seen.stderr
    assert len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes())) == 2
