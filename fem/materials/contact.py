"""Electric contacts of metals: constriction and typical resistance, heat at the spot."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from math import nan, pi, sqrt

from fem.arrays import not_negative, positive
from fem.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from fem.materials.work_metals import work_metal
from geometries.described.tables import table_rows

LORENZ = 2.44e-8
"""Lorenz number of the Wiedemann-Franz law [V^2/K^2]: (pi k/e)^2/3, to three digits."""
OXIDE_OVER_CLEAN = 5.0
"""Handbook resistance of machined steel contacts over that of one clean spot [-], for pairs that no table has."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ContactMetal:
    """Hold what a metal does where it touches another.

    Parameters
    ----------
    hardness_low, hardness_high
        Soft and hard-drawn, at room temperature [Pa].
    softening, melting
        Where its contacts begin to soften, where they run [K].
    softening_voltage, melting_voltage
        Across one contact of this metal with itself, in steady state [V]; as measured where that is printed.
    """

    hardness_low: float
    hardness_high: float
    softening: float
    melting: float
    softening_voltage: float
    melting_voltage: float


@cache
def contact_metal(name: str) -> ContactMetal:
    """Return what a work-piece metal does where it touches another; KeyError where it is none, as carbon."""
    row = {row["metal"]: row for row in table_rows("fem.materials", "contact_metals.csv")}[name]
    softening, melting = float(row["softening_degC"]) + ZERO_CELSIUS, work_metal(name).solidus
    soft, runs = (float(row[column] or nan) for column in ("softening_V", "melting_V"))
    if runs == runs:
        # brass runs well below its solidus, where zinc leaves
        melting = min(melting, spot_temperature(runs, REFERENCE_TEMPERATURE))
    return ContactMetal(
        hardness_low=1e6 * float(row["hardness_low_MPa"]),
        hardness_high=1e6 * float(row["hardness_high_MPa"]),
        softening=softening,
        melting=melting,
        softening_voltage=soft if soft == soft else spot_voltage(softening, REFERENCE_TEMPERATURE),
        melting_voltage=runs if runs == runs else spot_voltage(melting, REFERENCE_TEMPERATURE),
    )


def typical_resistance(one: str, other: str, force: float) -> tuple[float, float, float]:
    """Return the least, typical and greatest resistance of a bright, cold contact of two work-piece metals [ohm].

    Parameters
    ----------
    one, other
        Names of the metals.
    force
        That presses them together [N], > 0.

    Notes
    -----
    Real contacts lie between one clean spot that yields (`constriction_resistance`, the softer metal, soft and hard)
    and the handbook's fit of machined, lightly oxidised ones, K/(0.102 F)^0.5; typical is the geometric mean of both
    ends. Both go with the root of the force.
    """
    metals = [contact_metal(one), contact_metal(other)]
    rho = [float(work_metal(name).resistivity_at(REFERENCE_TEMPERATURE)) for name in (one, other)]
    clean = [
        constriction_resistance(*rho, hardness=hardness, force=force)
        for hardness in (min(m.hardness_low for m in metals), min(m.hardness_high for m in metals))
    ]
    kinds = {tuple("mild steel" if "steel" in name else name for name in pair) for pair in ((one, other), (other, one))}
    printed = [
        1e-6 * float(row[column]) / sqrt(0.102 * force)
        for row in table_rows("fem.materials", "contact_pairs.csv")
        if (row["one"], row["other"]) in kinds
        for column in ("K_low_uohm", "K_high_uohm")
    ] or [OXIDE_OVER_CLEAN * clean[1]]
    low, high = min(clean + printed), max(clean + printed)
    return low, sqrt(low * high), high


def constriction_resistance(
    resistivity_one: float, resistivity_other: float, *, hardness: float, force: float
) -> float:
    """Return the resistance of one clean contact spot that yields plastically.

    Parameters
    ----------
    resistivity_one, resistivity_other
        Of the two bodies [ohm m], > 0.
    hardness
        Of the softer body [Pa], > 0.
    force
        That presses them together [N], > 0.

    Returns
    -------
    float
        [ohm]. Scale and dirt add to it, often many times as much.

    Raises
    ------
    ValueError
        If a number is not above 0.

    Notes
    -----
    R = rho/(2 a) with rho the mean of both, and the spot's radius from F = H pi a^2: R = (rho/2) sqrt(pi H/F). R. Holm,
    Electric Contacts, 4th ed. 1967; the form with force as the tables of
    Doduco print it (0.9 for the root of pi over 2).
    """
    positive(resistivity_one=resistivity_one, resistivity_other=resistivity_other, hardness=hardness, force=force)
    return 0.5 * (resistivity_one + resistivity_other) / (2 * sqrt(force / (pi * hardness)))


def spot_temperature(voltage: float, body_temperature: float, other_temperature: float | None = None) -> float:
    """Return the highest temperature inside a contact of metals that drops a voltage.

    Parameters
    ----------
    voltage
        Across the contact, r.m.s. [V].
    body_temperature, other_temperature
        Of the bodies away from the spot [K]; the other is as hot as the first where not given.

    Returns
    -------
    float
        [K].

    Raises
    ------
    ValueError
        If a number is negative or a temperature not above 0.

    Notes
    -----
    Current and heat take the same way, so that temperature hangs on the potential V alone, whatever the shape and
    whatever the two metals: Kohlrausch, and k rho = L T, Wiedemann and Franz,

        T^2 = T1^2 + (T2^2 - T1^2) V/U + V (U - V)/L,

    at most (T1^2 + T2^2)/2 + U^2/(4 L) + L (T2^2 - T1^2)^2/(4 U^2) where that lies inside, the hotter body else; with
    like bodies T^2 = T0^2 + U^2/(4 L). R. Holm, Electric Contacts, 4th ed. 1967.
    """
    other = body_temperature if other_temperature is None else other_temperature
    positive(body_temperature=body_temperature, other_temperature=other)
    not_negative(voltage=voltage)
    apart, square = other**2 - body_temperature**2, voltage**2
    if square <= LORENZ * abs(apart):
        return max(body_temperature, other)
    mean = 0.5 * (body_temperature**2 + other**2)
    return sqrt(mean + square / (4 * LORENZ) + 0.25 * LORENZ * apart**2 / square)


def spot_voltage(temperature: float, body_temperature: float) -> float:
    """Return the voltage [V] across a contact whose hottest place has a temperature, with both bodies at another [K].

    Raises
    ------
    ValueError
        If the bodies are hotter than that, or not above 0 K.

    Notes
    -----
    U = 2 sqrt(L (T^2 - T0^2)): the inverse of `spot_temperature`.
    """
    positive(body_temperature=body_temperature)
    not_negative(rise=temperature - body_temperature)
    return 2 * sqrt(LORENZ * (temperature**2 - body_temperature**2))
