"""Sections of bars: what current and heat see of them."""

from dataclasses import dataclass
from math import exp, pi

from numpy.typing import ArrayLike

from fem.arrays import Floats, positive
from fem.circuit.leads.mean_distance import Rectangle, gmd_rectangles
from fem.work.skin import round_ac_factor, strip_ac_factor


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundSection:
    """Hold the section of a rod or wire.

    Parameters
    ----------
    diameter
        [m], > 0.
    """

    diameter: float

    def __post_init__(self) -> None:
        """Refuse a diameter that is not above 0."""
        positive(diameter=self.diameter)

    @property
    def area(self) -> float:
        """Area [m^2]."""
        return pi * self.diameter**2 / 4

    @property
    def perimeter(self) -> float:
        """Perimeter [m]."""
        return pi * self.diameter

    @property
    def half_depth(self) -> float:
        """Depth from the surface to the middle, to compare with the skin depth [m]."""
        return self.diameter / 2

    @property
    def mean_distance(self) -> float:
        """Geometric mean distance from itself [m]: of a disc its radius times exp(-1/4)."""
        return self.diameter / 2 * exp(-0.25)

    def ac_factor(self, ratio: ArrayLike) -> Floats:
        """Return the a.c. over d.c. resistance [-] at half depth over skin depth [-]."""
        return round_ac_factor(ratio)


@dataclass(frozen=True, kw_only=True, slots=True)
class StripSection:
    """Hold the section of a strip or tab.

    Parameters
    ----------
    width, thickness
        [m], > 0; the width not below the thickness.
    """

    width: float
    thickness: float

    def __post_init__(self) -> None:
        """Refuse sizes that are not above 0 or are swapped."""
        positive(width=self.width, thickness=self.thickness)
        if self.thickness > self.width:
            msg = f"thickness {self.thickness:g} m is above width {self.width:g} m"
            raise ValueError(msg)

    @property
    def area(self) -> float:
        """Area [m^2]."""
        return self.width * self.thickness

    @property
    def perimeter(self) -> float:
        """Perimeter [m]."""
        return 2 * (self.width + self.thickness)

    @property
    def half_depth(self) -> float:
        """Depth from the surface to the middle, to compare with the skin depth [m]."""
        return self.thickness / 2

    @property
    def mean_distance(self) -> float:
        """Geometric mean distance from itself [m]."""
        own = Rectangle(width=self.width, height=self.thickness)
        return float(gmd_rectangles(own, own))

    def ac_factor(self, ratio: ArrayLike) -> Floats:
        """Return the a.c. over d.c. resistance [-] at half depth over skin depth [-]."""
        return strip_ac_factor(ratio)
