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


def round_loop_inductance(length: Real, area: Real, spacing: Real) -> Real:
    """Return the inductance of the loop that leads of round cable make, closed at both ends, (...,) [H].

    Parameters
    ----------
    length
        (...,) go plus return [m]: the loop is half as long.
    area
        (...,) of one conductor [m^2].
    spacing
        (...,) centre to centre [m]: the loop's width, at least the conductor's diameter.

    Raises
    ------
    ValueError
        As `pair_inductance_per_m`.

    Notes
    -----
    A rectangle of round wire with sides a = l/2 and b, diagonal g, evenly spread current, radius r << a, b:

        L = mu0/pi (a ln(2a/r) + b ln(2b/r) + 2g - a asinh(a/b) - b asinh(b/a) - 7/4 (a + b)),

    F. W. Grover, Inductance Calculations (1946), chapter 8, from memory. What closes the loop at either end, work and
    winding, counts as a piece of the same wire. Long against its width it is the pair and what the ends add,
    mu0/pi b (ln(2b/r) - 7/4). Where the wire is not thin against a side that formula tells less than the long sides
    alone (b < 2.9 r if a is long): then it is the pair's. Both rise with every side, and so does the larger.
    """
    positive(length=length, area=area)
    radius: Any = np.sqrt(area / pi)
    a, b = 0.5 * np.asarray(length), np.asarray(spacing)
    pair = a * pair_inductance_per_m(spacing, radius)
    logs = a * np.log(2 * a / radius) + b * np.log(2 * b / radius) - a * np.arcsinh(a / b) - b * np.arcsinh(b / a)
    closed = MU0 / pi * (logs + 2 * np.hypot(a, b) - 1.75 * (a + b))
    inductance: Real = np.maximum(pair, closed)[()]
    return inductance


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
