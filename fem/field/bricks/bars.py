"""What the end-region solvers know beside a core's frame: a shell core by its dimensions, the bars of a shunt."""

from dataclasses import dataclass, fields

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
        for field in fields(self):
            value = getattr(self, field.name)
            if value < 0 or (value == 0 and field.name in ("height", "depth", "mu_r")):
                msg = f"{field.name} of a shunt bar is out of range: {value}"
                raise ValueError(msg)

    @property
    def top(self) -> float:
        """Upper edge above the lower yoke [m]."""
        return self.bottom + self.height
