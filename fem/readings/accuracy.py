"""How far off a reading may be: what was told with it, else what is typical of its kind of instrument."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import ceil, log10, sqrt

from geometries.described.quantities import format_quantity
from geometries.described.tables import table_rows
from geometries.described.tolerances import Told

STEPS = 4000
"""Of a display in one range: hand-held multimeters have 2000 to 6000 (common practice, no source)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Accuracy:
    """How far off a number may be.

    Parameters
    ----------
    uncertainty
        Standard uncertainty [SI]: any value within its limits is as likely as any other, so it is their half width over
        sqrt(3) (JCGM 100:2008, 4.3.7).
    words
        How it is known.
    assumed
        Whether nobody told it.
    """

    uncertainty: float
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
        Of its range [SI]; left out, the least of 4, 40, 400 ... that holds the number.

    Raises
    ------
    KeyError
        If there is no such instrument.
    """
    share, steps, floor, unit = _typical()[instrument]
    if isinstance(value, Told):
        return Accuracy(
            uncertainty=value.within / sqrt(3), words=f"+-{format_quantity(value.within, unit, 2)}, told", assumed=False
        )
    full = full_scale or 4.0 * 10.0 ** ceil(log10(abs(value) / 4.0) - 1e-9)
    fixed = steps * full / STEPS + floor
    parts = [f"{share:.3g}".rstrip("0") and f"{100 * share:.3g} %"] if share else []
    parts += [format_quantity(fixed, unit, 2)] if fixed else []
    words = f"+-{' and '.join(parts)}, assumed of {instrument}"
    return Accuracy(uncertainty=(share * abs(value) + fixed) / sqrt(3), words=words, assumed=True)
