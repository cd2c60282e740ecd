"""Write numbers as one reads them at the bench: three digits, the customary unit, always with it."""

from __future__ import annotations

from math import floor, log10

from geometries.quantities import ZERO_CELSIUS

_INDUCTANCE = {-4: "pH", -3: "nH", -2: "uH", -1: "mH", 0: "H"}


def shown(value: float, unit: str) -> str:
    """Write an SI value for reading.

    Parameters
    ----------
    value
        The value [SI].
    unit
        As in a result's metadata. "A/m2" is shown in A/mm2, "m" in mm, "m2" in mm2, "K" as a temperature in degC, "ohm"
        below 0.1 in mohm, "H" with the prefix that suits, the rest as it is; "-" is a pure number, to two digits.
    """
    if unit == "A/m2":
        return f"{digits(value * 1e-6)} A/mm2"
    if unit == "m2":
        return f"{digits(value * 1e6)} mm2"
    if unit == "m":
        return f"{digits(value * 1e3)} mm"
    if unit == "K":
        return f"{digits(value - float(ZERO_CELSIUS))} degC"
    if unit in {"-", ""}:
        return digits(value, 2)
    if unit == "ohm" and abs(value) < 0.1:
        return f"{digits(value * 1e3)} mohm"
    if unit == "H" and value != 0:
        # Rounding first, so that 0.9996 mH is written 1.00 mH and not 1000 uH.
        power = min(max(floor(log10(abs(float(f"{value:.2e}"))) / 3 + 1e-12), -4), 0)
        return f"{digits(value / 1000.0**power)} {_INDUCTANCE[power]}"
    return f"{digits(value)} {unit}"


def digits(value: float, significant: int = 3) -> str:
    """Write a number with so many significant digits, without an exponent where it can be read without."""
    if value == 0:
        return "0"
    rounded = float(f"{value:.{significant - 1}e}")
    decimals = significant - 1 - floor(log10(abs(rounded)))
    if not -6 < decimals < 8:
        return f"{rounded:.{significant - 1}e}"
    return f"{rounded:.{max(decimals, 0)}f}"


def percent(share: float) -> str:
    """Write a share as a percentage of two digits."""
    return f"{digits(100 * share, 2)} %"
