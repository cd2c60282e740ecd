"""Read the tables that ship with this package."""

from __future__ import annotations

import csv
from importlib.resources import files


def read_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file beside this module, by column; lines starting with # are skipped."""
    text = (files("fem.lumped") / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))
