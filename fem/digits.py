"""Numbers as a person reads them: so many significant digits, an exponent only where no one counts zeros."""

from __future__ import annotations

from math import floor, isfinite, log10

READ = (1e-6, 1e9)
"""From here to there a number is written without an exponent."""


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
