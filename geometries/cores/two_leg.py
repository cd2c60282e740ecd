"""Two-leg cores: U-I or U-U sheets, or strips stacked to a frame round one window."""

from __future__ import annotations

from typing import ClassVar, Literal

from geometries.cores.stacked import StackedCore
from geometries.shapes.frame import Leg


class TwoLegCore(StackedCore):
    """A core of two equal legs round one window, wound on one leg or on both.

    Give either `steel` or `bh_table`. The windings' outer sides lie in the open, beside the leg.

    Parameters
    ----------
    type
        "two-leg".
    leg_width
        Width of either leg [m].
    yoke_height
        Height of the lower and the upper yoke [m].
    window_width, window_height
        Size of the window [m].
    stack_depth
        Depth of the stack of sheets [m].
    stacking_factor
        Share of the stack that is iron [-].
    joint
        How the sheets meet: butt, interleaved or welded.
    joint_gap
        Gap per crossing [m]; a typical value for the joint where not given, see `joint_gap_band`.
    leg_gap
        A gap sawn or spaced into the leg that carries the primary [m], besides the joints.
    leg_gap_position
        Of its middle above the lower yoke [m]; half the window's height where not given.
    second
        A second core like this one behind it, and how its primary is wired.
    steel
        Grade, by its name in the materials tables.
    bh_table
        File with a magnetisation curve, in place of `steel`.
    saturation_polarisation
        Of the steel [T], where the table of a `bh_table` stops early.
    """

    WOUND_LEG: ClassVar[str] = "wound leg"

    type: Literal["two-leg"] = "two-leg"

    @property
    def legs(self) -> tuple[Leg, ...]:
        """The leg with the primary, and to its right the other one."""
        return (
            Leg(name=self.WOUND_LEG, axis=0.0, width=self.leg_width),
            Leg(name="other leg", axis=self.leg_width + self.window_width, width=self.leg_width, direction=-1),
        )

    @property
    def narrowest_iron_area(self) -> float:
        """Smallest iron cross-section that all of the primary's flux has to pass, leg or yoke [m2]."""
        return min(self.leg_iron_area, self.yoke_iron_area)

    @property
    def mean_path(self) -> float:
        """Mean magnetic path, along the middle of legs and yokes [m]."""
        return 2 * (self.window_width + self.leg_width + self.window_height + self.yoke_height)
