"""Read the tables that ship with this package."""

from __future__ import annotations

import csv
import difflib
from collections.abc import Iterable
from importlib.resources import files


def read_table(name: str) -> list[dict[str, str]]:
    """Return the rows of a CSV file beside this module, by column; lines starting with # are skipped."""
    text = (files("fem.materials") / name).read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if line and not line.startswith("#")))


def unknown(kind: str, name: str, names: Iterable[str]) -> str:
    """Return one line that says which names exist and which is nearest to the one asked for."""
    names = tuple(names)
    folded = {known.casefold(): known for known in names}
    near = difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=0.5)
    hint = f"; nearest is {folded[near[0]]!r}" if near else ""
    return f"no {kind} {name!r}; there is {', '.join(names)}{hint}"
