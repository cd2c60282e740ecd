"""Conductors heated by a short current with no heat escaping: a bound to hold the heat network against."""

from dataclasses import dataclass
from functools import cache
from math import exp, isfinite, log, sqrt

from geometries.described.tables import table_rows

_ZERO = 273.15


@dataclass(frozen=True, kw_only=True, slots=True)
class AdiabaticMetal:
    """Hold the short-time constants of a conductor metal.

    Parameters
    ----------
    name : str
    constant : float
        K of IEC 60949 [A s^0.5/m^2].
    beta : float
        Reciprocal of the temperature coefficient of resistance at 0 degC [K].
    heat_capacity : float
        Per volume, at 20 degC [J/(K m^3)].
    resistivity_20 : float
        At 20 degC [ohm m].
    source : str
    """

    name: str
    constant: float
    beta: float
    heat_capacity: float
    resistivity_20: float
    source: str

    @property
    def constant_from_data(self) -> float:
        """K from heat capacity and resistivity, sqrt(c (beta + 20)/rho_20) [A s^0.5/m^2]: IEC 60949, clause 3."""
        return sqrt(self.heat_capacity * (self.beta + 20) / self.resistivity_20)


@cache
def adiabatic_metals() -> dict[str, AdiabaticMetal]:
    """Return the metals whose short-time constants are known, by name."""
    return {
        row["metal"]: AdiabaticMetal(
            name=row["metal"],
            constant=1e6 * float(row["constant_A_s05_per_mm2"]),
            beta=float(row["beta_degC"]),
            heat_capacity=float(row["heat_capacity_J_per_K_m3"]),
            resistivity_20=float(row["resistivity_20_ohm_m"]),
            source=row["source"],
        )
        for row in table_rows(__package__, "adiabatic_metals.csv")
    }


def adiabatic_metal(name: str) -> AdiabaticMetal:
    """Return one metal's short-time constants.

    Raises
    ------
    ValueError
        If there is none of that name.
    """
    metals = adiabatic_metals()
    if name not in metals:
        msg = f"no short-time constants for {name!r}; there are {', '.join(metals)}"
        raise ValueError(msg)
    return metals[name]


def _check(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        msg = f"{name} must be above 0, got {value!r}"
        raise ValueError(msg)


def _exponent(metal: AdiabaticMetal, start: float, end: float) -> float:
    low, high = start - _ZERO + metal.beta, end - _ZERO + metal.beta
    if not (low > 0 and isfinite(high) and high >= low):
        msg = f"temperatures must rise from above {_ZERO - metal.beta:.4g} K, got {start:g} K to {end:g} K"
        raise ValueError(msg)
    return log(high / low)


def adiabatic_time(metal: AdiabaticMetal, current_density: float, start: float, end: float) -> float:
    """Return how long a current takes to heat its conductor with no heat escaping.

    Parameters
    ----------
    metal : AdiabaticMetal
    current_density : float
        R.m.s. current over nominal area [A/m^2], > 0.
    start, end : float
        Temperatures [K], end not below start.

    Returns
    -------
    float
        [s]; what escapes makes the true time longer.

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    t = (K/J)^2 ln((end + beta)/(start + beta)), temperatures in degC: IEC 60949:1988, clause 3; the same law is behind
    k of IEC 60364-5-54, annex A. Meant for up to some 5 s.
    """
    _check("current_density", current_density)
    return (metal.constant / current_density) ** 2 * _exponent(metal, start, end)


def adiabatic_temperature(metal: AdiabaticMetal, current_density: float, start: float, time: float) -> float:
    """Return the temperature after a time at a current with no heat escaping.

    Parameters
    ----------
    metal : AdiabaticMetal
    current_density : float
        R.m.s. [A/m^2], > 0.
    start : float
        [K].
    time : float
        [s], > 0.

    Returns
    -------
    float
        [K].

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    `adiabatic_time` turned round.
    """
    _check("current_density", current_density)
    _check("time", time)
    _exponent(metal, start, start)
    above = start - _ZERO + metal.beta
    return above * exp((current_density / metal.constant) ** 2 * time) - metal.beta + _ZERO


def adiabatic_current(metal: AdiabaticMetal, area: float, start: float, end: float, time: float) -> float:
    """Return the current that heats a conductor from start to end in a time with no heat escaping.

    Parameters
    ----------
    metal : AdiabaticMetal
    area : float
        Nominal cross-section [m^2], > 0.
    start, end : float
        [K].
    time : float
        [s], > 0.

    Returns
    -------
    float
        R.m.s. [A].

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    I = K S sqrt(ln(...)/t), IEC 60949:1988, clause 3.
    """
    _check("area", area)
    _check("time", time)
    return metal.constant * area * sqrt(_exponent(metal, start, end) / time)
