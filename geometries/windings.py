"""Windings and where they sit in the window."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, model_validator

from geometries.blocks import Block
from geometries.conductors import Conductor
from geometries.cores import ShellCore
from geometries.errors import Description, refused
from geometries.quantities import Between, Length, Resistance, Temperature, WholeNumber

WindingName = Literal["primary", "secondary"]
TOLERANCE = 1e-9
"""Lengths closer than this [m] are the same: 40 mm holds ten conductors of 4 mm whatever the rounding."""

Clearance = Annotated[Length, Between(0.0, 0.1, "m")]
Extent = Annotated[Length, Between(0.1e-3, 0.5, "m")]


class Arrangement(Enum):
    """How the two windings share the window."""

    SIDE_BY_SIDE = "side-by-side"
    CONCENTRIC = "concentric"


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


class Winding(Description):
    """One winding.

    Parameters
    ----------
    turns
        Whole turns round the centre leg [-].
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
    """

    turns: Annotated[int, WholeNumber(1, 20_000), BeforeValidator(_whole_turns)]
    conductor: Conductor
    material: str = "copper"
    wires_in_hand: Annotated[int, WholeNumber(1, 1000)] = 1
    height: Extent | None = None
    build: Extent | None = None
    bottom: Annotated[Length, Between(0.0, 0.5, "m")] | None = None
    mean_turn: Annotated[Length, Between(10e-3, 5.0, "m")] | None = None
    resistance: Annotated[Resistance, Between(1e-6, 1e5, "ohm")] | None = None
    resistance_temperature: Annotated[Temperature, Between(233.15, 523.15, "degC")] = 293.15
    insulation_class: InsulationClass = InsulationClass.A

    @property
    def conductors(self) -> int:
        """Conductors that pass through one window [-]."""
        return self.turns * self.wires_in_hand

    @property
    def copper_area(self) -> float:
        """Nominal conductor area of all turns in one window [m2]."""
        return self.conductors * self.conductor.area


class Windings(Description):
    """Primary, secondary, and the distances around them.

    Parameters
    ----------
    arrangement
        Side by side along the leg, or concentric.
    inner
        Which winding lies next to the leg when concentric.
    spacing
        Between the two windings [m]: along the leg when side by side, radially when concentric.
    leg_clearance
        From the leg's face to the innermost turn, in the window [m].
    yoke_clearance
        From either yoke to the nearest turn [m].
    end_clearance
        From the leg's end face to the innermost turn, outside the window [m]; as `leg_clearance` where not given.
    primary, secondary
        The windings.
    """

    arrangement: Arrangement
    inner: WindingName = "primary"
    spacing: Clearance
    leg_clearance: Clearance
    yoke_clearance: Clearance
    end_clearance: Clearance | None = None
    primary: Winding
    secondary: Winding

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.arrangement is not Arrangement.CONCENTRIC and self.inner != "primary":
            msg = 'inner is for arrangement = "concentric"; side by side, move a winding with its bottom'
            raise ValueError(msg)
        return self

    @property
    def inner_end_clearance(self) -> float:
        """From the leg's end face to the innermost turn of all [m]."""
        return self.leg_clearance if self.end_clearance is None else self.end_clearance


@dataclass(frozen=True, kw_only=True, slots=True)
class Layers:
    """How the conductors of a winding are laid: layers, conductors along the leg in each, and their size [m]."""

    layers: int
    per_layer: int
    height: float
    build: float


def lay(winding: Winding, width: float) -> Layers:
    """Lay the conductors of a winding in layers along the leg.

    What the winding gives (`height`, `build` or both) is kept and the rest follows. Where it gives neither, as many
    layers as go into `width` are used and then the least height. At least one conductor is laid each way, so that a
    winding that does not fit still gets the size it needs.

    Parameters
    ----------
    winding
        The winding.
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


def place(core: ShellCore, windings: Windings) -> tuple[Block, Block]:
    """Return where the primary and the secondary sit.

    Side by side, the primary starts above the lower yoke's clearance and the secondary above it. A winding may come
    as near to the outer leg as to the centre leg. Concentric, both fill the window between the yokes' clearances
    unless they give a height, and a shorter one is centred. An explicit `bottom` is kept in either case. Whether it
    all goes in is for `fit` to say.

    Parameters
    ----------
    core
        The core.
    windings
        The windings.

    Returns
    -------
    tuple of Block
        Primary, secondary.
    """
    if windings.arrangement is Arrangement.CONCENTRIC:
        return _concentric(core, windings)
    width = core.window_width - 2 * windings.leg_clearance
    bottom = windings.yoke_clearance
    blocks = []
    for name, winding in (("primary", windings.primary), ("secondary", windings.secondary)):
        laid = lay(winding, width)
        block = _block(name, winding, laid, windings.leg_clearance, windings.inner_end_clearance, bottom)
        blocks.append(block)
        bottom = block.top + windings.spacing
    return blocks[0], blocks[1]


def _concentric(core: ShellCore, windings: Windings) -> tuple[Block, Block]:
    full = max(core.window_height - 2 * windings.yoke_clearance, 0.1e-3)
    order = ("primary", "secondary") if windings.inner == "primary" else ("secondary", "primary")
    leg, end = windings.leg_clearance, windings.inner_end_clearance
    blocks: dict[str, Block] = {}
    for name in order:
        winding: Winding = getattr(windings, name)
        filled = winding if winding.height is not None else winding.model_copy(update={"height": full})
        laid = lay(filled, core.window_width - 2 * leg)
        bottom = (core.window_height - laid.height) / 2
        blocks[name] = _block(name, winding, laid, leg, end, bottom)
        leg += laid.build + windings.spacing
        end += laid.build + windings.spacing
    return blocks["primary"], blocks["secondary"]


def _block(name: str, winding: Winding, laid: Layers, leg: float, end: float, bottom: float) -> Block:
    return Block(
        winding=name,
        leg_clearance=leg,
        end_clearance=end,
        build=laid.build,
        bottom=bottom if winding.bottom is None else winding.bottom,
        height=laid.height,
    )


def _whole(length: float, size: float) -> int:
    return math.floor((length + TOLERANCE) / size)
