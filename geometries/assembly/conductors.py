"""Where each conductor of a winding lies inside its block, and the section with conductors in place of blocks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import hypot
from typing import Protocol

from geometries.assembly.section_of import section_of
from geometries.cores.shunt import Shunt
from geometries.cores.stacked import StackedCore
from geometries.described.quantities import format_quantity
from geometries.shapes.blocks import Block
from geometries.shapes.section import Region, Role, Section, Shape
from geometries.windings.conductors import Conductor
from geometries.windings.lays import MOST_PLACED, Against, Wound, lay, places_of

CORNER_ROOM = 1.01
"""Room for a disc in its cell, in diameters: the polygon it is meshed as has corners that stick out by 0.6 %."""


class Wires(Wound, Protocol):
    """What fills a block: a coil, or a winding of one coil."""

    @property
    def wires_in_hand(self) -> int:
        """Conductors wound in parallel [-]."""
        ...


@dataclass(frozen=True, slots=True)
class _Filling:
    conductor: Conductor
    conductors: int
    height: float
    build: float
    lay: str | None = None
    against: Against | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class PlacedConductor:
    """One conductor to the right of the leg its coil surrounds.

    Parameters
    ----------
    name
        Unique in its section: "<coil> turn 1 wire 1".
    winding, coil
        Names of the winding and the coil it belongs to.
    turn, wire
        Which turn of the coil and which wire in hand, counted from 0.
    x, y
        Its centre [m].
    width, height
        Size across the build and along the leg [m]; equal for a round one.
    circular
        Whether it is round.
    leg_axis
        Where the axis of the leg lies, x [m].
    direction
        The leg's: +1 where positive ampere-turns come out of the page to its right, -1 where they go in.
    """

    name: str
    winding: str
    coil: str
    turn: int
    wire: int
    x: float
    y: float
    width: float
    height: float
    circular: bool
    leg_axis: float = 0.0
    direction: int = 1

    def region(self, side: int) -> Region:
        """Return its region: to the right of the leg with side +1, mirrored to the left of it with side -1."""
        x = self.leg_axis + side * (self.x - self.leg_axis)
        return Region(
            name=f"{self.name} {'right' if side > 0 else 'left'}",
            role=Role.CONDUCTOR,
            x0=x - self.width / 2,
            x1=x + self.width / 2,
            y0=self.y - self.height / 2,
            y1=self.y + self.height / 2,
            winding=self.winding,
            coil=self.coil,
            sense=side * self.direction,
            shape=Shape.DISC if self.circular else Shape.RECTANGLE,
        )


def conductor_layout(core: StackedCore, wires: Wires, block: Block) -> tuple[PlacedConductor, ...]:
    """Return the conductors of a coil where its block has their places, or laid evenly where it has none.

    Round ones that would touch their neighbours or the block's edge are up to 1 % smaller: bare circles that touch
    cannot be meshed.

    Parameters
    ----------
    core
        The core.
    wires
        The coil, or the winding if it is one.
    block
        Where it sits.

    Raises
    ------
    ValueError
        If there are more than `MOST_PLACED` conductors, or they do not go into the block.
    """
    count = wires.conductors
    if count > MOST_PLACED:
        msg = f"{block.name}: {count} conductors in a window; at most {MOST_PLACED} are placed one by one"
        raise ValueError(msg)
    bare = wires.conductor
    if not block.places:
        filling = _Filling(wires.conductor, count, block.height, block.build)
        block = replace(block, places=places_of(bare, lay(filling, block.build)))
    if not block.places:
        size = format_quantity(bare.bare_width, "m"), format_quantity(block.build, "m")
        msg = f"{block.name}: {count} conductors of {size[0]} across do not go into a build of {size[1]}"
        raise ValueError(msg)
    leg = core.frame.leg_at(block.leg_axis)
    left = leg.x1 + block.leg_clearance
    room = _room(block) / CORNER_ROOM
    return tuple(
        PlacedConductor(
            name=f"{block.name} turn {turn + 1} wire {wire + 1}",
            winding=block.winding,
            coil=block.name,
            turn=turn,
            wire=wire,
            x=left + place.x,
            y=block.bottom + place.y,
            width=min(place.width, room) if place.circular else place.width,
            height=min(place.height, room) if place.circular else place.height,
            circular=place.circular,
            leg_axis=leg.axis,
            direction=leg.direction,
        )
        for (turn, wire), place in zip(
            (divmod(position, wires.wires_in_hand) for position in range(count)), block.places, strict=True
        )
    )


def _room(block: Block) -> float:
    """Return the largest diameter with which round conductors neither touch each other nor leave their block [m]."""
    places = block.places
    edge = min(min(p.x, block.build - p.x, p.y, block.height - p.y) for p in places)
    return min([2 * edge, *(hypot(p.x - q.x, p.y - q.y) for p, q in combinations(places, 2))])


def conductor_section(
    core: StackedCore,
    blocks: Sequence[Block],
    placed: Mapping[str, Sequence[PlacedConductor]],
    *,
    joint_regions: bool = False,
    shunt: Shunt | None = None,
) -> Section:
    """Return the section of a core with single conductors in place of some blocks.

    Parameters
    ----------
    core, blocks
        As for `StackedCore.section`.
    placed
        The conductors of those coils that are placed one by one, by the name of their block.
    joint_regions, shunt
        As for `StackedCore.section`.

    Raises
    ------
    ValueError
        As `StackedCore.section`, or if a name is no block's.
    """
    if unknown := set(placed) - {block.name for block in blocks}:
        msg = f"no block for {sorted(unknown)}"
        raise ValueError(msg)
    section = section_of(core, blocks, joint_regions=joint_regions, shunt=shunt)
    kept = tuple(r for r in section.regions if r.coil not in placed)
    single = tuple(c.region(side) for conductors in placed.values() for side in (1, -1) for c in conductors)
    return replace(section, regions=kept + single)


def round_pair_section(radius: float, spacing: float, *, reach: float = 40.0) -> Section:
    """Return the section of two round conductors in free air, go and return.

    Parameters
    ----------
    radius
        Of either conductor [m].
    spacing
        Centre to centre [m].
    reach
        How far away A = 0, in multiples of the spacing [-]: what that changes falls off with its square.

    Raises
    ------
    ValueError
        If the conductors touch.
    """
    if spacing < 2 * radius * CORNER_ROOM:
        msg = f"spacing {spacing:g} m: conductors of {2 * radius:g} m diameter would touch"
        raise ValueError(msg)
    regions = tuple(
        Region(
            name=name,
            role=Role.CONDUCTOR,
            x0=sense * spacing / 2 - radius,
            x1=sense * spacing / 2 + radius,
            y0=-radius,
            y1=radius,
            winding="leads",
            sense=sense,
            shape=Shape.DISC,
        )
        for name, sense in (("go", 1), ("return", -1))
    )
    far = reach * spacing
    return Section(regions=regions, outline=(-far, -far, far, far))
