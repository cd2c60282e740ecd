"""Inductance and resistance of the secondary's go-and-return leads."""

from math import isfinite, log, pi, sqrt

from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.constants import MU0


def _positive(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        msg = f"{name} must be above 0, got {value!r}"
        raise ValueError(msg)


def pair_inductance_per_m(spacing: float, radius: float) -> float:
    """Return the loop inductance per metre of two round conductors, go and return.

    Parameters
    ----------
    spacing : float
        Centre to centre [m], at least twice the radius.
    radius : float
        Of the conducting part [m].

    Returns
    -------
    float
        [H/m] per metre of the pair.

    Raises
    ------
    ValueError
        If a length is not above 0 or the conductors would overlap.

    Notes
    -----
    mu0/pi (1/4 + ln(D/r)): exact for evenly spread current, as in strands. F. W. Grover, Inductance Calculations
    (1946), chapter 5.
    """
    _positive("spacing", spacing)
    _positive("radius", radius)
    if spacing < 2 * radius:
        msg = f"spacing {spacing:g} m is less than the conductors' diameter {2 * radius:g} m"
        raise ValueError(msg)
    return MU0 / pi * (0.25 + log(spacing / radius))


def round_pair_inductance(length: float, area: float, spacing: float) -> float:
    """Return the loop inductance of leads of round cable.

    Parameters
    ----------
    length : float
        Go plus return [m]: the pair is half as long.
    area : float
        Of one conductor [m^2].
    spacing : float
        Centre to centre [m].

    Returns
    -------
    float
        [H].

    Raises
    ------
    ValueError
        As `pair_inductance_per_m`.
    """
    _positive("length", length)
    _positive("area", area)
    return 0.5 * length * pair_inductance_per_m(spacing, sqrt(area / pi))


def bar_pair_inductance(length: float, width: float, thickness: float, spacing: float) -> float:
    """Return the loop inductance of two equal bars with their wide faces opposite.

    Parameters
    ----------
    length : float
        Go plus return [m].
    width, thickness : float
        Of one bar [m].
    spacing : float
        Centre to centre, across the thickness [m].

    Returns
    -------
    float
        [H].

    Raises
    ------
    ValueError
        If a length is not above 0 or the bars would overlap.

    Notes
    -----
    mu0/pi ln(mutual distance / own distance), geometric mean distances, for evenly spread current.
    """
    _positive("length", length)
    _positive("spacing", spacing)
    if spacing < thickness:
        msg = f"spacing {spacing:g} m is less than the bars' thickness {thickness:g} m"
        raise ValueError(msg)
    go = Rectangle(width=thickness, height=width)
    back = Rectangle(width=thickness, height=width, x=spacing)
    return 0.5 * length * MU0 / pi * log(gmd_rectangles(go, back) / gmd_rectangles(go, go))


def lead_resistance(length: float, area: float, resistivity: float, joint_resistance: float = 0.0) -> float:
    """Return the resistance of the leads with their joints.

    Parameters
    ----------
    length : float
        Go plus return [m].
    area : float
        Conducting area of one conductor [m^2].
    resistivity : float
        At the leads' temperature [ohm m].
    joint_resistance : float
        All joints together [ohm].

    Returns
    -------
    float
        [ohm].

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    _positive("length", length)
    _positive("area", area)
    _positive("resistivity", resistivity)
    if not (isfinite(joint_resistance) and joint_resistance >= 0):
        msg = f"joint_resistance must not be negative, got {joint_resistance!r}"
        raise ValueError(msg)
    return resistivity * length / area + joint_resistance
