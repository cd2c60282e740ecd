"""Shell-type cores: E-I laminations with the windings on the centre leg."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, ModelWrapValidatorHandler, StrictStr, ValidationError, model_validator
from pydantic_core import InitErrorDetails

from geometries.errors import Description, refused, shown
from geometries.laminations import lamination
from geometries.quantities import Between, FluxDensity, Fraction, Length, format_quantity

STAMPED = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height")

Size = Annotated[Length, Between(3e-3, 0.5, "m")]


class Joint(Enum):
    """How the E and I sheets meet."""

    BUTT = "butt"
    INTERLEAVED = "interleaved"
    WELDED = "welded"


# Low, typical, high gap per crossing [m]: common practice, no source. Interleaved: the equivalent gap.
TYPICAL_GAP = {
    Joint.BUTT: (0.05e-3, 0.10e-3, 0.15e-3),
    Joint.INTERLEAVED: (0.02e-3, 0.03e-3, 0.05e-3),
    Joint.WELDED: (0.05e-3, 0.10e-3, 0.15e-3),
}


def _pair(value: Any) -> Any:
    return value if isinstance(value, list | tuple) else (value, value)


class ShellCore(Description):
    """A shell-type core, as measured with callipers or as a standard lamination with its stack.

    Give either `lamination` or all of the five stamped dimensions, and either `steel` or `bh_table`.

    Parameters
    ----------
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
    steel
        Grade, by its name in the materials tables.
    bh_table
        File with a magnetisation curve, in place of `steel`.
    saturation_polarisation
        Of the steel [T], where the table of a `bh_table` stops early.
    """

    type: Literal["shell"] = "shell"
    lamination: StrictStr | None = None
    leg_width: Size
    outer_leg_width: Annotated[tuple[Size, Size], BeforeValidator(_pair)]
    yoke_height: Size
    window_width: Size
    window_height: Size
    stack_depth: Size
    stacking_factor: Annotated[Fraction, Between(0.8, 1.0, "")] = 0.95
    joint: Joint
    joint_gap: Annotated[Length, Between(1e-6, 5e-3, "m")] = 1e-4
    steel: StrictStr | None = None
    bh_table: StrictStr | None = None
    saturation_polarisation: Annotated[FluxDensity, Between(1.0, 2.5, "T")] | None = None

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Fill in what follows from the lamination and the joint.

        What was filled in does not count as given (`model_fields_set`), so a copy with another lamination or joint
        made from the given fields alone gets the values that belong to it.
        """
        if not isinstance(data, Mapping):
            return handler(data)
        filled: dict[str, Any] = {}
        name = data.get("lamination")
        if isinstance(name, str):
            if both := [key for key in STAMPED if key in data]:
                msg = f"lamination {shown(name)} already fixes {', '.join(both)}: give the one or the other"
                raise ValueError(msg)
            try:
                found = lamination(name)
            except ValueError as error:
                detail = InitErrorDetails(type=refused(str(error)), loc=("lamination",), input=name)
                raise ValidationError.from_exception_data(cls.__name__, [detail]) from None
            filled = {key: getattr(found, key) for key in STAMPED}
        if data.get("joint_gap") is None and data.get("joint") in [*Joint, *(joint.value for joint in Joint)]:
            filled["joint_gap"] = TYPICAL_GAP[Joint(data["joint"])][1]
        # Plain numbers of ours would be refused in a job file, hence the text.
        filled = {key: f"{value!r} m" for key, value in filled.items()}
        core = handler({**data, **filled})
        core.model_fields_set.difference_update(filled)
        return core

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.steel is None) == (self.bh_table is None):
            what = "both given" if self.steel is not None else "neither given"
            msg = f"give exactly one of steel and bh_table; {what}"
            raise ValueError(msg)
        narrowest = min(self.leg_width, *self.outer_leg_width)
        if self.joint_gap > narrowest / 10:
            msg = (
                f"joint_gap {format_quantity(self.joint_gap, 'm')} is more than a tenth of the narrowest leg, "
                f"{format_quantity(narrowest, 'm')}: check its unit"
            )
            raise ValueError(msg)
        return self

    @property
    def joint_gap_band(self) -> tuple[float, float]:
        """Lowest and highest likely gap per crossing [m]: the gap itself where it was given, else common practice."""
        if "joint_gap" in self.model_fields_set:
            return self.joint_gap, self.joint_gap
        low, _, high = TYPICAL_GAP[self.joint]
        return low, high

    @property
    def outer_leg_widths(self) -> tuple[float, float]:
        """Width of the left and the right outer leg [m]."""
        return self.outer_leg_width

    @property
    def left_edge(self) -> float:
        """Left edge of the core, x [m]."""
        return -(self.leg_width / 2 + self.window_width + self.outer_leg_width[0])

    @property
    def right_edge(self) -> float:
        """Right edge of the core, x [m]."""
        return self.leg_width / 2 + self.window_width + self.outer_leg_width[1]

    @property
    def overall_width(self) -> float:
        """Width over all [m]."""
        return self.right_edge - self.left_edge

    @property
    def overall_height(self) -> float:
        """Height over both yokes [m]."""
        return self.window_height + 2 * self.yoke_height

    @property
    def window_area(self) -> float:
        """Area of one window [m2]."""
        return self.window_width * self.window_height

    @property
    def leg_iron_area(self) -> float:
        """Iron cross-section of the centre leg [m2]."""
        return self.leg_width * self.stack_depth * self.stacking_factor

    @property
    def outer_leg_iron_areas(self) -> tuple[float, float]:
        """Iron cross-section of the left and the right outer leg [m2]."""
        left, right = self.outer_leg_width
        return left * self.stack_depth * self.stacking_factor, right * self.stack_depth * self.stacking_factor

    @property
    def yoke_iron_area(self) -> float:
        """Iron cross-section of one yoke [m2]."""
        return self.yoke_height * self.stack_depth * self.stacking_factor

    @property
    def iron_volume(self) -> float:
        """Volume of iron, without the spaces between sheets [m3]."""
        face = self.overall_width * self.overall_height - 2 * self.window_area
        return face * self.stack_depth * self.stacking_factor

    def iron_mass(self, density: float) -> float:
        """Return the mass of iron [kg] of this density [kg/m3]."""
        return self.iron_volume * density

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

    @property
    def edge_area(self) -> float:
        """Outer surface along the sheets' cut edges: sides, top and bottom [m2]."""
        return 2 * (self.overall_width + self.overall_height) * self.stack_depth

    @property
    def face_area(self) -> float:
        """Both flat faces, without windows and without the centre leg that the windings cover [m2]."""
        net = self.overall_width * self.overall_height - 2 * self.window_area - self.leg_width * self.window_height
        return 2 * net

    @property
    def exposed_area(self) -> float:
        """Surface that gives off heat to the room: `edge_area` and `face_area` [m2]."""
        return self.edge_area + self.face_area
