"""A cause: how common it is, what it means at the bench, and what it changes of the model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from fem.arrays import Floats
from fem.estimation.case import Case
from fem.readings.reading import Reading
from fem.trust.doubt import Doubt
from fem.trust.draws import Draws
from geometries.described.tables import table_rows

Doubts = tuple[Doubt, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """A row of `causes.csv`: `prior` is its share before the readings, with all the others [-]."""

    key: str
    prior: float
    words: str
    bench: str
    mend: str


@cache
def rows() -> dict[str, Row]:
    """Return the table by key, in its order."""
    found = table_rows("fem.fitting.causes", "causes.csv")
    return {
        each["key"]: Row(
            key=each["key"], prior=float(each["prior"]), words=each["words"], bench=each["bench"], mend=each["mend"]
        )
        for each in found
    }


def same(case: Case, draws: Draws) -> Case:
    """Change nothing of the members."""
    return case


def as_shown(case: Case, draws: Draws, readings: Sequence[Reading], shown: Floats) -> Floats:
    """Change nothing of what meters show (readings, members)."""
    return shown


@dataclass(frozen=True, kw_only=True, slots=True)
class Cause:
    """What one cause changes.

    Parameters
    ----------
    key
        Its row in `causes.csv`.
    unknowns
        Doubts that it has in place of those of the same names, or besides. The first tells how great it is.
    changed
        Makes members, and their draws, such as have it.
    read
        What its meters are, in place of those told.
    seen
        Changes what they show (readings, members), from members and their draws.
    mended
        Whether all that it changes is gone once it is mended, so that what is estimated goes on without.
    """

    key: str
    unknowns: Doubts = ()
    changed: Callable[[Case, Draws], Case] = same
    read: Callable[[Sequence[Reading]], Sequence[Reading]] = tuple
    seen: Callable[[Case, Draws, Sequence[Reading], Floats], Floats] = as_shown
    mended: bool = False

    @property
    def row(self) -> Row:
        """How common it is, and its words."""
        return rows()[self.key]
