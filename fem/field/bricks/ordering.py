"""The order in which a tensor grid's unknowns are eliminated."""

import numpy as np

from fem.arrays import Integers

LEAF = 60
"""Nested dissection stops at pieces of this many unknowns; CHOLMOD's supernodes do the rest."""


def dissection(lattice: Integers) -> Integers:
    """Return an elimination order of lattice points by nested dissection.

    Cutting along planes of cell faces (even lattice numbers) separates the halves, whose factors then do not fill each
    other: on a 3-D grid several times less work than a minimum-degree order.

    Parameters
    ----------
    lattice
        Lattice numbers of the unknowns (unknowns, dimensions); cells lie between even numbers.

    Returns
    -------
    Positions in `lattice` in the order of elimination (unknowns,).

    References
    ----------
    A. George, SIAM J. Numer. Anal. 10 (1973) 345.
    """
    first = lattice.min(axis=0)
    whole = np.full(lattice.max(axis=0) + 1 - first, -1)
    whole[tuple((lattice - first).T)] = np.arange(len(lattice))

    def cut(block: Integers, low: tuple[int, ...]) -> list[Integers]:
        members = block[block >= 0]
        axis = int(np.argmax(block.shape))
        start, end = low[axis], low[axis] + block.shape[axis] - 1
        if len(members) <= LEAF or end - start < 3:
            return [members]
        middle = (start + end) // 2
        middle += middle % 2
        if middle >= end:
            middle -= 2
        below, between, above = np.split(block, [middle - start, middle - start + 1], axis=axis)
        there = (*low[:axis], middle + 1, *low[axis + 1 :])
        return [*cut(below, low), *cut(above, there), between[between >= 0]]

    return np.concatenate(cut(whole, tuple(first.tolist())))
