"""How far off a reading may be: what was told with it, else what is typical of its kind of instrument."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import ceil, log10, sqrt

from geometries.described.quantities import format_quantity
from geometries.described.tables import table_rows
from geometries.described.tolerances import Told

STEPS = 2000
"""Of a display in one range: hand-held multimeters have 2000 to 6000 (common practice, no source); who tells nothing of
a meter may have the plainest."""
SHARED = 0.5
"""Of the variance of what goes with the reading, what all readings of one instrument have in common: its reference and
its converter serve every range, while each range has its own divider or shunt, each wave its own error, and nobody says
whether one instrument read all (common practice, no source). Steps and floors are each reading's own."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Accuracy:
    """How far off a number may be.

    Parameters
    ----------
    uncertainty
        Standard uncertainty [SI]: any value within its limits is as likely as any other, so it is their half width over
        sqrt(3) (JCGM 100:2008, 4.3.7).
    in_proportion
        What of it goes with the reading, over all of it [-].
    instrument
        Row of accuracies.csv: readings of one share `SHARED` of that.
    words
        How it is known.
    assumed
        Whether nobody told it.
    """

    uncertainty: float
    in_proportion: float
    instrument: str
    words: str
    assumed: bool


@cache
def _typical() -> dict[str, tuple[float, float, float, str]]:
    rows = table_rows("fem.readings", "accuracies.csv")
    return {row["instrument"]: (*(float(row[c]) for c in ("share", "steps", "floor")), row["unit"]) for row in rows}  # type: ignore[misc]


def accuracy(value: float, instrument: str, full_scale: float | None = None) -> Accuracy:
    """Return how far off a number may be.

    Parameters
    ----------
    value
        The number [SI], not 0; where it carries a tolerance, that is taken.
    instrument
        A row of accuracies.csv.
    full_scale
        Of its range [SI]; left out, the least of 2, 20, 200 ... that holds the number.

    Raises
    ------
    KeyError
        If there is no such instrument.
    """
    share, steps, floor, unit = _typical()[instrument]
    full = full_scale or 2.0 * 10.0 ** ceil(log10(abs(value) / 2.0) - 1e-9)
    fixed, told = steps * full / STEPS + floor, isinstance(value, Told)
    within = value.within if isinstance(value, Told) else share * abs(value) + fixed
    gain = share * abs(value) / (share * abs(value) + fixed)
    parts = [f"{share:.3g}".rstrip("0") and f"{100 * share:.3g} %"] if share else []
    parts += [format_quantity(fixed, unit, 2)] if fixed else []
    words = f"{' and '.join(parts)}, assumed of {instrument}"
    if told:
        words = f"{format_quantity(within, unit, 2)}, told"
    return Accuracy(
        uncertainty=within / sqrt(3), in_proportion=gain, instrument=instrument, words=f"+-{words}", assumed=not told
    )
