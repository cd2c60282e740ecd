"""Resistance of the joints between leads, lugs, jaws and work: what lies in series adds up, low, typical and high."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True, slots=True)
class JointBand:
    """Between which resistances a joint, or several in series, may well lie.

    Parameters
    ----------
    low, typical, high
        (...,) [ohm], rising, >= 0.

    Raises
    ------
    ValueError
        If they are negative, not finite or not in order.
    """

    low: float
    typical: float
    high: float

    def __post_init__(self) -> None:
        """Refuse bands that are none."""
        rising = np.greater_equal(self.low, 0) & np.less_equal(self.low, self.typical)
        if not np.all(rising & np.less_equal(self.typical, self.high) & np.isfinite(self.high)):
            msg = f"a band must rise from 0 or above, got {self.low!r}, {self.typical!r}, {self.high!r} ohm"
            raise ValueError(msg)


def joints_resistance(joints: Iterable[tuple[JointBand, int]]) -> JointBand:
    """Add up joints in series, (...,) [ohm]: all low, all typical, all high.

    Parameters
    ----------
    joints
        Band of one joint of a kind [ohm], and (...,) how many of the kind there are [-], >= 0.

    Raises
    ------
    ValueError
        If a count is negative or no whole number.
    """
    low = typical = high = 0.0
    for band, count in joints:
        if np.any(np.less(count, 0) | np.not_equal(np.mod(count, 1), 0)):
            msg = f"a whole number of joints expected, got {count!r}"
            raise ValueError(msg)
        low += count * band.low
        typical += count * band.typical
        high += count * band.high
    return JointBand(low=low, typical=typical, high=high)
