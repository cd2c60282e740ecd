"""One winding: its turns and conductor, and what is told of how they lie."""

from __future__ import annotations

import math
from enum import Enum
from typing import Annotated, Any, Self

from pydantic import BeforeValidator, model_validator

from geometries.described.faults import Description, refused
from geometries.described.quantities import Between, Length, Resistance, Temperature, WholeNumber
from geometries.described.spellings import common_metal
from geometries.described.units import REFERENCE_TEMPERATURE
from geometries.shapes.blocks import MOST_SINGLE
from geometries.windings.conductors import Conductor
from geometries.windings.lays import Against, Lay, layers_told

Coordinate = Annotated[Length, Between(0.0, 0.5, "m")]
Places = tuple[tuple[Coordinate, Coordinate], ...]
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
    lay, against, places
        As of a `Winding`. Where not given they touch each other in as many layers as the window holds, or outside of
        what fills the window's height are spread over that height.
    """

    turns: Turns
    conductor: Conductor
    sense: Sense = Sense.AIDING
    height: Extent | None = None
    build: Extent | None = None
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    lay: Lay | None = None
    against: Against | None = None
    places: Places | None = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        _check_lay(self, str(self.turns))
        return self

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
    lay
        How the conductors lie: "along" the leg, one beside the other, a further layer only where the window's height is
        full; "across" the window, from the leg outwards; or how many in each layer from the leg outwards, "2 + 1". In
        as many layers as the window holds where not given.
    against
        "leg": one touching the other, pushed to the leg; "loose": spread over the room they have. Touching, but spread
        over a given height and build and the window's height when concentric, where not given.
    places
        Centre of each conductor in the window, from the leg's face and above the lower yoke (pairs [m]), turn after
        turn, the wires in hand of a turn next to each other.
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
    material: Annotated[str, BeforeValidator(common_metal)] = "copper"
    wires_in_hand: Annotated[int, WholeNumber(1, 1000)] = 1
    height: Extent | None = None
    build: Extent | None = None
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    lay: Lay | None = None
    against: Against | None = None
    places: Places | None = None
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
        _check_lay(self, self._counted)
        return self

    @property
    def _counted(self) -> str:
        in_hand = f" ({self.turns} turns x {self.wires_in_hand} in hand)" if self.wires_in_hand > 1 else ""
        return f"{self.conductors}{in_hand}"

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


def _check_lay(wound: Winding | ExtraTurns, counted: str) -> None:
    """Refuse layers or places of another number of conductors, and places beside what they already say."""
    layers, count = layers_told(wound.lay), wound.conductors
    if layers and sum(layers) != count:
        msg = f'lay "{wound.lay}" is of {sum(layers)} conductors; there are {counted}'
        raise ValueError(msg)
    if wound.places is None:
        return
    beside = ("lay", "against", "height", "build", "bottom")
    if said := [key for key in beside if getattr(wound, key) is not None]:
        msg = f"places say where each conductor lies; leave out {' and '.join(said)}"
    elif count > MOST_SINGLE:
        msg = f"places: at most {MOST_SINGLE} conductors are placed one by one; there are {counted}"
    elif len(wound.places) != count:
        msg = f"places of {len(wound.places)} conductors; there are {counted}"
    else:
        return
    raise ValueError(msg)
