"""Two-leg cores: U-I or U-U sheets, or strips stacked to a frame round one window."""

from __future__ import annotations

from typing import ClassVar, Literal

from geometries.cores.stacked import StackedCore
from geometries.shapes.legs import Leg


class TwoLegCore(StackedCore):
    """A core of two equal legs round one window, wound on one leg or on both.

    Give either `steel` or `bh_table`. The windings' outer sides lie in the open, beside the leg.

    Parameters
    ----------
    type
        "two-leg".
    leg_width
        Width of either leg [m].
    window_width, window_height
        Size of the window [m].

    Notes
    -----
    The plane of the sheets, with x = 0 on the axis of the leg that carries the primary::

             _____________________________
            |         upper yoke          |  yoke_height
            |        ___________          |
            | wound |           |  other  |
            |  leg  |  window   |   leg   |  window_height
            |   :   |___________|         |  y = 0
            |   :     lower yoke          |  yoke_height
            |___:_________________________|
              x = 0                x = leg_width + window_width
    """

    LEGS: ClassVar[str] = "two legs round one window"
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
