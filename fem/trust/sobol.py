"""Low-discrepancy points in 12 bits: Sobol' sequences, scrambled once and for all, without scipy's start-up cost.

Whole numbers 0 to 4095 stand for the middles of as many equal strata of (0, 1). The first 2^k points put just one into
each 2^k-th of every axis, so that a prefix is balanced too.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np

from geometries.described.tables import table_rows

BITS = 12
MOST = 1 << BITS
"""Points there are."""


@cache
def _table() -> tuple[tuple[int, tuple[int, ...], int], ...]:
    rows = table_rows("fem.trust", "sobol.csv")
    return tuple(
        (int(row["polynomial"]), tuple(map(int, row["initial"].split())), int(row["scramble"])) for row in rows
    )


def most_axes() -> int:
    """Return for how many axes there are direction numbers."""
    return len(_table())


def directions(polynomial: int, initial: tuple[int, ...]) -> Any:
    """Return the direction numbers (12,) of an axis, scaled to 12 bits.

    Notes
    -----
    m_k = 2 a_1 m_(k-1) ^ 4 a_2 m_(k-2) ^ ... ^ 2^s m_(k-s) ^ m_(k-s), v_k = m_k 2^(12-k), of which point i is the sum
    modulo 2 over the bits of i: P. Bratley and B. L. Fox, ACM Trans. Math. Softw. 14 (1988) 88-100.
    """
    degree, m = len(initial), list(initial)
    for k in range(degree, BITS):
        new = m[k - degree] ^ (m[k - degree] << degree)
        for step in range(1, degree):
            if polynomial >> (degree - step) & 1:
                new ^= m[k - step] << step
        m.append(new)
    return np.array(m[:BITS]) << np.arange(BITS - 1, -1, -1)


@cache
def axis(place: int, *, scrambled: bool = True) -> Any:
    """Return all points (4096,) of an axis, counted from 0, as whole numbers from 0 to 4095.

    Parameters
    ----------
    place
        Of the axis, below `most_axes()`.
    scrambled
        Whether it is scrambled as `sobol.csv` says, or left as it is.

    Notes
    -----
    Every half of every half ... is swapped with its other half or not, by a bit of its own: A. B. Owen, Randomly
    permuted (t,m,s)-nets, 1995. The stratification stays, and axes that would run side by side over the first points do
    not. Over few points only so many axes can differ; those taken, and their scrambles, are the least correlated over
    the first 16, 32, 64 and 256 points, the first axes before all (`tests/support/scrambles.py`).
    """
    polynomial, initial, seed = _table()[place]
    points = np.zeros(1, dtype=np.int64)
    for step in directions(polynomial, initial):
        points = np.concatenate([points, points ^ step])
    return scramble(points, seed) if scrambled else points


def scramble(points: Any, seed: int) -> Any:
    """Return the points (n,) of an axis with the halves of each dyadic interval swapped, or not, by random bits."""
    # raw words of a bit generator never change from one numpy to another
    swaps = np.random.PCG64(seed).random_raw(MOST).astype(np.int64) >> 20 & 1
    found = points.copy()
    for bit in range(BITS):
        node = (1 << bit) + (points >> (BITS - bit))
        found ^= swaps[node] << (BITS - 1 - bit)
    return found
