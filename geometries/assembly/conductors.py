"""Where each conductor of a winding lies inside its block, and the section with conductors in place of blocks."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from geometries.assembly.section_of import section_of
from geometries.cores.shunt import Shunt
from geometries.cores.stacked import StackedCore
from geometries.described.quantities import format_quantity
from geometries.shapes.blocks import Block
from geometries.shapes.section import GRID, Region, Role, Section, Shape
from geometries.windings.conductors import Conductor
from geometries.windings.fit import MOST_NESTED
from geometries.windings.nested import nest
from geometries.windings.turns import TOLERANCE, Layers, Wound, lay

MOST_PLACED = MOST_NESTED
"""Conductors in one window that are placed one by one; more are better described by their block."""

CORNER_ROOM = 1.01
"""Room for a disc in its cell, in diameters: the polygon it is meshed as has corners that stick out by 0.6 %."""


class Wires(Wound, Protocol):
    """What fills a block: a coil, or a winding of one coil."""

    @property
    def wires_in_hand(self) -> int:
        """Conductors wound in parallel [-]."""
        ...


@dataclass(frozen=True, kw_only=True, slots=True)
class _Filling:
    conductor: Conductor
    conductors: int
    height: float
    build: float


@dataclass(frozen=True, kw_only=True, slots=True)
class PlacedConductor:
    """One conductor to the right of the leg its coil surrounds.

    Parameters
    ----------
    name
        Unique in its section: "<coil> turn 1 wire 1".
    winding
        Name of the winding it belongs to.
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
            sense=side * self.direction,
            shape=Shape.DISC if self.circular else Shape.RECTANGLE,
        )


def conductor_layout(core: StackedCore, wires: Wires, block: Block) -> tuple[PlacedConductor, ...]:
    """Place the conductors of a coil in its block.

    Layer after layer from the leg outwards, up the first, down the second and so on; the wires in hand of a turn follow
    each other. Each conductor sits in the middle of one of the block's equal cells; a last layer that is not full is
    spread over the whole height. Round ones too thick for such cells lie nested, as `fit` counts them. A round one that
    would touch its neighbours is placed up to 1 % smaller: bare circles that touch cannot be meshed.

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
    leg = core.frame.leg_at(block.leg_axis)
    left = leg.x1 + block.leg_clearance
    return tuple(
        PlacedConductor(
            name=f"{block.name} turn {turn + 1} wire {wire + 1}",
            winding=block.winding,
            turn=turn,
            wire=wire,
            x=left + x,
            y=block.bottom + y,
            width=width,
            height=height,
            circular=bare.circular,
            leg_axis=leg.axis,
            direction=leg.direction,
        )
        for (turn, wire), (x, y, width, height) in zip(
            (divmod(position, wires.wires_in_hand) for position in range(count)),
            _sites(block, bare, count),
            strict=True,
        )
    )


_Sites = list[tuple[float, float, float, float]]
"""Centre above the block's lower left corner, size across the build and along the leg [m]."""


def _sites(block: Block, bare: Conductor, count: int) -> _Sites:
    laid = lay(_Filling(conductor=bare, conductors=count, height=block.height, build=block.build), block.build)
    cell = (block.build / laid.layers, block.height / laid.per_layer)
    what = _too_large((bare.bare_width, bare.bare_height), cell)
    if not what:
        return _in_cells(block, bare, count, laid)
    nested = nest(count, bare.insulated_width, block.height) if bare.circular else None
    if nested is None or nested.build > block.build + TOLERANCE:
        msg = f"{block.name}: {what}"
        raise ValueError(msg)
    size = min(bare.bare_width, bare.insulated_width / CORNER_ROOM)
    return [(x, y, size, size) for x, y in nested.spread(block.build)]


def _in_cells(block: Block, bare: Conductor, count: int, laid: Layers) -> _Sites:
    cell_width = block.build / laid.layers
    found = []
    for position in range(count):
        layer, along = divmod(position, laid.per_layer)
        in_layer = min(laid.per_layer, count - layer * laid.per_layer)
        cell_height = block.height / in_layer
        width, height = bare.bare_width, bare.bare_height
        if bare.circular:
            width = height = min(width, cell_width / CORNER_ROOM, cell_height / CORNER_ROOM)
        rank = along if layer % 2 == 0 else in_layer - 1 - along
        found.append(((layer + 0.5) * cell_width, (rank + 0.5) * cell_height, width, height))
    return found


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
    gone = {f"{name} {side}" for name in placed for side in ("right", "left")}
    kept = tuple(r for r in section.regions if r.name not in gone)
    single = tuple(c.region(side) for conductors in placed.values() for side in (1, -1) for c in conductors)
    return replace(section, regions=kept + single)


def _too_large(size: tuple[float, float], cell: tuple[float, float]) -> str:
    """Say why a conductor does not go into its cell; empty where it does."""
    for bare, available, direction in zip(size, cell, ("across the build", "along the leg"), strict=True):
        if bare > available + GRID:
            return (
                f"a conductor of {format_quantity(bare, 'm')} {direction} does not go into its cell of "
                f"{format_quantity(available, 'm')}"
            )
    return ""


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
