"""Write numbers as one reads them at the bench: three digits, the customary unit, always with it."""

from __future__ import annotations

from math import floor, isfinite, log10

from fem.constants import ZERO_CELSIUS
from fem.digits import MINUTE, digits, duration

NOTHING = 1e-6
"""Less than this of the unit it is shown in is what rounding leaves of nothing: no instrument at the bench shows it."""
MOST_PER_CENT = 10.0
"""Shares above this are told as times: no one pictures 4000 %."""
_INDUCTANCE = {-4: "pH", -3: "nH", -2: "uH", -1: "mH", 0: "H"}


def shown(value: float, unit: str) -> str:
    """Write an SI value for reading.

    Parameters
    ----------
    value
        The value [SI].
    unit
        As in a result's metadata. "A/m2" is shown in A/mm2, "m" in mm, "m2" in mm2, "K" as a temperature in degC, "ohm"
        below 0.1 in mohm, "H" with the prefix that suits, "s" from a minute on in minutes and hours, the rest as it is;
        "-" is a pure number, to two digits.
    """
    if unit == "s" and isfinite(value) and value >= MINUTE:
        return duration(value)
    factor, offset, name = scaled(value, unit)
    return f"{_measured(factor * value + offset, 3 if name else 2)} {name}".rstrip()


def scaled(value: float, unit: str) -> tuple[float, float, str]:
    """Return what turns SI values near one into those that are read: factor, offset and unit, as `shown` has them."""
    if unit == "A/m2":
        return 1e-6, 0.0, "A/mm2"
    if unit == "m2":
        return 1e6, 0.0, "mm2"
    if unit == "m":
        return 1e3, 0.0, "mm"
    if unit == "K":
        return 1.0, -ZERO_CELSIUS, "degC"
    if unit in {"-", ""}:
        return 1.0, 0.0, ""
    if unit == "ohm" and abs(value) < 0.1:
        return 1e3, 0.0, "mohm"
    if unit == "H" and value != 0 and isfinite(value):
        # Rounding first, so that 0.9996 mH is written 1.00 mH and not 1000 uH.
        power = max(floor(log10(float(f"{min(abs(value), 1.0):.2e}")) / 3 + 1e-12), -4)
        return 1000.0**-power, 0.0, _INDUCTANCE[power]
    return 1.0, 0.0, unit


def percent(share: float) -> str:
    """Write a share as a percentage of two digits, or as times where that says more."""
    if abs(share) > MOST_PER_CENT:
        return f"{digits(share, 2)} times"
    return f"{_measured(100 * share, 2)} %"


def _measured(value: float, significant: int = 3) -> str:
    return digits(value, significant) if abs(value) >= NOTHING or value != value else "0"
