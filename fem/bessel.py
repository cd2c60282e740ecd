"""The quotient of Bessel functions that skin effect in round conductors comes down to."""

from __future__ import annotations

import numpy as np

from fem.arrays import Complexes


def round_quotient(z: complex | Complexes) -> Complexes:
    """Return z I0(z)/I1(z), which is also y J0(y)/J1(y) for y = j z.

    Parameters
    ----------
    z
        (...,) with |arg z| <= pi/4, as (1 + j) radius/skin depth.

    Notes
    -----
    The recurrence I_(n-1) - I_(n+1) = 2 n I_n/z makes it the continued fraction 2 + z^2/(4 + z^2/(6 + ...)), evaluated
    from far out, where z^2 is small beside the square of what it is added to.
    """
    square = np.asarray(z) ** 2
    terms = 30 + int(2 * np.sqrt(np.max(np.abs(square))))
    found: Complexes = np.full_like(square, 2.0 * terms)
    for n in range(terms - 1, 0, -1):
        found = 2 * n + square / found
    return found
