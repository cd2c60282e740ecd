"""Resistance of the joints between leads, lugs, jaws and work."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from math import isfinite


@dataclass(frozen=True, kw_only=True, slots=True)
class JointBand:
    """Hold between which resistances a joint, or several in series, may well lie.

    Parameters
    ----------
    low, typical, high : float
        [ohm], rising, >= 0.

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
        if not (isfinite(self.high) and 0 <= self.low <= self.typical <= self.high):
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
    """Add up joints in series.

    Parameters
    ----------
    counts : mapping of JointQuality to int
        How many of each [-], >= 0.

    Returns
    -------
    JointBand
        All low, all typical, all high [ohm].

    Raises
    ------
    ValueError
        If a count is negative or no whole number.
    """
    low = typical = high = 0.0
    for quality, count in counts.items():
        if count < 0 or count != int(count):
            msg = f"{quality.name}: a whole number of joints expected, got {count!r}"
            raise ValueError(msg)
        low += count * quality.band.low
        typical += count * quality.band.typical
        high += count * quality.band.high
    return JointBand(low=low, typical=typical, high=high)
