"""The bars of a magnetic shunt, as the end-region solvers know them beside a core's frame."""

from dataclasses import dataclass

from fem.arrays import not_negative, positive
from geometries.shapes.dual import number


@dataclass(frozen=True, kw_only=True, slots=True)
class ShuntBar:
    """A magnetic shunt: one bar in each window beside the primary's leg.

    Parameters
    ----------
    leg_gap, outer_leg_gap
        Air gap to the primary's leg and to the next one [m].
    bottom
        Lower edge above the lower yoke [m].
    height
        Length along the legs [m].
    depth
        Depth along the stack, centred on it [m].
    mu_r
        Relative permeability [-].

    Raises
    ------
    ValueError
        If a size is not positive or a gap is negative.
    """

    leg_gap: float
    outer_leg_gap: float
    bottom: float
    height: float
    depth: float
    mu_r: float

    def __post_init__(self) -> None:
        positive(height=number(self.height), depth=number(self.depth), mu_r=self.mu_r)
        gaps = {"leg_gap": self.leg_gap, "outer_leg_gap": self.outer_leg_gap}
        not_negative(**{name: number(value) for name, value in gaps.items()}, bottom=number(self.bottom))

    @property
    def top(self) -> float:
        """Upper edge above the lower yoke [m]."""
        return self.bottom + self.height
