"""Resistance of the joints between leads, lugs, jaws and work: what lies in series adds up, low, typical and high."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

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


class JointQuality(Enum):
    """How a joint is made; each value is the band of one joint [ohm]. Common practice, no source."""

    BOLTED_CLEAN = JointBand(low=5e-6, typical=10e-6, high=30e-6)
    """Crimped lug on a bright flat face, bolt tightened well."""
    CLAMPED = JointBand(low=20e-6, typical=60e-6, high=200e-6)
    """Jaw, hand clamp or vice on a bright face."""
    DIRTY = JointBand(low=100e-6, typical=400e-6, high=2e-3)
    """Scale, rust, flux or paint in between, or a loose bolt."""

    @property
    def band(self) -> JointBand:
        """Resistance of one such joint."""
        band: JointBand = self.value
        return band


def joints_resistance(counts: Mapping[JointQuality, int]) -> JointBand:
    """Add up joints in series, (...,) [ohm]: all low, all typical, all high.

    Parameters
    ----------
    counts
        (...,) how many of each [-], >= 0.

    Raises
    ------
    ValueError
        If a count is negative or no whole number.
    """
    low = typical = high = 0.0
    for quality, count in counts.items():
        if np.any(np.less(count, 0) | np.not_equal(np.mod(count, 1), 0)):
            msg = f"{quality.name}: a whole number of joints expected, got {count!r}"
            raise ValueError(msg)
        low += count * quality.band.low
        typical += count * quality.band.typical
        high += count * quality.band.high
    return JointBand(low=low, typical=typical, high=high)
