"""What the user describes of the cables from the secondary to the work, and of the joints on the way."""

from __future__ import annotations

from functools import lru_cache
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import AfterValidator, BeforeValidator, ValidationInfo, field_validator, model_validator

from fem.materials.insulation import insulations
from fem.materials.metals import metal_names
from geometries.described.faults import Description, not_known, refused, shown
from geometries.described.quantities import Between, Length, Resistance, WholeNumber
from geometries.described.spellings import common_metal
from geometries.windings.conductors import Conductor
from geometries.windings.wire import read_bare, size_and_tolerance, size_given

SPACING = 0.1
"""Of go and return, centre to centre, where it is not given [m]."""


def _metal(value: str) -> str:
    if value not in metal_names():
        raise refused(not_known(value, metal_names(), "metal"))
    return value


Metal = Annotated[str, BeforeValidator(common_metal), AfterValidator(_metal)]


def _jacket(value: str) -> str:
    jackets = [name for name in insulations() if not name.startswith("class")]
    if value not in jackets:
        raise refused(not_known(value, jackets, "jacket"))
    return value


@lru_cache(maxsize=64)
def _cable(area: str | float) -> Conductor:
    return Conductor(cable=area)


class Joints(Description):
    """How many joints of each quality lie in series between winding and work, or "none"; each has a typical resistance.

    Parameters
    ----------
    bolted, clamped, dirty
        Crimped lugs bolted on bright faces, hand clamps on bright faces, anything with scale or loose bolts [-].
    """

    bolted: Annotated[int, WholeNumber(0, 100)] = 0
    clamped: Annotated[int, WholeNumber(0, 100)] = 0
    dirty: Annotated[int, WholeNumber(0, 100)] = 0


class Leads(Description):
    """The cables from the secondary to the work.

    Parameters
    ----------
    length
        Go plus return [m].
    area
        Conductor: a cross-section ("70 mm2") or a designation ("2/0 AWG"); in a job the secondary's where not given.
    spacing
        Between go and return, centre to centre [m].
    material
        Metal of the conductor.
    joint_resistance
        Of all joints between winding and work together, measured or known [ohm]; 0 where all is welded.
    joints
        Joints by quality, in addition to it, or "none". Where neither is told, those that the build needs are taken.
    jacket
        Of the cable, for its limits: PVC cable, EPR welding cable, XLPE or EPR cable.
    """

    length: Annotated[Length, Between(0.0, 50.0, "m")]
    area: str | float
    spacing: Annotated[Length, Between(1e-3, 2.0, "m")] = SPACING
    material: Metal = "copper"
    joint_resistance: Annotated[Resistance, Between(0.0, 1.0, "ohm")] | None = None
    joints: Joints | None = None
    jacket: Annotated[str, AfterValidator(_jacket)] = "EPR welding cable"

    @field_validator("area", mode="before")
    @classmethod
    def _readable(cls, value: Any, info: ValidationInfo) -> Any:
        unit_needed = bool(info.context and info.context.get("job_file"))
        try:
            read_bare("cable", size_given(size_and_tolerance("cable", value)[0]), unit_needed)
        except ValueError as error:
            raise refused(str(error)) from None
        return value

    @field_validator("joints", mode="before", json_schema_input_type=Joints | Literal["none"] | None)
    @classmethod
    def _counted(cls, value: Any) -> Any:
        if isinstance(value, str):
            if value != "none":
                text = f'expected "none" or how many are bolted, clamped and dirty; got {shown(value)}'
                raise refused(text)
            return Joints()
        return value

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.length > 0 and self.spacing < self.conductor.bare_width:
            text = (
                f"spacing {self.spacing * 1e3:.4g} mm, centre to centre, is less than the conductor's diameter, "
                f"{self.conductor.bare_width * 1e3:.4g} mm"
            )
            raise refused(text)
        return self

    @property
    def joints_told(self) -> bool:
        """Whether anything is told of the joints, be it that there are none."""
        return self.joint_resistance is not None or self.joints is not None

    @property
    def has_cable(self) -> bool:
        """Whether there is any length of it; the designs of a block are alike in this."""
        return bool(np.any(self.length))

    @property
    def conductor(self) -> Conductor:
        """The cable; of the designs of a block that of the first."""
        return _cable(self.area[0] if isinstance(self.area, np.ndarray) else self.area)

    @property
    def cables(self) -> tuple[list[Conductor], Any]:
        """The cables of a block's designs, each once, and which of them each has; of a lone design its own, and 0."""
        if not isinstance(self.area, np.ndarray):
            return [self.conductor], 0
        kinds = list(dict.fromkeys(self.area.tolist()))
        return [_cable(kind) for kind in kinds], np.array([kinds.index(area) for area in self.area.tolist()])
