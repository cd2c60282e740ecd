"""The table of published values: tests/published/values.csv."""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

TABLE = Path(__file__).parents[1] / "published" / "values.csv"


@dataclass(frozen=True, kw_only=True, slots=True)
class Published:
    """One row: what is expected, how near, and where it is printed."""

    key: str
    quantity: str
    unit: str
    expected: str
    tolerance: float
    why_tolerance: str
    source: str
    status: str

    @property
    def number(self) -> float:
        return float(self.expected)

    def relative_error(self, got: float, expected: float | None = None) -> float:
        """Return |got/expected - 1|; against the printed number unless a formula's value is given."""
        return abs(got / (self.number if expected is None else expected) - 1)


@cache
def _rows() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as stream:
        return {row["key"]: row for row in csv.DictReader(stream)}


def published(key: str) -> Published:
    """Return a row of the table."""
    row = _rows()[key]
    return Published(**{**row, "tolerance": float(row["tolerance"])})  # type: ignore[arg-type]


def published_keys(prefix: str) -> list[str]:
    """Return the keys that begin so, in the table's order."""
    return [key for key in _rows() if key.startswith(prefix)]
