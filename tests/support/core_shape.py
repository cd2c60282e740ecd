"""A shell core by its dimensions alone, without sheet or joints by name."""

from dataclasses import dataclass

from geometries.shapes.frame import Frame
from geometries.shapes.legs import Leg


@dataclass(frozen=True, kw_only=True, slots=True)
class CoreShape:
    """Outline of a shell (E-I) core: centre leg, two windows, two outer legs, two yokes.

    Parameters
    ----------
    leg_width
        Width of the centre leg [m].
    outer_leg_widths
        Widths of the left and the right outer leg [m].
    yoke_height
        Height of each yoke [m].
    window_width, window_height
        Size of each window [m].
    stack_depth
        Depth of the stack [m].
    joint_gap
        Air gap between all three legs and the upper yoke [m]; it takes the uppermost part of the window's height.

    Raises
    ------
    ValueError
        If a length is not positive, or the gap is negative or as high as the window.
    """

    leg_width: float
    outer_leg_widths: tuple[float, float]
    yoke_height: float
    window_width: float
    window_height: float
    stack_depth: float
    joint_gap: float = 0.0

    def __post_init__(self) -> None:
        for name in ("leg_width", "yoke_height", "window_width", "window_height", "stack_depth"):
            if not getattr(self, name) > 0:
                msg = f"{name} must be positive, got {getattr(self, name)} m"
                raise ValueError(msg)
        if not min(self.outer_leg_widths) > 0:
            msg = f"outer_leg_widths must be positive, got {self.outer_leg_widths} m"
            raise ValueError(msg)
        if not 0 <= self.joint_gap < self.window_height:
            msg = f"joint_gap must lie between 0 and the window height {self.window_height} m, got {self.joint_gap} m"
            raise ValueError(msg)

    @property
    def frame(self) -> Frame:
        """The iron as legs between two yokes."""
        left, right = self.outer_leg_widths
        across = self.leg_width / 2 + self.window_width
        return Frame(
            legs=(
                Leg(name="left outer leg", axis=-(across + left / 2), width=left, direction=-1),
                Leg(name="centre leg", axis=0.0, width=self.leg_width),
                Leg(name="right outer leg", axis=across + right / 2, width=right, direction=-1),
            ),
            yoke_height=self.yoke_height,
            window_height=self.window_height,
            stack_depth=self.stack_depth,
            joint_gap=self.joint_gap,
        )
