"""What the user describes of the work between the lead ends."""

from __future__ import annotations

from enum import Enum
from math import pi
from typing import Annotated, Any, Self

from pydantic import AfterValidator, BeforeValidator, ValidationInfo, field_validator, model_validator

from fem.constants import ROOM
from fem.materials.work_metals import surface_names, work_metal_names
from geometries.described.faults import Description, not_known, refused
from geometries.described.quantities import (
    Between,
    Duration,
    Force,
    HeatCapacity,
    Length,
    Resistance,
    Temperature,
    ThermalConductance,
)
from geometries.described.spellings import common_metal
from geometries.windings.turns import Coordinate
from geometries.windings.wire import read_bare, size_and_tolerance, size_given

CARBONS = ("carbon", "graphite")
Contact = Annotated[Resistance, Between(0.0, 10e-3, "ohm")]
BodyTemperature = Annotated[Temperature, Between(233.15, 1273.15, "degC")]


def _metal(value: str) -> str:
    metals = [name for name in work_metal_names() if name not in CARBONS]
    if value not in metals:
        raise refused(not_known(value, metals, "work-piece metal"))
    return value


Metal = Annotated[str, BeforeValidator(common_metal), AfterValidator(_metal)]


class WorkSection(Description):
    """Section of a rod, wire, strip or tab across the current; give one of the two.

    Parameters
    ----------
    round
        Diameter [m].
    strip
        Width by thickness: "27 mm x 0.9 mm", or a pair [m].
    """

    round: Annotated[Length, Between(0.1e-3, 0.1, "m")] | None = None
    strip: str | tuple[float, float] | None = None

    @field_validator("strip", mode="before")
    @classmethod
    def _readable(cls, value: Any, info: ValidationInfo) -> Any:
        if value is None:
            return None
        try:
            given = size_given(size_and_tolerance("strip", value)[0])
            read_bare("strip", given, bool(info.context and info.context.get("job_file")))
        except ValueError as error:
            raise refused(str(error)) from None
        return given

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.round is None) == (self.strip is None):
            text = f"give exactly one of round and strip; {'both' if self.round else 'none'} given"
            raise refused(text)
        return self


class ContactState(Enum):
    """State of the faces that jaws press on, where the resistance of their contact was not measured."""

    CLEAN = "clean"
    OXIDISED = "oxidised"
    SCALED = "scaled"


class Jaws(Description):
    """The two clamps, or the holders of the carbons.

    Parameters
    ----------
    material
        A metal by its name in the tables of work-piece metals.
    contact
        State of the faces: what their contact typically has, where its resistance is not given.
    contact_resistance
        Of either contact, measured cold [ohm]; 0 is a perfect joint.
    force
        That presses either jaw on the work [N]; a typical contact goes with its root.
    grip
        Length of work held in either jaw [m]: how well the pressed faces conduct heat.
    temperature
        At the start [K].
    heat_capacity
        Of either jaw [J/K]; a jaw without one stays as cold as it is.
    sink_conductance
        From either jaw to cable, stand or cooling water [W/K].
    """

    material: Metal = "copper"
    contact: ContactState = ContactState.CLEAN
    contact_resistance: Contact | None = None
    force: Annotated[Force, Between(1.0, 1e5, "N")] | None = None
    grip: Annotated[Length, Between(0.1e-3, 0.5, "m")] | None = None
    temperature: BodyTemperature = ROOM
    heat_capacity: Annotated[HeatCapacity, Between(0.1, 1e6, "J/K")] | None = None
    sink_conductance: Annotated[ThermalConductance, Between(0.0, 1e4, "W/K")] = 0.0


class WorkJoint(Description):
    """A joint in the middle of the work, such as the lap of a blade being brazed.

    Parameters
    ----------
    resistance
        Measured cold [ohm]; 0 is a perfect joint. Where not given, a typical dry lap is taken.
    conductance
        For heat [W/K]. None given: both sides of a joint that was measured have one temperature, pressed faces of one
        that was not conduct by their overlap.
    filler_melts_at
        Where the solder between them flows [K]: from then on the lap resists no more than a filled one. Where not
        given, what is told stays as it is, and what is not told stays dry.
    contact
        State of the faces, where its resistance is not given.
    force
        That presses them together [N], where its resistance is not given.
    overlap
        Of both ends [m], where its conductance is not given.
    """

    resistance: Contact | None = None
    conductance: Annotated[ThermalConductance, Between(1e-3, 1e6, "W/K")] | None = None
    filler_melts_at: Annotated[Temperature, Between(323.15, 2000.0, "degC")] | None = None
    contact: ContactState = ContactState.CLEAN
    force: Annotated[Force, Between(0.1, 1e5, "N")] | None = None
    overlap: Annotated[Length, Between(0.1e-3, 0.5, "m")] | None = None


