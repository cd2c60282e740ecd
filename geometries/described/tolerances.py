"""A number with what it may be off, either way: "48 mm +-0.1 mm". To everything that computes it is the number."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from geometries.described.faults import shown
from geometries.described.spellings import comma_hint, decimal_number

if TYPE_CHECKING:
    from collections.abc import Callable

_EITHER_WAY = re.compile(r"\s*+(?:\+-|\+/-|±)\s*+")
_NUMBER = re.compile(r"([0-9]++\.?[0-9]*+|\.[0-9]++)\s*+(.*)", re.DOTALL)
EXAMPLE = '"48 mm +-0.1 mm" or "230 V +-3 %"'


class Told(float):
    """A number that was told with its tolerance; arithmetic makes plain numbers of it.

    Parameters
    ----------
    value
        [SI].
    within
        Half width of its limits [SI], above 0.
    """

    __slots__ = ("within",)
    within: float

    def __new__(cls, value: float, within: float) -> Told:
        """Return the number with its tolerance."""
        found = super().__new__(cls, value)
        found.within = within
        return found

    def __reduce__(self) -> tuple[type[Told], tuple[float, float]]:
        """Return what copies and pickles are made of."""
        return Told, (float(self), self.within)


class ToldText(str):
    """A text that is read as a number, without the tolerance it was told with.

    Parameters
    ----------
    value
        As in "1.6 mm".
    within
        Half width of its limits [SI], above 0.
    """

    within: float

    def __new__(cls, value: str, within: float) -> ToldText:
        """Return the text with its tolerance."""
        found = super().__new__(cls, value)
        found.within = within
        return found

    def __reduce__(self) -> tuple[type[ToldText], tuple[str, float]]:
        """Return what copies and pickles are made of."""
        return ToldText, (str(self), self.within)


class ToleranceError(ValueError):
    """A tolerance that cannot be one."""


def split_tolerance(text: str) -> tuple[str, str] | None:
    """Return a text's number with its unit, and its tolerance; None where it has none.

    "48 +-0.1 mm" is "48 mm" and "0.1 mm".

    Raises
    ------
    ToleranceError
        If what follows the sign is no number above 0, or there are two signs.
    """
    nominal, *rest = _EITHER_WAY.split(text.strip())
    if not rest:
        return None
    nominal, written = decimal_number(nominal), decimal_number(rest[0])
    found = _NUMBER.fullmatch(written) if len(rest) == 1 else None
    hint = comma_hint(rest[0]) if len(rest) == 1 else ""
    if found is None or not 0 < float(found[1]) < float("inf") or hint:
        msg = f"expected a tolerance above 0, such as {EXAMPLE}; got {shown(text)}"
        raise ToleranceError(": ".join(filter(None, (msg, hint))))
    number, unit = found[1], found[2].strip()
    if unit != "%" and re.fullmatch(r"[-+0-9.eE]+", nominal):
        nominal = f"{nominal} {unit}".rstrip()
    return nominal, f"{number} {unit}".rstrip()


def half_width(
    text: str, nominal: str, tolerance: str, read: Callable[[str], float], *, signed: bool, units: str
) -> float:
    """Return the half width of a tolerance [SI].

    Parameters
    ----------
    text
        As it was given, for messages.
    nominal, tolerance
        As from `split_tolerance`.
    read
        Reads a text as the quantity [SI]; what it raises is a ValueError.
    signed
        Whether the quantity may be zero and below, as a temperature: then there is no share of it.
    units
        The units it is commonly told in, for messages.

    Raises
    ------
    ToleranceError
        If the unit is another kind of quantity's, or the tolerance as wide as the value.
    """
    value = read(nominal)
    number, _, unit = tolerance.partition(" ")
    if unit == "%":
        if signed:
            msg = f"{shown(text)}: a share of a temperature says nothing; write its tolerance in K"
            raise ToleranceError(msg)
        within = abs(value) * float(number) / 100
    else:
        try:
            within = read(tolerance) - read(f"0 {unit}".rstrip())
        except ValueError:
            hint = f'"{unit}" is not its unit' if unit else "it needs a unit"
            units = units if signed else f"{units}, %"
            msg = f"{shown(text)}: tolerance {tolerance}: {hint}; units: {units}"
            raise ToleranceError(msg) from None
    if not signed and within >= abs(value):
        msg = f"{shown(text)}: the tolerance is as wide as the value"
        raise ToleranceError(msg)
    return within
