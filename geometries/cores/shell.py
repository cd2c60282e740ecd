"""Shell-type cores: E-I laminations with the windings on the centre leg."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, StrictStr, ValidationError
from pydantic_core import InitErrorDetails

from geometries.cores.laminations import lamination
from geometries.cores.stacked import TYPICAL_GAP, Joint, Size, StackedCore
from geometries.described.faults import refused, shown
from geometries.shapes.frame import Leg

__all__ = ["STAMPED", "TYPICAL_GAP", "Joint", "ShellCore"]

STAMPED = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height")


def _pair(value: Any) -> Any:
    return value if isinstance(value, list | tuple) else (value, value)


class ShellCore(StackedCore):
    """A shell-type core, as measured with callipers or as a standard lamination with its stack.

    Give either `lamination` or all of the five stamped dimensions, and either `steel` or `bh_table`.

    Parameters
    ----------
    type
        "shell".
    lamination
        Name of a standard size, such as "EI 120"; it fills in the five stamped dimensions.
    leg_width
        Width of the centre leg [m].
    outer_leg_width
        Width of the outer legs [m]: one value, or left and right; kept as (left, right).
    yoke_height
        Height of the lower and the upper yoke [m].
    window_width, window_height
        Size of one window [m].
    stack_depth
        Depth of the stack of sheets [m].
    stacking_factor
        Share of the stack that is iron [-].
    joint
        How the sheets meet: butt, interleaved or welded.
    joint_gap
        Gap per crossing [m]; a typical value for the joint where not given, see `joint_gap_band`.
    leg_gap
        A gap sawn or spaced into the centre leg [m], besides the joints.
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

    WOUND_LEG: ClassVar[str] = "centre leg"

    type: Literal["shell"] = "shell"
    lamination: StrictStr | None = None
    outer_leg_width: Annotated[tuple[Size, Size], BeforeValidator(_pair)]

    @classmethod
    def _filled(cls, data: Mapping[str, Any]) -> dict[str, float]:
        name = data.get("lamination")
        if not isinstance(name, str):
            return {}
        if both := [key for key in STAMPED if key in data]:
            msg = f"lamination {shown(name)} already fixes {', '.join(both)}: give the one or the other"
            raise ValueError(msg)
        try:
            found = lamination(name)
        except ValueError as error:
            detail = InitErrorDetails(type=refused(str(error)), loc=("lamination",), input=name)
            raise ValidationError.from_exception_data(cls.__name__, [detail]) from None
        return {key: getattr(found, key) for key in STAMPED}

    @property
    def legs(self) -> tuple[Leg, ...]:
        """Left outer leg, centre leg, right outer leg."""
        left, right = self.outer_leg_width
        across = self.leg_width / 2 + self.window_width
        return (
            Leg(name="left outer leg", axis=-(across + left / 2), width=left, direction=-1),
            Leg(name=self.WOUND_LEG, axis=0.0, width=self.leg_width),
            Leg(name="right outer leg", axis=across + right / 2, width=right, direction=-1),
        )

    @property
    def outer_leg_widths(self) -> tuple[float, float]:
        """Width of the left and the right outer leg [m]."""
        return self.outer_leg_width

    @property
    def outer_leg_iron_areas(self) -> tuple[float, float]:
        """Iron cross-section of the left and the right outer leg [m2]."""
        left, right = self.outer_leg_width
        return left * self.stack_depth * self.stacking_factor, right * self.stack_depth * self.stacking_factor

    @property
    def narrowest_iron_area(self) -> float:
        """Smallest iron cross-section that all of the primary's flux has to pass, leg, outer legs or yokes [m2]."""
        return min(self.leg_iron_area, sum(self.outer_leg_iron_areas), 2 * self.yoke_iron_area)

    @property
    def mean_path(self) -> float:
        """Mean magnetic path round one window, along the middle of half the leg, yokes and outer leg [m].

        With unequal outer legs the mean of both windows. A scrapless lamination of leg width C gives 6 C.
        """
        outer = sum(self.outer_leg_width) / 2
        across = self.leg_width / 4 + self.window_width + outer / 2
        along = self.window_height + self.yoke_height
        return 2 * (across + along)

    @property
    def outer_leg_ratio(self) -> float:
        """Both outer legs together against the centre leg [-]; below 1 they carry more flux density than it."""
        return sum(self.outer_leg_width) / self.leg_width

    @property
    def yoke_ratio(self) -> float:
        """Both halves of a yoke, left and right of the leg, against the centre leg [-]."""
        return 2 * self.yoke_height / self.leg_width