class Surface(Enum):
    """State of the work's surface, for its emissivity."""

    BRIGHT = "bright"
    OXIDISED = "oxidised"


class SecondPath(Description):
    """What else leads from jaw to jaw: the rest of a closed blade or frame, the other half of a ring.

    Parameters
    ----------
    length
        From jaw to jaw [m].
    metal, section, surface
        Those of the work where not given.
    """

    length: Annotated[Length, Between(0.2e-3, 50.0, "m")]
    metal: Metal | None = None
    section: WorkSection | None = None
    surface: Surface | None = None


class Ring(Description):
    """A closed ring, collar, tyre or blade loop threaded round the core's leg: one turn, its own secondary.

    Parameters
    ----------
    length
        Round its middle line [m]; give one of the two.
    diameter
        Of its middle line [m].
    place
        Its middle in the window, from the leg's face and above the lower yoke (a pair [m]); next to the leg or outside
        the primary, as the arrangement has it, where not given.
    """

    length: Annotated[Length, Between(30e-3, 20.0, "m")] | None = None
    diameter: Annotated[Length, Between(10e-3, 6.0, "m")] | None = None
    place: tuple[Coordinate, Coordinate] | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.length is None) == (self.diameter is None):
            text = f"give exactly one of length and diameter; {'both' if self.length else 'none'} given"
            raise refused(text)
        return self

    @property
    def circumference(self) -> float:
        """Of its middle line [m]."""
        return self.length or pi * (self.diameter or 0.0)


class Carbons(Description):
    """Two equal carbon or graphite electrodes that carry the current into the work and heat it.

    Parameters
    ----------
    grade
        "carbon" or "graphite".
    section
        Of either.
    length
        Of either, from holder to tip [m].
    contact_resistance
        Of either tip on the work [ohm]; where not given a nearly constant voltage, as of brushes.
    """

    grade: str = "carbon"
    section: WorkSection
    length: Annotated[Length, Between(1e-3, 0.3, "m")]
    contact_resistance: Contact | None = None

    @field_validator("grade")
    @classmethod
    def _known(cls, value: str) -> str:
        if value not in CARBONS:
            raise refused(not_known(value, CARBONS, "grade"))
        return value


class WorkPieceDescription(Description):
    """What the current is to heat, between the lead ends.

    Parameters
    ----------
    metal
        By its name in the tables of work-piece metals.
    section
        Across the current.
    length
        Between the jaws, or between the carbons [m].
    ring
        In place of length and jaws: round the core's leg.
    surface
        Bright or oxidised.
    duration
        Of the whole run, current on and cooling [s].
    switch_off
        When the current is switched off [s]; at the end where not given.
    target_temperature
        To be reached [K].
    ambient
        Of air and walls [K].
    jaws, joint, second_path, carbons
        See each.
    """

    metal: Metal
    section: WorkSection
    length: Annotated[Length, Between(0.2e-3, 2.0, "m")] | None = None
    ring: Ring | None = None
    surface: Surface = Surface.OXIDISED
    duration: Annotated[Duration, Between(0.01, 3600.0, "s")]
    switch_off: Annotated[Duration, Between(0.001, 3600.0, "s")] | None = None
    target_temperature: Annotated[Temperature, Between(233.15, 3000.0, "degC")] | None = None
    ambient: BodyTemperature = ROOM
    jaws: Jaws = Jaws()
    joint: WorkJoint | None = None
    second_path: SecondPath | None = None
    carbons: Carbons | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.joint is not None and self.carbons is not None:
            text = "joint and carbons: give one of the two; a joint lies in the middle of clamped work"
            raise refused(text)
        if self.second_path is not None and self.carbons is not None:
            text = "second_path and carbons: give one of the two; a second path lies between clamping jaws"
            raise refused(text)
        if (self.length is None) == (self.ring is None):
            text = f"give exactly one of length and ring; {'both' if self.ring else 'none'} given"
            raise refused(text)
        beside = [key for key in ("jaws", "second_path", "carbons") if key in self.model_fields_set]
        if self.ring is not None and beside:
            text = f"a ring round the leg is its own circuit; leave out {' and '.join(beside)}"
            raise refused(text)
        _check_surface("surface", self.metal, self.surface)
        if (path := self.second_path) is not None:
            _check_surface("second_path.surface", path.metal or self.metal, path.surface or self.surface)
        return self

    @property
    def path(self) -> float:
        """Length of the current's way through it [m]."""
        return self.ring.circumference if self.ring else (self.length or 0.0)


def _check_surface(key: str, metal: str, surface: Surface) -> None:
    if surface.value not in surface_names(metal):
        raise refused(not_known(surface.value, surface_names(metal), f"{key} of {metal}"))
