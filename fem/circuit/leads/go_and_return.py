"""Inductance of the secondary's go-and-return leads."""

from math import pi
from typing import Any

import numpy as np

from fem.arrays import Real, positive
from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.constants import MU0


def pair_inductance_per_m(spacing: Real, radius: Real) -> Real:
    """Return the loop inductance of two round conductors, go and return, (...,) [H] per metre of the pair.

    Parameters
    ----------
    spacing
        (...,) centre to centre [m], at least twice the radius.
    radius
        (...,) of the conducting part [m].

    Raises
    ------
    ValueError
        If a length is not above 0 or the conductors would overlap.

    Notes
    -----
    L' = mu0/pi ln(D/D'), D the spacing and D' = r exp(-1/4) the geometric mean distance of a disc from itself: exact
    for evenly spread current, as in strands. F. W. Grover, Inductance Calculations (1946), chapter 5.
    """
    positive(spacing=spacing, radius=radius)
    if np.any(spacing < 2 * radius):
        msg = f"spacing {spacing!s} m is less than the conductors' diameter {2 * radius!s} m"
        raise ValueError(msg)
    per_m: Real = MU0 / pi * (0.25 + np.log(spacing / radius))
    return per_m


def round_pair_inductance(length: Real, area: Real, spacing: Real) -> Real:
    """Return the loop inductance of leads of round cable, (...,) [H].

    Parameters
    ----------
    length
        (...,) go plus return [m]: the pair is half as long.
    area
        (...,) of one conductor [m^2].
    spacing
        (...,) centre to centre [m].

    Raises
    ------
    ValueError
        As `pair_inductance_per_m`.
    """
    positive(length=length, area=area)
    radius: Real = np.sqrt(area / pi)
    return 0.5 * length * pair_inductance_per_m(spacing, radius)


def bar_pair_inductance(length: Real, width: Real, thickness: Real, spacing: Real) -> Real:
    """Return the loop inductance of two equal bars with their wide faces opposite, (...,) [H].

    Parameters
    ----------
    length
        (...,) go plus return [m].
    width, thickness
        (...,) of one bar [m].
    spacing
        (...,) centre to centre, across the thickness [m].

    Raises
    ------
    ValueError
        If a length is not above 0 or the bars would overlap.

    Notes
    -----
    L = l/2 mu0/pi ln(D/D'), D the geometric mean distance between the bars' sections and D' that of one from itself,
    for evenly spread current: J. C. Maxwell, A Treatise on Electricity and Magnetism (1873), articles 691 to 693.
    """
    positive(length=length, spacing=spacing)
    if np.any(spacing < thickness):
        msg = f"spacing {spacing!s} m is less than the bars' thickness {thickness!s} m"
        raise ValueError(msg)
    go = Rectangle(width=thickness, height=width)
    back = Rectangle(width=thickness, height=width, x=spacing)
    ratio: Any = (gmd_rectangles(go, back) / gmd_rectangles(go, go))[()]
    inductance: Real = 0.5 * length * MU0 / pi * np.log(ratio)
    return inductance
