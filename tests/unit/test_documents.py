"""What README and DEVELOPERS say of files is so."""

import re
from pathlib import Path

import pytest

import fem

ROOT = Path(__file__).parents[2]
TO_COME = re.compile(r"^## What comes next.*?(?=^## )", re.MULTILINE | re.DOTALL)
UNDER = ("", "fem/estimation/", "fem/characteristics/", "fem/circuit/", "fem/sweeps/", "fem/field/", "fem/report/")
"""Where a path in a text that speaks of a folder may begin."""


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_every_file_and_folder_that_is_named_is_there(document: str) -> None:
    text = TO_COME.sub("", (ROOT / document).read_text("utf-8"))
    named = set(re.findall(r"`((?:fem|geometries|tests)/[\w/]*(?:\.\w+)?)", text))
    named |= set(re.findall(r"`([a-z_]+/[a-z_]+\.py)", text))
    gone = {name for name in named if not any((ROOT / under / name).exists() for under in UNDER)}
    files = {path.name for top in ("fem", "geometries", "tests") for path in (ROOT / top).rglob("*.*")}
    gone |= set(re.findall(r"`(\w+\.(?:py|csv))`", text)) - files
    assert not gone
    assert len(named) > 2


def test_readme_names_what_is_public() -> None:
    text = (ROOT / "README.md").read_text("utf-8")
    assert [name for name in fem.__all__ if not re.search(rf"`{name}`|\bfem\.{name}\b", text)] == []
    assert set(re.findall(r"\bfem\.([A-Z]\w+|[a-z_]+(?=\())", text)) <= set(fem.__all__)
