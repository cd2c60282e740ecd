"""A state of a machine at what was measured: volts at its terminals, amperes in its leads, a lamp before it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np

from fem.arrays import Number

State = TypeVar("State")

_STEPS, _CLOSE = 30, 1e-5
_FARTHEST = 5.0
"""How far from where it begins a logarithm is sought: a factor of 150."""


def settled(
    missed: Callable[[Any, State | None], tuple[Any, State]], start: Number, *, low: float, high: float
) -> tuple[State, Any]:
    """Find for every member the x at which nothing is missed: logarithms of volts, of ohms.

    Parameters
    ----------
    missed
        Returns of x, (...,), what is missed there and the state; sought from the state before, if there is one.
    start
        (...,) where to begin.
    low, high
        Between what the missed falls as x rises.

    Returns
    -------
    state, known
        The last state, and (...,) whether it is that of the root within 1e-5.

    Notes
    -----
    Secants, every member for itself, their slopes kept between both bounds.
    """
    x: Any = np.asarray(start, dtype=np.float64)
    fall: Any = high
    before: tuple[Any, Any] | None = None
    left, state = missed(x, None)
    for _ in range(_STEPS):
        if before is not None:
            apart = x - before[0]
            still = np.abs(apart) < 1e-12
            fall = np.clip(np.where(still, high, (before[1] - left) / np.where(still, 1.0, apart)), low, high)
        known = np.abs(left) <= _CLOSE
        new = np.clip(x + left / fall, start - _FARTHEST, start + _FARTHEST)
        if np.all(known | (new == x)):
            break
        before, x = (x, left), np.where(known, x, new)
        left, state = missed(x, state)
    return state, known
