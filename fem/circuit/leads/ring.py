"""Inductance of one turn in air."""

from math import log, pi

from fem.arrays import positive
from fem.constants import MU0


def ring_inductance(circumference: float, mean_distance: float) -> float:
    """Return the inductance of a circle of one turn in air [H].

    Parameters
    ----------
    circumference
        Of its middle line [m].
    mean_distance
        Geometric mean distance of its section from itself [m].

    Notes
    -----
    L = mu0 a (ln(8a/g) - 2), a its radius, g that distance, for a section small against a and evenly spread current:
    F. W. Grover, Inductance Calculations (1946), chapter 16, from memory. An oblong loop of the same length has less.
    """
    positive(circumference=circumference, mean_distance=mean_distance)
    radius = circumference / (2 * pi)
    return MU0 * radius * max(log(8 * radius / mean_distance) - 2, 0.0)
