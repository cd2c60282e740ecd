"""What all cores of stacked sheets share: sheet, joints, a gap in the leg, and what follows from their frame."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import replace
from enum import Enum
from typing import Annotated, Any, ClassVar, Self

from pydantic import GetJsonSchemaHandler, ModelWrapValidatorHandler, StrictStr, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema

from geometries.described.faults import Description
from geometries.described.quantities import (
    LENGTH,
    Between,
    FluxDensity,
    Fraction,
    Length,
    QuantityError,
    SpecificLoss,
    format_quantity,
    told_quantity,
)
from geometries.described.tolerances import ToleranceError
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Leg, LegGap

SMALLEST, LARGEST = 3e-3, 0.5
Size = Annotated[Length, Between(SMALLEST, LARGEST, "m")]


class Joint(Enum):
    """How the sheets meet."""

    BUTT = "butt"
    INTERLEAVED = "interleaved"
    WELDED = "welded"


USUAL_JOINT = Joint.WELDED
"""Of a core of which nothing is told: small mains transformers of E's and I's are mostly welded across the joint."""
USUAL_STEEL = "M530-50A"
"""Of a core of which nothing is told: a middling grade of non-oriented sheet."""
GAP_NOT_TOLD = (0.02e-3, 0.10e-3, 0.15e-3)
"""Low, typical and high gap per crossing [m] where neither it nor the kind of joint is told."""

STACKING_FACTOR = 0.95
"""Iron in the depth of a stack where it was not measured [-]."""

TYPICAL_GAP = {
    Joint.BUTT: (0.05e-3, 0.10e-3, 0.15e-3),
    Joint.INTERLEAVED: (0.02e-3, 0.03e-3, 0.05e-3),
    Joint.WELDED: (0.05e-3, 0.10e-3, 0.15e-3),
}
"""Low, typical and high gap per crossing [m]. Interleaved: the equivalent gap."""


class Primaries(Enum):
    """How the primaries of two cores are wired to the mains."""

    SERIES = "series"
    PARALLEL = "parallel"


def leg_width_of(data: Mapping[str, Any]) -> float:
    """Return the leg's width [m] of a core that is not validated yet; any where it is at fault, no other key is."""
    try:
        width = float(told_quantity(data.get("leg_width"), LENGTH))
        return width if SMALLEST <= width <= LARGEST else 0.02
    except (QuantityError, ToleranceError):
        return 0.02


class SecondCore(Description):
    """A second core like the first, standing behind it, with a primary of its own; the secondary runs round both.

    Parameters
    ----------
    spacing
        From stack to stack, where both primaries' end turns have to go in [m].
    primaries
        Both primaries in series on the mains, or side by side in parallel.
    """

    spacing: Annotated[Length, Between(0.0, 0.5, "m")]
    primaries: Primaries


