"""Shell-type cores: E-I laminations with the windings on the centre leg."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BeforeValidator, GetJsonSchemaHandler, StrictStr, ValidationError
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, InitErrorDetails

from geometries.cores.laminations import lamination
from geometries.cores.stacked import Size, StackedCore, leg_width_of
from geometries.described.faults import refused, shown
from geometries.shapes.legs import Leg

STAMPED = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height")


def _pair(value: Any) -> Any:
    return value if isinstance(value, list | tuple) else (value, value)


class ShellCore(StackedCore):
    """A shell-type core, as measured with callipers or as a standard lamination with its stack.

    Give either `lamination` or the stamped dimensions, and either `steel` or `bh_table`.

    Parameters
    ----------
    type
        "shell".
    lamination
        Name of a standard size, such as "EI 120"; it fills in the five stamped dimensions.
    leg_width
        Width of the centre leg [m].
    outer_leg_width
        Width of the outer legs [m]: one value, or left and right; half the centre leg's where not given; kept as
        (left, right).
    leg_gap
        A gap sawn or spaced into the centre leg [m], besides the joints.

    Notes
    -----
    The plane of the sheets, with both windows open and x = 0 on the centre leg's axis::

              outer_leg_width   leg_width   outer_leg_width
              |<--->|           |<----->|           |<--->|
              _____________________________________________
             |                 upper yoke                  |  yoke_height
             |      ___________         ___________        |
             |     |           |   :   |           |       |
             |left |  window   |centre |  window   | right |  window_height
             |outer|<--------->|  leg  |           | outer |
             |leg  |window_width   :   |           | leg   |
             |     |___________|   :   |___________|       |  y = 0
             |                 lower yoke                  |  yoke_height
             |_____________________________________________|
                                 x = 0

    The centre leg's flux parts into the outer legs and both halves of each yoke, so that the narrowest section it has
    to pass is min(leg, left + right outer leg, 2 yoke). A scrapless lamination of leg width C has outer legs, yokes and
    a window width of C/2 and a window height of 3 C/2: all three are then equal.
    """

    LEGS: ClassVar[str] = "three legs"
    WOUND_LEG: ClassVar[str] = "centre leg"

    type: Literal["shell"] = "shell"
    lamination: StrictStr | None = None
    outer_leg_width: Annotated[tuple[Size, Size], BeforeValidator(_pair)]

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Tell editors that it has a lamination or all that is stamped."""
        found = super().__get_pydantic_json_schema__(schema, handler)
        told = handler.resolve_ref_schema(found)
        told["required"] = [name for name in told["required"] if name not in STAMPED]
        sizes = [name for name in STAMPED if name not in {"outer_leg_width", "yoke_height"}]
        told["anyOf"] = [{"required": ["lamination"]}, {"required": sizes}]
        return found

    @classmethod
    def _filled(cls, data: Mapping[str, Any]) -> dict[str, float]:
        name = data.get("lamination")
        if not isinstance(name, str):
            halves = [key for key in ("outer_leg_width", "yoke_height") if data.get(key) is None]
            return dict.fromkeys(halves, leg_width_of(data) / 2)
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
    def outer_leg_iron_areas(self) -> tuple[float, float]:
        """Iron cross-section of the left and the right outer leg [m2]."""
        left, right = self.outer_leg_width
        return left * self.stack_depth * self.stacking_factor, right * self.stack_depth * self.stacking_factor

    @property
    def narrowest_iron_area(self) -> float:
        """Smallest iron cross-section that all of the primary's flux has to pass, leg, outer legs or yokes [m2]."""
        return min(self.leg_iron_area, sum(self.outer_leg_iron_areas), 2 * self.yoke_iron_area)
