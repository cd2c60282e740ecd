"""Conductors heated by a short current with no heat escaping: a bound to hold the heat network against.

All the heat of the current stays in the conductor: c d(theta)/dt = rho J^2, rho = rho_20 (beta + theta)/(beta + 20),
theta in degC. Parted and integrated from start to end,

    J^2 t = K^2 ln((end + beta)/(start + beta)),   K^2 = c (beta + 20)/rho_20,

c per volume [J/(K m^3)]: IEC 60949:1988, clause 3; the same law is behind k of IEC 60364-5-54, annex A. Meant for up to
some 5 s; what escapes makes the true time longer.
"""

from math import exp, isfinite, log, sqrt

from fem.arrays import positive
from fem.constants import ZERO_CELSIUS
from fem.materials.metals import Metal


def _exponent(metal: Metal, start: float, end: float) -> float:
    """Return ln((end + beta)/(start + beta))."""
    low, high = start - ZERO_CELSIUS + metal.beta, end - ZERO_CELSIUS + metal.beta
    if not (low > 0 and isfinite(high) and high >= low):
        msg = f"temperatures must rise from above {ZERO_CELSIUS - metal.beta:.4g} K, got {start:g} K to {end:g} K"
        raise ValueError(msg)
    return log(high / low)


def adiabatic_time(metal: Metal, current_density: float, start: float, end: float) -> float:
    """Return how long a current takes to heat its conductor [s], t = (K/J)^2 ln(...).

    Parameters
    ----------
    metal
        Of the conductor.
    current_density
        R.m.s. current over nominal area [A/m^2], > 0.
    start, end
        Temperatures [K], end not below start.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    positive(current_density=current_density)
    return (metal.short_time_constant / current_density) ** 2 * _exponent(metal, start, end)


def adiabatic_temperature(metal: Metal, current_density: float, start: float, time: float) -> float:
    """Return the temperature [K] after a time: `adiabatic_time` turned round.

    Parameters
    ----------
    metal
        Of the conductor.
    current_density
        R.m.s. current over nominal area [A/m^2], > 0.
    start
        Temperature [K].
    time
        [s], > 0.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    positive(current_density=current_density, time=time)
    _exponent(metal, start, start)
    above = start - ZERO_CELSIUS + metal.beta
    return above * exp((current_density / metal.short_time_constant) ** 2 * time) - metal.beta + ZERO_CELSIUS


def adiabatic_current(metal: Metal, area: float, start: float, end: float, time: float) -> float:
    """Return the r.m.s. current [A] that heats a conductor from start to end, I = K S sqrt(ln(...)/t).

    Parameters
    ----------
    metal
        Of the conductor.
    area
        Nominal cross-section S [m^2], > 0.
    start, end
        Temperatures [K], end not below start.
    time
        [s], > 0.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    positive(area=area, time=time)
    return metal.short_time_constant * area * sqrt(_exponent(metal, start, end) / time)
