"""Tables of which each of several members has a row of its own: where in its row a number lies, for all at once."""

from __future__ import annotations

from copy import copy

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers

_SPAN, _MOST = 0.5, 0.75
"""What each row's last knot is scaled to, and what numbers beyond it are."""


class Rows:
    """Knots (n, k) that rise along each row from 0 or above, laid out one row behind the other.

    A row's knots are scaled to below 1 and raised by the row's number, so that all rows are one rising table and one
    search finds the piece of each number in its own row. Rounding there may tell the piece beside the right one for a
    number within 1e-13 of a knot: what is read from pieces has to go on smoothly from one to the next.

    Parameters
    ----------
    knots
        (n, k).
    """

    def __init__(self, knots: Floats) -> None:
        self._scale = _SPAN / knots[:, -1]
        self._places = np.arange(len(knots))
        self._raised = (knots * self._scale[:, None] + self._places[:, None]).ravel()

    @property
    def members(self) -> Integers:
        """Which row each member has, (m,)."""
        return self._places

    def taken(self, places: Integers) -> Rows:
        """Return the rows of some members, which share this table."""
        found = copy(self)
        found._places, found._scale = self._places[places], self._scale[places]
        return found

    def find(self, sizes: Floats) -> Integers:
        """Return the last knot at or below numbers >= 0, (m, ...), each member's in its own row, by its flat place."""
        shape = (-1,) + (1,) * (sizes.ndim - 1)
        raised = np.minimum(sizes * self._scale.reshape(shape), _MOST) + self._places.reshape(shape)
        return self._raised.searchsorted(raised, side="right") - 1


def between(x: ArrayLike, knots: Floats, values: Floats) -> Floats:
    """Interpolate linearly in a table (k,), or of each member (m, ...) in its row (m, k); beyond the end straight on.

    Below the first knot the first value holds. Of rows the knots start at 0.
    """
    x = np.asarray(x, dtype=np.float64)
    if knots.ndim == values.ndim == 1:
        slope = (values[-1] - values[-2]) / (knots[-1] - knots[-2])
        return np.asarray(np.interp(x, knots, values) + slope * np.maximum(x - knots[-1], 0.0))
    knots, values = np.broadcast_arrays(knots, values)
    slopes = np.diff(values) / np.diff(knots)
    table = np.stack((knots, values, np.concatenate((slopes, slopes[:, -1:]), axis=1))).reshape(3, -1)
    start, value, slope = table.take(Rows(knots).find(x), axis=1)
    return np.asarray(slope * (x - start) + value)
