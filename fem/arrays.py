"""Arrays and the checks that plain numbers go through before they are computed with."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import isfinite
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.shapes.arrays import Floats as Floats
from geometries.shapes.arrays import Integers as Integers

Complexes = NDArray[np.complex128]

Number = Any
"""One number of a design, or those of a block of designs, (...,)."""

Real = TypeVar("Real", float, Floats)
"""One number, or those of a block of designs, one entry each: what such a function gives is of the same kind."""


def of_each(values: Any) -> Any:
    """Return what there is for one design as a plain number, for a block (...,) as it stands."""
    return values if values.ndim else values.item()


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
    _refuse(values, np.isfinite, "be finite")


def _refuse(values: Mapping[str, ArrayLike], fits: Callable[[Any], Any], must: str) -> None:
    for name, value in values.items():
        if isinstance(value, int | float):
            if isfinite(value) and fits(value):
                continue
            wrong: float = value
        else:
            array = np.asarray(value, dtype=np.float64)
            fit = np.isfinite(array) & fits(array)
            if fit.all():
                continue
            wrong = float(array.flat[int(np.argmin(fit))])
        msg = f"{name} must {must}, got {wrong!r}"
        raise ValueError(msg)


def rising(name: str, values: ArrayLike, least: int = 2, *, rows: bool = False) -> Floats:
    """Return a read-only copy of values that rise.

    Parameters
    ----------
    name
        For the message.
    values
        (n,), finite and strictly rising.
    least
        How many there must be.
    rows
        Whether they may be several rows as well, (m, n), each rising.

    Raises
    ------
    ValueError
        If they are fewer, not in one row, not finite or do not rise.
    """
    array = np.array(values, dtype=np.float64)
    if not 1 <= array.ndim <= 1 + rows or array.shape[-1] < least:
        msg = f"{name}: at least {least} points in one row expected, got shape {array.shape}"
        raise ValueError(msg)
    if not np.isfinite(array).all():
        msg = f"{name}: point {int(np.argmin(np.isfinite(array)))} is not finite"
        raise ValueError(msg)
    falling = np.argwhere(np.diff(array) <= 0)
    if len(falling):
        *row, at = falling[0]
        before, after = array[(*row, at)], array[(*row, at + 1)]
        msg = f"{name} must rise: point {at + 1} is {after:g} after {before:g}"
        raise ValueError(msg)
    array.setflags(write=False)
    return array
