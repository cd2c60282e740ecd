"""Figures of common practice and memory that stand in for what nobody measured: one table, one row a figure."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import nan

from geometries.described.tables import table_rows


@dataclass(frozen=True, kw_only=True, slots=True)
class Assumption:
    """One figure that the tool assumes, or a limit that it speaks of.

    Parameters
    ----------
    name
        In words; what `assumed` finds it by.
    low, typical, high
        [SI], rising; nan where no band is known, or where only the band is used.
    unit
        Of these; "1" where there is none.
    enters
        What it stands for, and in what of an estimate.
    source
        Where it stands, or what else is known of it; may be empty.
    status
        "published", "computed", "common practice" or "memory".
    constant
        Dotted name of the constant that says the same in code that cannot read this table; empty elsewhere.
    doubt, kind, drawn, key, words, measure
        Where the figure is in doubt: see `fem.trust.doubts.Doubt`; empty elsewhere.
    """

    name: str
    low: float
    typical: float
    high: float
    unit: str
    enters: str
    source: str
    status: str
    constant: str
    doubt: str
    kind: str
    drawn: str
    key: str
    words: str
    measure: str

    @property
    def band(self) -> tuple[float, float]:
        """Lowest and highest [SI]."""
        return self.low, self.high


@cache
def assumptions() -> dict[str, Assumption]:
    """Return all rows of the table by name, in its order."""
    numbers = {"low", "typical", "high"}
    rows = (
        Assumption(**{column: float(text or nan) if column in numbers else text for column, text in row.items()})  # type: ignore[arg-type]
        for row in table_rows("fem", "assumptions.csv")
    )
    return {row.name: row for row in rows}


def assumed(name: str) -> Assumption:
    """Return the figure of this name; KeyError where there is none."""
    return assumptions()[name]
