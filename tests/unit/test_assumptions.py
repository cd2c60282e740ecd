"""One home for figures of common practice and memory: its rows are whole, the code says the same, README prints it."""

import re
from dataclasses import astuple
from importlib import import_module
from math import isnan
from pathlib import Path

import pytest

from fem.assumptions import Assumption, assumed, assumptions
from fem.report.text.lists import figure
from tests.support.readme_parts import BETWEEN, README, SCREEN, as_markdown, screen

ROOT = Path(__file__).parents[2]
ROWS = assumptions().values()
MIRRORED = [row for row in ROWS if row.constant]


def constant(dotted: str) -> object:
    """Return what a dotted name of module, constant and member (of an enumeration, or a mapping by one) stands for."""
    parts = dotted.split(".")
    start = next(n for n, part in enumerate(parts) if not part.islower())
    module = import_module(".".join(parts[:start]))
    if len(parts) == start + 1:
        return getattr(module, parts[-1])
    held = getattr(module, parts[start])
    return next(v for k, v in held.items() if k.name == parts[-1]) if isinstance(held, dict) else held[parts[-1]].value


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_rows_are_whole(row: Assumption) -> None:
    assert row.status in {"published", "computed", "common practice", "memory"}
    assert row.source or row.status in {"common practice", "memory"}
    assert isnan(row.low) == isnan(row.high)
    figures = [value for value in (row.low, row.typical, row.high) if not isnan(value)]
    assert figures
    assert figures == sorted(figures)
    assert row.unit
    assert row.enters
    assert figure(row)


@pytest.mark.parametrize("row", MIRRORED, ids=lambda row: row.name)
def test_constants_say_what_the_table_says(row: Assumption) -> None:
    found = constant(row.constant)
    if isinstance(found, float):
        assert found == row.typical
    elif isinstance(found, tuple):
        assert found == (row.low, row.typical, row.high)
    else:
        assert astuple(found) == (row.low, row.typical, row.high)


def test_every_figure_is_used() -> None:
    code = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "fem").rglob("*.py"))
    asked = re.findall(r'assumed\(f?"([^"]*)"\)', code)
    patterns = [re.sub(r"\\\{.*?\\\}", ".*", re.escape(name)) for name in asked]
    idle = [r.name for r in ROWS if not (r.constant or r.doubt) and not any(re.fullmatch(p, r.name) for p in patterns)]
    assert idle == []


def test_unknown_names_are_refused() -> None:
    with pytest.raises(KeyError, match="phase of the moon"):
        assumed("phase of the moon")


def test_figures_are_written_with_their_units() -> None:
    assert figure(assumed("butt joint")) == "0.1 mm (0.05 to 0.15 mm)"
    assert figure(assumed("building factor, welded")) == "1.375 (1.15 to 1.6)"
    assert figure(assumed("burn within a minute")) == "51 degC"
    assert figure(assumed("current density of the short-circuit test")) == "3 A/mm2"


def test_readme_prints_the_table() -> None:
    found = BETWEEN.search(README.read_text(encoding="utf-8"))
    assert found is not None
    assert found.group() == as_markdown(), "python -m tests.support.readme_parts"


@pytest.mark.slow
def test_readme_prints_the_example_s_first_screen() -> None:
    found = SCREEN.search(README.read_text(encoding="utf-8"))
    assert found is not None
    assert found.group() == screen(), "python -m tests.support.readme_parts"
