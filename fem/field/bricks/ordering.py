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

    def cut(members: Integers) -> list[Integers]:
        places = lattice[members]
        low, high = places.min(axis=0), places.max(axis=0)
        axis = int(np.argmax(high - low))
        if len(members) <= LEAF or high[axis] - low[axis] < 3:
            return [members]
        middle = int(low[axis] + high[axis]) // 2
        middle += middle % 2
        if middle >= high[axis]:
            middle -= 2
        side = places[:, axis]
        below, above = members[side < middle], members[side > middle]
        return [*cut(below), *cut(above), members[side == middle]]

    return np.concatenate(cut(np.arange(len(lattice))))
