"""Electric contacts between jaws, tips and work: constriction, heat at the spot, the force that parts them."""

from math import log, pi, sqrt

from fem.arrays import not_negative, positive
from fem.constants import MU0

LORENZ = 2.45e-8
"""Lorenz number of the Wiedemann-Franz law [V^2/K^2]."""


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


def spot_temperature(voltage: float, body_temperature: float) -> float:
    """Return the highest temperature inside a symmetric contact that drops a voltage.

    Parameters
    ----------
    voltage
        Across the contact, r.m.s. [V].
    body_temperature
        Of both bodies away from the spot [K].

    Returns
    -------
    float
        [K].

    Raises
    ------
    ValueError
        If a number is negative or the temperature not above 0.

    Notes
    -----
    T^2 = T0^2 + U^2/(4 L): current and heat take the same way, Kohlrausch's relation, and k rho = L T, Wiedemann and
    Franz. R. Holm, Electric Contacts, 4th ed. 1967.
    """
    positive(body_temperature=body_temperature)
    not_negative(voltage=voltage)
    return sqrt(body_temperature**2 + voltage**2 / (4 * LORENZ))


def blow_off_force(current_peak: float, *, apparent_radius: float, spot_radius: float) -> float:
    """Return the force with which current through one constriction pushes the bodies apart.

    Parameters
    ----------
    current_peak
        [A].
    apparent_radius, spot_radius
        Of the bodies and of the true contact spot [m], the first the larger.

    Returns
    -------
    float
        [N]; both halves of the constriction together.

    Raises
    ------
    ValueError
        If a radius is not above 0 or the spot is the larger.

    Notes
    -----
    F = mu0 i^2/(4 pi) ln(A/a): R. Holm, Electric Contacts, 4th ed. 1967, from memory.
    """
    positive(apparent_radius=apparent_radius, spot_radius=spot_radius)
    if spot_radius > apparent_radius:
        msg = f"spot_radius {spot_radius:g} m is above apparent_radius {apparent_radius:g} m"
        raise ValueError(msg)
    return MU0 / (4 * pi) * current_peak**2 * log(apparent_radius / spot_radius)
