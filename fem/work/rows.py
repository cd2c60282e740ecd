"""What several bursts followed side by side have an entry each of."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from typing import Any, ClassVar, Self

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers


class Rowwise:
    """Hold arrays with a row for each member of a block; those that leave it are left out by `take`."""

    ROWS: ClassVar[tuple[str, ...]] = ()
    """Attributes with the members along the first axis, or such things themselves."""
    SIDES: ClassVar[tuple[str, ...]] = ()
    """With the members along the second axis."""

    def take(self, rows: Integers) -> Self:
        """Return the same of some members, by their places."""
        other = copy(self)
        for name in self.ROWS:
            value: Any = getattr(self, name)
            setattr(other, name, value.take(rows) if isinstance(value, Rowwise) else value[rows])
        for name in self.SIDES:
            setattr(other, name, np.take(getattr(self, name), rows, axis=1))
        return other


def spread(numbers: Sequence[Sequence[float]] | NDArray[Any], counts: Sequence[int]) -> Floats:
    """Return numbers of bars (m, bars) for their cells, (m, cells); (m, 1) where all bars of each member are alike."""
    values = np.array(numbers, dtype=np.float64)
    if (values == values[:, :1]).all():
        return values[:, :1]
    return np.repeat(values, counts, axis=1)
