"""Whether the windings go into the window, and with how much to spare."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

from geometries.blocks import Block
from geometries.cores import ShellCore
from geometries.errors import Fault
from geometries.shell_section import overlap
from geometries.windings import TOLERANCE, Winding, Windings, lay

FILL_LIMIT = 0.40
"""Copper in the window that a hand-wound core rarely exceeds [-]: common practice, no source."""

SIDE_ROOM = 1e-3
"""Room to leave between a winding and the outer leg, because coil sides bow out [m]: common practice, no source."""

DENSEST = pi / (2 * sqrt(3))
"""Densest packing of equal circles in the plane [-] (Thue's theorem): no round wire is wound denser."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockFit:
    """How one winding sits in its window.

    Parameters
    ----------
    winding
        Its name.
    side_room
        From its outermost turn to the outer leg, in either window [m]; negative where it does not go in.
    room_below, room_above
        To the lower and the upper yoke, less the yoke clearance [m]; negative where it does not go in.
    fill_factor
        Bare conductor area over the block's area [-].
    """

    winding: str
    side_room: float
    room_below: float
    room_above: float
    fill_factor: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Fit:
    """How both windings sit in the window.

    Parameters
    ----------
    primary, secondary
        Each winding by itself.
    apart
        Distance between the two [m]; negative where they overlap.
    fill_factor
        Bare conductor area of both over the window's area [-].
    faults
        Why it does not go in: dotted key and message, one for each reason.
    warnings
        What goes in but is tight, one sentence each.
    """

    primary: BlockFit
    secondary: BlockFit
    apart: float
    fill_factor: float
    faults: tuple[Fault, ...]
    warnings: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether everything goes in."""
        return not self.faults


def fit(core: ShellCore, windings: Windings, blocks: tuple[Block, Block]) -> Fit:
    """Check the placed windings against the window.

    Parameters
    ----------
    core
        The core.
    windings
        The windings.
    blocks
        Primary and secondary, as `place` returns them.
    """
    found: list[Fault] = []
    tight: list[str] = []
    for winding, block in zip((windings.primary, windings.secondary), blocks, strict=True):
        key = f"windings.{block.winding}"
        found += [Fault(key, text) for text in _outside(core, windings, winding, block) + _too_full(winding, block)]
        room = core.window_width - block.leg_clearance - block.build
        if -TOLERANCE <= room < SIDE_ROOM:
            tight.append(f"{block.winding}: {_mm(room)} to the outer leg; coil sides bow out, leave {_mm(SIDE_ROOM)}")
        if min(block.leg_clearance, block.end_clearance) <= TOLERANCE:
            tight.append(f"{block.winding}: no clearance to the leg; its edges cut insulation")
    if windings.yoke_clearance <= TOLERANCE:
        tight.append("no clearance to the yokes; a winding that creeps touches the iron")
    apart = -overlap(*blocks)
    if apart < -TOLERANCE:
        found.append(Fault("windings", f"primary and secondary overlap by {_mm(-apart)}"))
    elif apart < windings.spacing - TOLERANCE:
        tight.append(f"primary and secondary are {_mm(apart)} apart; spacing asks for {_mm(windings.spacing)}")
    elif apart <= TOLERANCE:
        tight.append("no spacing between primary and secondary; only their own insulation separates them")
    copper = windings.primary.copper_area + windings.secondary.copper_area
    fill = copper / core.window_area
    if fill > FILL_LIMIT:
        tight.append(f"copper fills {fill:.0%} of the window; by hand {FILL_LIMIT:.0%} is rarely exceeded")
    primary, secondary = (
        _block_fit(core, windings, winding, block)
        for winding, block in zip((windings.primary, windings.secondary), blocks, strict=True)
    )
    return Fit(
        primary=primary,
        secondary=secondary,
        apart=apart,
        fill_factor=fill,
        faults=tuple(found),
        warnings=tuple(tight),
    )


def _block_fit(core: ShellCore, windings: Windings, winding: Winding, block: Block) -> BlockFit:
    return BlockFit(
        winding=block.winding,
        side_room=core.window_width - block.leg_clearance - block.build,
        room_below=block.bottom - windings.yoke_clearance,
        room_above=core.window_height - block.top - windings.yoke_clearance,
        fill_factor=winding.copper_area / block.area,
    )


def _outside(core: ShellCore, windings: Windings, winding: Winding, block: Block) -> list[str]:
    """Say where the block leaves the window."""
    found = []
    outer = block.leg_clearance + block.build
    if (over := outer - core.window_width) > TOLERANCE:
        found.append(
            f"{_turns(winding)} need {_mm(outer)} across the window (from the leg), {_mm(core.window_width)} is there: "
            f"{_mm(over)} too much"
        )
    highest = core.window_height - windings.yoke_clearance
    if (over := block.top - highest) > TOLERANCE:
        found.append(
            f"{_turns(winding)} reach {_mm(block.top)} above the lower yoke, {_mm(highest)} is there below the upper "
            f"yoke's clearance: {_mm(over)} too much"
        )
    if (over := windings.yoke_clearance - block.bottom) > TOLERANCE:
        found.append(
            f"starts {_mm(block.bottom)} above the lower yoke, yoke_clearance asks for {_mm(windings.yoke_clearance)}: "
            f"{_mm(over)} too little"
        )
    return found


def _too_full(winding: Winding, block: Block) -> list[str]:
    """Say whether a given height or build is too small for the turns."""
    conductor = winding.conductor
    for key, size, room in (
        ("height", conductor.insulated_height, block.height),
        ("build", conductor.insulated_width, block.build),
    ):
        if (over := size - room) > TOLERANCE:
            return [f"{_turns(winding)}: {key} {_mm(room)} is less than one conductor: {_mm(over)} too little"]
    if winding.height is None or winding.build is None:
        return []
    if conductor.circular:
        need = winding.conductors * pi / 4 * conductor.insulated_width**2 / DENSEST / block.height
    else:
        need = lay(winding, block.build).layers * conductor.insulated_width
    if (over := need - block.build) <= TOLERANCE:
        return []
    return [
        f"{_turns(winding)} need a build of at least {_mm(need)} in a height of {_mm(block.height)}, build is "
        f"{_mm(block.build)}: {_mm(over)} too little"
    ]


def _turns(winding: Winding) -> str:
    conductor = winding.conductor
    turns = f"{winding.turns} turn{'s' if winding.turns > 1 else ''}"
    in_hand = f", {winding.wires_in_hand} in hand," if winding.wires_in_hand > 1 else ""
    size = f"{conductor.insulated_width * 1e3:.3g} mm"
    if not conductor.circular:
        size = f"{conductor.insulated_height * 1e3:.3g} mm x {size}"
    kind = conductor.label.rsplit(" ", 1)[-1]
    return f"{turns}{in_hand} of {size} {kind}"


def _mm(length: float) -> str:
    """Write a length in millimetres, to 0.1 mm or finer where that would hide it."""
    return f"{length * 1e3:.1f} mm" if abs(length) >= 1e-4 or length == 0 else f"{length * 1e3:.2g} mm"