class StackedCore(Description):
    """A core of sheets whose legs stand between two straight yokes.

    The legs' upper ends have joints; interleaved sheets have them at the lower ends too. A joint takes its gap from the
    leg, so the window keeps its height. A kind of core says with `type` what it is called, and which `legs` it has.

    Parameters
    ----------
    yoke_height
        Height of the lower and the upper yoke [m]; where not given half the centre leg's width, of two legs a leg's.
    window_width, window_height
        Size of one window [m].
    stack_depth
        Depth of the stack of sheets [m].
    stacking_factor
        Share of the stack that is iron [-].
    joint
        How the sheets meet: butt, interleaved or welded; taken as welded where not given.
    joint_gap
        Gap per crossing [m]; a typical value for the joint where not given, see `joint_gap_band`.
    leg_gap
        A gap sawn or spaced into the leg that carries the primary [m], besides the joints.
    leg_gap_position
        Of its middle above the lower yoke [m]; half the window's height where not given.
    second
        A second core like this one behind it, and how its primary is wired.
    steel
        Grade, by its name in the materials tables; a middling one where neither it nor a table is given.
    bh_table
        File with a magnetisation curve, in place of the grade's; a grade told beside it gives loss and density.
    saturation_polarisation
        Of the steel [T], where the table of a `bh_table` stops early.
    specific_loss
        Of the core as built at 1.5 T and 50 Hz, where it was measured, in place of the grade's guarantee [W/kg].

    Notes
    -----
    With n legs of any width, windows W by H and yokes of height Y, a face of the iron has the area

        overall_width (H + 2 Y) - (n - 1) W H  [m2],

    and of any depth of stack `stacking_factor` is iron.
    """

    LEGS: ClassVar[str]
    """What tells its legs from those of other kinds, in two or three words."""
    WOUND_LEG: ClassVar[str]
    """Name of the leg that carries the primary, and of the cut in which its flux is read."""

    leg_width: Size
    yoke_height: Size
    window_width: Size
    window_height: Size
    stack_depth: Size
    stacking_factor: Annotated[Fraction, Between(0.8, 1.0, "")] = STACKING_FACTOR
    joint: Joint
    joint_gap: Annotated[Length, Between(1e-6, 5e-3, "m")] = 1e-4
    leg_gap: Annotated[Length, Between(10e-6, 20e-3, "m")] | None = None
    leg_gap_position: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    second: SecondCore | None = None
    steel: StrictStr | None = None
    bh_table: StrictStr | None = None
    saturation_polarisation: Annotated[FluxDensity, Between(1.0, 2.5, "T")] | None = None
    specific_loss: Annotated[SpecificLoss, Between(0.3, 50.0, "W/kg")] | None = None

    @property
    @abstractmethod
    def legs(self) -> tuple[Leg, ...]:
        """All legs from left to right; that of the primary has its axis at x = 0."""

    @property
    @abstractmethod
    def narrowest_iron_area(self) -> float:
        """Smallest iron cross-section that all of the primary's flux has to pass [m2]."""

    @classmethod
    def __get_pydantic_json_schema__(cls, schema: CoreSchema, handler: GetJsonSchemaHandler) -> JsonSchemaValue:
        """Tell editors what need not be told."""
        found = handler(schema)
        told = handler.resolve_ref_schema(found)
        told["required"] = [name for name in told["required"] if name not in {"joint", "yoke_height"}]
        return found

    @model_validator(mode="wrap")
    @classmethod
    def _fill_in(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        """Fill in what follows from the lamination and the joint, and what is usual.

        A length that cannot be read gives any: its own fault is told. What was filled in does not count as given
        (`model_fields_set`), so a copy with another lamination or joint made from the given fields alone gets the
        values that belong to it.
        """
        if not isinstance(data, Mapping):
            return handler(data)
        filled = cls._filled(data)
        joint = USUAL_JOINT if data.get("joint") is None else data["joint"]
        if data.get("joint_gap") is None and joint in [*Joint, *(joint.value for joint in Joint)]:
            filled["joint_gap"] = TYPICAL_GAP[Joint(joint)][1]
        # Plain numbers of ours would be refused in a job file, hence the text.
        texts = {key: f"{value!r} m" for key, value in filled.items()}
        if data.get("joint") is None:
            texts["joint"] = USUAL_JOINT.value
        if data.get("steel") is None and data.get("bh_table") is None:
            texts["steel"] = USUAL_STEEL
        core = handler({**data, **texts})
        core.model_fields_set.difference_update(texts)
        return core

    @classmethod
    def _filled(cls, data: Mapping[str, Any]) -> dict[str, float]:
        """Return the lengths [m] that follow from what else was given."""
        return {} if data.get("yoke_height") is not None else {"yoke_height": leg_width_of(data)}

    @model_validator(mode="after")
    def _check(self) -> Self:
        frame = self.frame
        narrowest = min(leg.width for leg in frame.legs)
        if self.joint_gap > narrowest / 10:
            msg = (
                f"joint_gap {format_quantity(self.joint_gap, 'm')} is more than a tenth of the narrowest leg, "
                f"{format_quantity(narrowest, 'm')}: check its unit"
            )
            raise ValueError(msg)
        self._check_leg_gap(frame)
        return self

    def _check_leg_gap(self, frame: Frame) -> None:
        if self.leg_gap is None:
            if self.leg_gap_position is not None:
                msg = "leg_gap_position is given without leg_gap"
                raise ValueError(msg)
            return
        low, high = self.leg_gap / 2, frame.window_height - self.leg_gap / 2
        low += self.joint_gap if frame.joints_below else 0.0
        if not low < self._leg_gap_middle(frame) < high - self.joint_gap:
            at = format_quantity(self._leg_gap_middle(frame), "m")
            msg = f"a leg_gap of {format_quantity(self.leg_gap, 'm')} at {at} leaves the leg between the yokes"
            raise ValueError(msg)

    def _leg_gap_middle(self, frame: Frame) -> float:
        return frame.window_height / 2 if self.leg_gap_position is None else self.leg_gap_position

    @property
    def frame(self) -> Frame:
        """The iron as legs between two yokes, with its joints and the gap in the leg."""
        bare = Frame(
            legs=self.legs,
            yoke_height=self.yoke_height,
            window_height=self.window_height,
            stack_depth=self.stack_depth,
            joint_gap=self.joint_gap,
            joints_below=self.joint is Joint.INTERLEAVED,
            second_behind=None if self.second is None else self.second.spacing,
        )
        if self.leg_gap is None:
            return bare
        return replace(bare, leg_gap=LegGap(bottom=self._leg_gap_middle(bare) - self.leg_gap / 2, height=self.leg_gap))

    @property
    def count(self) -> int:
        """How many cores there are under the secondary [-]."""
        return 1 if self.second is None else 2

    @property
    def parallel_primaries(self) -> int:
        """How many primaries share the input current [-]."""
        return 1 if self.second is None or self.second.primaries is Primaries.SERIES else 2

    @property
    def joint_gap_band(self) -> tuple[float, float]:
        """Lowest and highest likely gap per crossing [m]: the gap itself where it was given, else common practice."""
        if "joint_gap" in self.model_fields_set:
            return self.joint_gap, self.joint_gap
        low, _, high = TYPICAL_GAP[self.joint] if self.joint_told else GAP_NOT_TOLD
        return low, high

    @property
    def joint_told(self) -> bool:
        """Whether the kind of joint was given."""
        return "joint" in self.model_fields_set

    @property
    def flux_place(self) -> str:
        """The cut in which the energised primary's flux is read."""
        return self.WOUND_LEG

    @property
    def leg_iron_area(self) -> float:
        """Iron cross-section of the leg that carries the primary, of one core [m2]."""
        return self.leg_width * self.stack_depth * self.stacking_factor

    @property
    def yoke_iron_area(self) -> float:
        """Iron cross-section of one yoke [m2]."""
        return self.yoke_height * self.stack_depth * self.stacking_factor

    @property
    def left_edge(self) -> float:
        """Left edge of the core, x [m]."""
        return self.frame.left_edge

    @property
    def right_edge(self) -> float:
        """Right edge of the core, x [m]."""
        return self.frame.right_edge

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
    def face(self) -> float:
        """One flat face of the iron, without its windows [m2]; joints and gaps count as iron."""
        return self.overall_width * self.overall_height - (len(self.legs) - 1) * self.window_area

    @property
    def iron_volume(self) -> float:
        """Volume of iron of all cores, without the spaces between sheets [m3]."""
        return self.face * self.frame.iron_depth * self.stacking_factor

    def iron_mass(self, density: float) -> float:
        """Return the mass of iron [kg] of this density [kg/m3]."""
        return self.iron_volume * density
