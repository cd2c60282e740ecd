"""What the user describes: mains, core, windings, leads and load. Frozen and validated; SI inside."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Annotated, Any, Self

from pydantic import AfterValidator, ValidationError, ValidationInfo, field_validator, model_validator
from pydantic_core import InitErrorDetails

from fem.circuit.leads.joints import JointBand, JointQuality, joints_resistance
from fem.design.mains import Mains
from fem.design.work_piece import WorkPieceDescription
from fem.materials.insulation import insulations
from fem.materials.metals import metal_names
from fem.materials.steel import steel_names
from geometries.cores.kinds import AnyCore, Core
from geometries.cores.shunt import Shunt
from geometries.described.faults import Description, described, not_known, refused, unknown
from geometries.described.quantities import (
    Between,
    Current,
    Duration,
    FluxDensity,
    Length,
    Resistance,
    Temperature,
    Voltage,
    WholeNumber,
)
from geometries.windings.arrangement import Windings
from geometries.windings.conductors import Conductor
from geometries.windings.wire import read_bare, size_given


def _metal(value: str) -> str:
    if value not in metal_names():
        raise refused(not_known(value, metal_names(), "metal"))
    return value


Metal = Annotated[str, AfterValidator(_metal)]


def _known_steel(core: AnyCore) -> AnyCore:
    if core.steel is not None and core.steel not in steel_names():
        text = not_known(core.steel, steel_names(), "steel")
        raise _refused_at({("steel",): text}, core.steel)
    return core


def _known_shunt(shunt: Shunt) -> Shunt:
    if shunt.steel is not None and shunt.steel not in steel_names():
        text = not_known(shunt.steel, steel_names(), "steel")
        raise _refused_at({("steel",): text}, shunt.steel)
    return shunt


def _known_metals(windings: Windings) -> Windings:
    texts: dict[tuple[str, ...], str] = {}
    for name, winding in (("primary", windings.primary), ("secondary", windings.secondary)):
        if winding.material not in metal_names():
            text = not_known(winding.material, metal_names(), "metal")
            texts[(name, "material")] = text
    if texts:
        raise _refused_at(texts, None)
    return windings


def _refused_at(texts: Mapping[tuple[str, ...], str], value: object) -> ValidationError:
    """Return an error for a validator to raise, each text at its own key."""
    details = [InitErrorDetails(type=refused(text), loc=key, input=value) for key, text in texts.items()]
    return ValidationError.from_exception_data("Design", details)


def _jacket(value: str) -> str:
    jackets = [name for name in insulations() if not name.startswith("class")]
    if value not in jackets:
        raise refused(not_known(value, jackets, "jacket"))
    return value


class Joints(Description):
    """How many joints of each quality lie in series between winding and work; each has a typical resistance and a band.

    Parameters
    ----------
    bolted, clamped, dirty
        Crimped lugs bolted on bright faces, hand clamps on bright faces, anything with scale or loose bolts [-].
    """

    bolted: Annotated[int, WholeNumber(0, 100)] = 0
    clamped: Annotated[int, WholeNumber(0, 100)] = 0
    dirty: Annotated[int, WholeNumber(0, 100)] = 0

    @property
    def band(self) -> JointBand:
        """Least, typical and greatest resistance of all together."""
        return joints_resistance(
            {
                JointQuality.BOLTED_CLEAN: self.bolted,
                JointQuality.CLAMPED: self.clamped,
                JointQuality.DIRTY: self.dirty,
            }
        )


class Leads(Description):
    """The cables from the secondary to the work.

    Parameters
    ----------
    length
        Go plus return [m].
    area
        Conductor: a cross-section ("70 mm2") or a designation ("2/0 AWG").
    spacing
        Between go and return, centre to centre [m].
    material
        Metal of the conductor.
    joint_resistance
        Of all joints between winding and work together, measured or known [ohm].
    joints
        Joints by quality, in addition to it.
    jacket
        Of the cable, for its limits: PVC cable, EPR welding cable, XLPE or EPR cable.
    """

    length: Annotated[Length, Between(0.0, 50.0, "m")]
    area: str | float
    spacing: Annotated[Length, Between(1e-3, 2.0, "m")]
    material: Metal = "copper"
    joint_resistance: Annotated[Resistance, Between(0.0, 1.0, "ohm")] = 0.0
    joints: Joints = Joints()
    jacket: Annotated[str, AfterValidator(_jacket)] = "EPR welding cable"

    @field_validator("area", mode="before")
    @classmethod
    def _readable(cls, value: Any, info: ValidationInfo) -> Any:
        unit_needed = bool(info.context and info.context.get("job_file"))
        try:
            read_bare("cable", size_given(value), unit_needed)
        except ValueError as error:
            raise refused(str(error)) from None
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
    def joint_band(self) -> JointBand:
        """Least, typical and greatest resistance of all joints [ohm]."""
        band = self.joints.band
        known = self.joint_resistance
        return JointBand(low=known + band.low, typical=known + band.typical, high=known + band.high)

    @property
    def conductor(self) -> Conductor:
        """The cable."""
        return Conductor(cable=self.area)


class RectifierKind(Enum):
    """What stands between lead ends and load."""

    NONE = "none"
    HALF_WAVE = "half-wave"
    FULL_WAVE = "full-wave"


class Load(Description):
    """A resistance across the lead ends, or behind a rectifier there.

    Parameters
    ----------
    resistance
        [ohm].
    rectifier
        Between lead ends and resistance: none, half-wave or full-wave.
    forward_drop
        Of the rectifier's valves in series [V].
    """

    resistance: Annotated[Resistance, Between(0.0, 1e4, "ohm")]
    rectifier: RectifierKind = RectifierKind.NONE
    forward_drop: Annotated[Voltage, Between(0.0, 10.0, "V")] = 0.0


class Duty(Description):
    """Bursts repeated for good.

    Parameters
    ----------
    on_time, off_time
        Of each burst, and between two [s].
    ambient
        Of the room [K].
    plugged_in
        Whether the primary stays on the mains between bursts.
    """

    on_time: Annotated[Duration, Between(0.01, 3600.0, "s")]
    off_time: Annotated[Duration, Between(0.01, 86400.0, "s")]
    ambient: Annotated[Temperature, Between(243.15, 333.15, "degC")] = 298.15
    plugged_in: bool = True


class Pulses(Description):
    """A train of short bursts counted in mains cycles, as for tab welds.

    Parameters
    ----------
    weld_cycles, pause_cycles
        Mains cycles of each pulse, and of each pause between two [-].
    count
        Pulses in a train [-].
    rest
        Between two trains [s], where they are repeated for good.
    """

    weld_cycles: Annotated[int, WholeNumber(1, 10_000)]
    pause_cycles: Annotated[int, WholeNumber(1, 10_000)]
    count: Annotated[int, WholeNumber(1, 1000)] = 2
    rest: Annotated[Duration, Between(0.1, 86400.0, "s")] | None = None


class Limits(Description):
    """What the user is content with; the remedies for a saturated core aim at these.

    Parameters
    ----------
    flux_density
        Peak in the centre leg's iron, idle [T].
    idle_current
        R.m.s. [A]; no wish where not given.
    short_test_current
        Primary current of the reduced-voltage short test [A]; by the design where not given.
    """

    flux_density: Annotated[FluxDensity, Between(0.1, 2.5, "T")] = 1.5
    idle_current: Annotated[Current, Between(1e-4, 1000.0, "A")] | None = None
    short_test_current: Annotated[Current, Between(1e-3, 1000.0, "A")] | None = None


class Design(Description):
    """A transformer with its mains, leads and load.

    Parameters
    ----------
    title
        For headings.
    mains, core, windings, shunt, leads, load, work_piece, duty, pulses, limits
        See each. Without leads the lead ends are the secondary's own; without a load, a work piece or a duty none is
        computed.
    temperature
        Of windings and leads for the resistances [K].
    """

    title: str = "Untitled"
    mains: Mains
    core: Annotated[Core, AfterValidator(_known_steel)]
    windings: Annotated[Windings, AfterValidator(_known_metals)]
    shunt: Annotated[Shunt, AfterValidator(_known_shunt)] | None = None
    leads: Leads | None = None
    load: Load | None = None
    work_piece: WorkPieceDescription | None = None
    duty: Duty | None = None
    pulses: Pulses | None = None
    limits: Limits = Limits()
    temperature: Annotated[Temperature, Between(233.15, 523.15, "degC")] = 293.15

    @property
    def fitted_shunt(self) -> Shunt | None:
        """The shunts, where there are any and they are in place."""
        return self.shunt if self.shunt is not None and self.shunt.fitted else None

    def vary(self, path: str, value: object) -> Design:
        """Return a validated copy with one key changed.

        Parameters
        ----------
        path
            Dotted key, as in a job file: "windings.secondary.turns".
        value
            SI number or string with a unit; None removes an optional key.

        Raises
        ------
        KeyError
            If there is no such key.
        pydantic.ValidationError
            If the copy is not valid.
        """
        given = self.model_dump(exclude_unset=True)
        table = given
        *parents, last = path.split(".")
        here: Any = self
        model: Any = type(self)
        for name in parents:
            # what is there says which of several models; where nothing is, the annotation does
            here = getattr(here, name, None)
            model = type(here) if isinstance(here, Description) else _submodel(model, name, path)
            if not isinstance(table.get(name), dict):
                table[name] = {}
            table = table[name]
        if last not in model.model_fields:
            msg = f"{path}: {unknown(last, model.model_fields, 'key')}"
            raise KeyError(msg)
        if value is None:
            table.pop(last, None)
        else:
            table[last] = value
        return Design.model_validate(given)


def _submodel(model: Any, name: str, path: str) -> Any:
    """Return the model behind a key that holds a table."""
    if name not in model.model_fields:
        msg = f"{path}: {unknown(name, model.model_fields, 'key')}"
        raise KeyError(msg)
    found = next(described(model.model_fields[name].annotation), None)
    if found is None:
        msg = f"{path}: {name} holds no further keys"
        raise KeyError(msg)
    return found


def as_given(design: Design) -> Mapping[str, Any]:
    """Return what the user gave, without defaults, as plain SI values and strings (for a digest and for JSON)."""
    return design.model_dump(mode="json", exclude_unset=True)
