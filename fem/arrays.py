"""Arrays and the checks that plain numbers go through before they are computed with."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from math import isfinite
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.shapes.arrays import Floats as Floats
from geometries.shapes.arrays import Integers as Integers

Complexes = NDArray[np.complex128]

Real = TypeVar("Real", float, Floats)
"""One number, or those of a block of designs, one entry each: what such a function gives is of the same kind."""


def positive(**values: ArrayLike) -> None:
    """Refuse what is not finite and above 0, by name; of arrays (...,) each element.

    Raises
    ------
    ValueError
        If a value is not.
    """
    _refuse(values, lambda one: one > 0, "be above 0")


def not_negative(**values: ArrayLike) -> None:
    """Refuse what is not finite and at least 0, as `positive`."""
    _refuse(values, lambda one: one >= 0, "not be negative")


def finite(**values: ArrayLike) -> None:
    """Refuse what is not finite, as `positive`."""
    _refuse(values, lambda one: True, "be finite")


def _refuse(values: Mapping[str, ArrayLike], fits: Callable[[float], bool], must: str) -> None:
    for name, value in values.items():
        for one in _each(value):
            if not (isfinite(one) and fits(one)):
                msg = f"{name} must {must}, got {one!r}"
                raise ValueError(msg)


def _each(value: ArrayLike) -> Iterable[float]:
    return (value,) if isinstance(value, int | float) else np.asarray(value, dtype=np.float64).ravel().tolist()


def rising(name: str, values: ArrayLike, least: int = 2) -> Floats:
    """Return a read-only copy of values that rise.

    Parameters
    ----------
    name
        For the message.
    values
        (n,), finite and strictly rising.
    least
        How many there must be.

    Raises
    ------
    ValueError
        If they are fewer, not in one row, not finite or do not rise.
    """
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1 or array.size < least:
        msg = f"{name}: at least {least} points in one row expected, got shape {array.shape}"
        raise ValueError(msg)
    if not np.isfinite(array).all():
        msg = f"{name}: point {int(np.argmin(np.isfinite(array)))} is not finite"
        raise ValueError(msg)
    falling = np.flatnonzero(np.diff(array) <= 0)
    if falling.size:
        at = int(falling[0])
        msg = f"{name} must rise: point {at + 1} is {array[at + 1]:g} after {array[at]:g}"
        raise ValueError(msg)
    array.setflags(write=False)
    return array
