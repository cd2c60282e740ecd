"""Numbers as a person reads them: so many significant digits, an exponent only where no one counts zeros."""

from __future__ import annotations

from collections.abc import Iterable
from math import floor, isfinite, log10

READ = (1e-6, 1e9)
"""From here to there a number is written without an exponent."""
MINUTE, HOUR, DAY = 60.0, 3600.0, 86400.0
_STEPS = (1.0, 5.0, 10.0, 60.0, 600.0, HOUR)
"""To which times from a minute on are rounded [s]."""


def digits(value: float, significant: int = 3) -> str:
    """Write a number.

    Parameters
    ----------
    value
        The number.
    significant
        Digits; a whole part that has more is rounded to so many and filled with zeros.
    """
    if value == 0:
        return "0"
    if not isfinite(value):
        return "unknown" if value != value else "unlimited" if value > 0 else "-unlimited"
    scientific = f"{value:.{significant - 1}e}"
    number = float(scientific)
    if not READ[0] <= abs(number) < READ[1]:
        return scientific
    return f"{number:.{max(significant - 1 - floor(log10(abs(number))), 0)}f}"


def brief(value: float, significant: int = 3) -> str:
    """Write a number as `digits`, for running text: without zeros at the end of its decimals."""
    text = digits(value, significant)
    return text.rstrip("0").rstrip(".") if "." in text and "e" not in text else text


def duration(seconds: float | None, step: float = 0.0) -> str:
    """Write a time as one waits for it: "52.4 s", "1 min 40 s", "2 h 5 min", "11 days"; None never comes.

    Parameters
    ----------
    seconds
        [s].
    step
        What its last digit is worth at most [s]; left out, three digits are told.
    """
    if seconds is None or not isfinite(seconds):
        return "never"
    first = 10.0 ** floor(log10(seconds)) if seconds > 0 else 1.0
    exact = not step > 0
    step = first / 100 if exact else min(step, first)
    if seconds < MINUTE - step / 2:
        return f"{brief(seconds) if exact else fixed(seconds, step)} s"
    if seconds >= 2 * DAY:
        return f"{brief(seconds / DAY)} days"
    step = max(fine for fine in _STEPS if fine <= max(step, MINUTE if seconds >= HOUR else 1.0))
    whole = round(seconds / step) * int(step)
    hours, minutes, rest = whole // 3600, whole % 3600 // 60, whole % 60
    words = [f"{count} {unit}" for count, unit in ((hours, "h"), (minutes, "min"), (rest, "s")) if count]
    return " ".join(words) or "0 s"


def fixed(value: float, step: float) -> str:
    """Write a number to a last digit that is worth a step, a power of ten."""
    places = -round(log10(step))
    return f"{round(value, places) + 0.0:.{max(places, 0)}f}"


def whole_shares(shares: Iterable[float]) -> list[int]:
    """Return shares [-] as whole per cent whose sum is that of the shares, rounded: none gets a per cent too many.

    By largest remainders: what is left of the sum's per cent goes to those that were cut most.
    """
    given = [100 * share for share in shares]
    found = [floor(share) for share in given]
    by_rest = sorted(range(len(given)), key=lambda place: found[place] - given[place])
    for place in by_rest[: round(sum(given)) - sum(found)]:
        found[place] += 1
    return found
