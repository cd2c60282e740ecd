"""The protocol for the bench: what it expects is what the stations say, and its empty file can be filled in."""

import re
from functools import cache
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from fem.cli import run
from fem.estimation.case import Case
from fem.examples import example, example_design
from fem.readings.file import read_readings
from fem.readings.measurements import COIL_TURNS
from fem.readings.protocol import Box, Protocol, boxes_of, protocol
from fem.readings.reading import readings_of
from fem.report.text.protocol import protocol_pages, protocol_sheet, readings_text
from tests.support.kept import KEPT


@cache
def case() -> Case:
    return Case(design=example_design(), source=KEPT)


@cache
def found() -> Protocol:
    return protocol(case())


def boxes() -> dict[str, Box]:
    return {box.reading.key: box for box in boxes_of(found()) if box.reading is not None}


def test_every_expectation_lies_in_its_band() -> None:
    for key, box in boxes().items():
        assert 0 < box.low <= box.expected <= box.high, key
    # the coil tells the turns: volts over volts is the ratio of turns, to a per mille of the primary's own drop
    coil = boxes()["search_coil.0.voltage"]
    assert coil.reading is not None
    volts = coil.reading.test.model_dump()["primary_voltage"]
    assert COIL_TURNS * volts / coil.expected == pytest.approx(case().circuit.primary_turns, rel=2e-3)
    assert boxes()["mains.0.idle_voltage"].expected == pytest.approx(case().design.mains.voltage, rel=1e-12)


def test_volts_rise_and_stay_within_the_mains() -> None:
    tests = [box.reading.test for box in boxes_of(found()) if box.reading is not None]
    volts = [test.model_dump().get("primary_voltage") for test in tests if not test.model_dump().get("lamp")]
    assert all(value <= case().design.mains.voltage * 1.02 for value in volts if value is not None)
    amperes = [boxes()[f"no_load.{place}.current"].expected for place in (1, 2, 3)]
    assert amperes == sorted(amperes)
    # behind the lamp less than on the mains
    assert boxes()["no_load.0.current"].expected < amperes[-1]


@pytest.mark.parametrize("width", [80, 100])
def test_it_fits_on_a_page(width: int) -> None:
    page = StringIO()
    Console(file=page, width=width, force_terminal=False).print(protocol_pages(found()))
    lines = page.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    assert sum(line.lstrip().startswith("[ ]") for line in lines) == sum(1 for _ in boxes_of(found()))
    for word in ("Before cutting", "After winding", "capacitor", "no hands on", "lamp", "Insulation"):
        assert word in page.getvalue()


def test_the_empty_file_is_filled_in(tmp_path: Path) -> None:
    text = readings_text(found())
    assert all(len(line) <= 120 for line in text.splitlines())
    file = tmp_path / "readings.toml"
    file.write_text(text, encoding="utf-8")
    assert readings_of(read_readings(file, case().design)) == ()
    # each line's comment taken off, and what is expected put between the quotes
    said = re.sub(r'^# (.*) = ""    # expected (\S+ \S+).*$', r'\1 = "\2"', text, flags=re.MULTILINE)
    said = re.sub(r'^# leads_together = "".*$', 'leads_together = "0.2 ohm"', said, flags=re.MULTILINE)
    said = re.sub(r'^# ((?:\[+.*\]+|\w+ = [^"]*"[^"]+"|\w+ = \d+).*)$', r"\1", said, flags=re.MULTILINE)
    said = said[: said.index("[[loaded]]")]
    file.write_text(said, encoding="utf-8")
    readings = readings_of(read_readings(file, case().design))
    assert {reading.key for reading in readings} == set(boxes())
    for reading in readings:
        assert reading.value == pytest.approx(boxes()[reading.key].expected, rel=0.05), reading.key


def test_the_command_prints_it_and_writes_the_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    job, file = tmp_path / "job.toml", tmp_path / "readings.toml"
    job.write_text(Path(example()).read_text(encoding="utf-8"), encoding="utf-8")
    assert run(["protocol", str(job), "--readings", str(job), "-q"]) == 2
    assert "would replace the job file" in capsys.readouterr().err
    assert run(["protocol", str(tmp_path / "none.toml")]) == 2
    assert capsys.readouterr().err.count("\n") == 1
    sheet = tmp_path / "sheet.html"
    assert run(["protocol", str(job), "--readings", str(file), "--sheet", str(sheet), "-q"]) == 0
    page = sheet.read_text(encoding="utf-8")
    assert page == protocol_sheet(found())
    assert not re.search(r"<script|http|src=", page)
    assert page.count("[ ]") == sum(1 for _ in boxes_of(found()))
    assert "Lead ends joined, on reduced volts" in capsys.readouterr().out
    assert readings_of(read_readings(file)) == ()
