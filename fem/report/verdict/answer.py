"""An answer, and numbers with their bands as answers have them."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from fem.estimation.result import Estimate
from fem.quantity import Band, Unknown
from fem.report.text.numbers import shown
from fem.report.text.sure import with_band

INTO = {"burst": "into the work", "loaded": "into the load", "shorted": "lead ends joined"}
"""What the machine works into, by its name in the sections of heat and milliohms; the first that there is decides."""


class Decides(Enum):
    """What an answer means for going ahead; the answer itself says it in words."""

    NOTHING = "nothing"
    GO = "go"
    CARE = "care"
    STOP = "stop"


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """A question of the bench, the answer in one line, what it decides."""

    question: str
    answer: str
    decides: Decides = Decides.NOTHING


def banded(estimate: Estimate, key: str, value: float, unit: str) -> str:
    """Return a number with its band behind it, its unit but once."""
    band = estimate.bands.get(key)
    if not isinstance(band, Band):
        return shown(value, unit)
    number, between = with_band(value, band, unit)
    if all(end.count(" ") == 1 for end in (number, *between.split(" to "))):
        between = between.replace(f" {number.partition(' ')[2]}", "")
    return f"{number} ({between})" if between else number


def lost(question: str, why: Unknown) -> Answer:
    """Return the answer where what was asked for could not be computed."""
    return Answer(question=question, answer=f"not known: {why.reason}", decides=Decides.CARE)


def gap(value: object) -> Unknown | None:
    """Return why a result that was asked for and described is not there, if so."""
    return value if isinstance(value, Unknown) and value.gap else None


def described(value: object) -> bool:
    """Return whether the job has it, found or lost."""
    return not isinstance(value, Unknown) or value.gap
