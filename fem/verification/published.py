"""Published values that the tool checks itself against: one table, from which the tests read too."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from enum import Enum
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable


class Measure(Enum):
    """How a computed value is compared with a published one."""

    RELATIVE = "relative"
    ABSOLUTE = "absolute"
    AT_LEAST = "at least"


@dataclass(frozen=True, kw_only=True, slots=True)
class Published:
    """One row: what is expected, how near, and where it is printed.

    Parameters
    ----------
    key
        Its name, unique.
    quantity, unit
        What it is, for reading; the unit it is printed in.
    expected
        As printed.
    measure, tolerance
        How the deviation is measured, and the largest that is allowed [- or the row's unit].
    why_tolerance
        Where that comes from.
    source, status
        Where the value is printed, and whether it was seen there, is from memory or computed.
    """

    key: str
    quantity: str
    unit: str
    expected: str
    measure: Measure
    tolerance: float
    why_tolerance: str
    source: str
    status: str

    @property
    def number(self) -> float:
        """The expected value [the row's unit]."""
        return float(self.expected)

    def relative_error(self, got: float, expected: float | None = None) -> float:
        """Return |got/expected - 1|; against the printed number unless a formula's value is given."""
        return abs(got / (self.number if expected is None else expected) - 1)

    def deviation(self, computed: float) -> float:
        """Return how far a computed value lies above the expected one [-, or the row's unit unless relative]."""
        if self.measure is Measure.RELATIVE:
            return computed / self.number - 1
        return computed - self.number

    def met_by(self, computed: float) -> bool:
        """Whether a computed value agrees; a value that is not a number does not."""
        found = self.deviation(computed)
        return found >= -self.tolerance if self.measure is Measure.AT_LEAST else abs(found) <= self.tolerance


def read_published(table: Traversable) -> dict[str, Published]:
    """Return the rows of a table by their keys.

    Parameters
    ----------
    table
        CSV with the columns of `Published`.

    Raises
    ------
    ValueError
        If two rows share a key.
    """
    rows: dict[str, Published] = {}
    for row in csv.DictReader(table.read_text(encoding="utf-8").splitlines()):
        if row["key"] in rows:
            msg = f"two rows called {row['key']!r}"
            raise ValueError(msg)
        rows[row["key"]] = Published(
            key=row["key"],
            quantity=row["quantity"],
            unit=row["unit"],
            expected=row["expected"],
            measure=Measure(row["measure"]),
            tolerance=float(row["tolerance"]),
            why_tolerance=row["why_tolerance"],
            source=row["source"],
            status=row["status"],
        )
    return rows


@cache
def published_values() -> dict[str, Published]:
    """Return the rows of the table that ships with the tool."""
    return read_published(files("fem.verification") / "published.csv")
