"""One winding: its turns and conductor, and how its conductors are laid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Protocol, Self

from pydantic import BeforeValidator, model_validator

from geometries.described.faults import Description, refused
from geometries.described.quantities import Between, Length, Resistance, Temperature, WholeNumber
from geometries.described.units import REFERENCE_TEMPERATURE
from geometries.windings.conductors import Conductor

TOLERANCE = 1e-9
"""Lengths closer than this [m] are the same: 40 mm holds ten conductors of 4 mm whatever the rounding."""

Extent = Annotated[Length, Between(0.1e-3, 0.5, "m")]


class InsulationClass(Enum):
    """Thermal class of a winding's insulation (IEC 60085)."""

    A = "A"
    E = "E"
    B = "B"
    F = "F"
    H = "H"


def _whole_turns(value: Any) -> Any:
    if isinstance(value, float) and math.isfinite(value) and value != int(value):
        text = f"turns {value:g}: whole turns only (go and return through both windows)"
        raise refused(text)
    return value


class Sense(Enum):
    """Whether turns in series add to the rest or take from it."""

    AIDING = "aiding"
    OPPOSING = "opposing"


Turns = Annotated[int, WholeNumber(1, 20_000), BeforeValidator(_whole_turns)]


class ExtraTurns(Description):
    """More turns of the primary in series, in a coil of their own, of the primary's metal.

    Parameters
    ----------
    turns
        Whole turns round the leg [-].
    conductor
        What they are wound with.
    sense
        Aiding, to lower the flux, or opposing, to raise it.
    height, build
        Length along the leg and thickness across the legs [m]; what is not given follows from the conductor.
    bottom
        Lower edge above the lower yoke [m]; above the other windings, or outside concentric ones, where not given.
    """

    turns: Turns
    conductor: Conductor
    sense: Sense = Sense.AIDING
    height: Extent | None = None
    build: Extent | None = None
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None

    @property
    def signed_turns(self) -> int:
        """Turns, negative where they oppose [-]."""
        return self.turns if self.sense is Sense.AIDING else -self.turns

    @property
    def conductors(self) -> int:
        """Conductors that pass through one window [-]."""
        return self.turns


class Winding(Description):
    """One winding.

    Parameters
    ----------
    turns
        Whole turns round the leg [-].
    conductor
        What it is wound with.
    material
        Metal, by its name in the materials tables.
    wires_in_hand
        Conductors wound in parallel [-].
    height, build
        Length along the leg and thickness across the legs [m]; what is not given follows from the conductor.
    bottom
        Lower edge above the lower yoke [m]; follows from the arrangement where not given.
    mean_turn
        Measured length of the mean turn [m], in place of the computed one.
    resistance
        Measured d.c. resistance [ohm], in place of the computed one.
    resistance_temperature
        Winding temperature at that measurement [K].
    insulation_class
        Thermal class: A, E, B, F or H.
    extra
        More turns of the primary in series, in a coil of their own.
    """

    turns: Turns
    conductor: Conductor
    material: str = "copper"
    wires_in_hand: Annotated[int, WholeNumber(1, 1000)] = 1
    height: Extent | None = None
    build: Extent | None = None
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    mean_turn: Annotated[Length, Between(10e-3, 5.0, "m")] | None = None
    resistance: Annotated[Resistance, Between(1e-6, 1e5, "ohm")] | None = None
    resistance_temperature: Annotated[Temperature, Between(233.15, 523.15, "degC")] = REFERENCE_TEMPERATURE
    insulation_class: InsulationClass = InsulationClass.A
    extra: ExtraTurns | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.net_turns < 1:
            against = self.turns - self.net_turns
            msg = f"{self.turns} turns and {against} opposing ones leave {self.net_turns}; at least 1 is needed"
            raise ValueError(msg)
        return self

    @property
    def net_turns(self) -> int:
        """Turns that link the flux: with the extra ones added or taken [-]."""
        return self.turns + (self.extra.signed_turns if self.extra else 0)

    @property
    def conductors(self) -> int:
        """Conductors that pass through one window, without the extra turns' [-]."""
        return self.turns * self.wires_in_hand

    @property
    def copper_area(self) -> float:
        """Nominal conductor area of all turns in one window, without the extra ones [m2]."""
        return self.conductors * self.conductor.area


class Wound(Protocol):
    """What there is to lay: conductors of one kind, with what is known of their height and build."""

    @property
    def conductor(self) -> Conductor:
        """What is laid."""
        ...

    @property
    def conductors(self) -> int:
        """How many pass through one window [-]."""
        ...

    @property
    def height(self) -> float | None:
        """Length along the leg [m], where given."""
        ...

    @property
    def build(self) -> float | None:
        """Thickness across the legs [m], where given."""
        ...


@dataclass(frozen=True, kw_only=True, slots=True)
class Layers:
    """How the conductors of a winding are laid: layers, conductors along the leg in each, and their size [m]."""

    layers: int
    per_layer: int
    height: float
    build: float


def lay(winding: Wound, width: float) -> Layers:
    """Lay the conductors of a winding in layers along the leg.

    What the winding gives (`height`, `build` or both) is kept and the rest follows. Where it gives neither, as many
    layers as go into `width` are used and then the least height. At least one conductor is laid each way, so that a
    winding that does not fit still gets the size it needs.

    Parameters
    ----------
    winding
        The winding, or a coil of one.
    width
        Room for its build [m].
    """
    across, along = winding.conductor.insulated_width, winding.conductor.insulated_height
    count = winding.conductors
    if winding.height is not None:
        per_layer = min(max(_whole(winding.height, along), 1), count)
    else:
        room = width if winding.build is None else winding.build
        per_layer = math.ceil(count / min(max(_whole(room, across), 1), count))
    layers = math.ceil(count / per_layer)
    return Layers(
        layers=layers,
        per_layer=per_layer,
        height=per_layer * along if winding.height is None else winding.height,
        build=layers * across if winding.build is None else winding.build,
    )


def _whole(length: float, size: float) -> int:
    return math.floor((length + TOLERANCE) / size)
