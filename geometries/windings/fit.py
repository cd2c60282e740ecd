"""Whether the windings go into the window, and with how much to spare."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import hypot, pi, sqrt

from geometries.cores.shunt import Shunt
from geometries.described.faults import Fault
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, Framed, overlap
from geometries.windings.arrangement import Arrangement, Legs, Windings
from geometries.windings.coils import Coil, coils_of
from geometries.windings.lays import MOST_PLACED, lay
from geometries.windings.nested import TOLERANCE, nest

FILL_LIMIT = 0.40
"""Copper in the window that a hand-wound core rarely exceeds [-]."""

SIDE_ROOM = 1e-3
"""Room to leave between a winding and the outer leg, because coil sides bow out [m]."""

DENSEST = pi / (2 * sqrt(3))
"""Densest packing of equal circles in the plane [-] (Thue's theorem): no round wire is wound denser."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockFit:
    """How one winding, or one coil of it, sits in its window.

    Parameters
    ----------
    winding
        Its name.
    side_room
        From its outermost turn to the next leg, in either window [m]; negative where it does not go in.
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
    """How all windings sit in the window.

    Parameters
    ----------
    primary, secondary
        Each winding by itself: the least room of its coils, and their fill factor together.
    blocks
        Each coil by itself, in the order of the blocks.
    apart
        Least distance between primary and secondary [m]; negative where they overlap.
    spare_height
        Height of the window to spare along the leg, clearances and spacing kept [m].
    fill_factor
        Bare conductor area of all over the window's area [-].
    faults
        Why it does not go in: dotted key and message, one for each reason.
    warnings
        What goes in but is tight, one sentence each.
    """

    primary: BlockFit
    secondary: BlockFit
    blocks: tuple[BlockFit, ...]
    apart: float
    spare_height: float
    fill_factor: float
    faults: tuple[Fault, ...]
    warnings: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether everything goes in."""
        return not self.faults


def fit(core: Framed, windings: Windings, blocks: Sequence[Block], *, shunt: Shunt | None = None) -> Fit:
    """Check the placed windings, and fitted shunts between them, against the window.

    Parameters
    ----------
    core
        The core.
    windings
        The windings.
    blocks
        As `place` returns them.
    shunt
        Shunts; ones that are not fitted are left out.
    """
    frame = core.frame
    found: list[Fault] = []
    tight: list[str] = []
    if windings.legs is Legs.EACH and len(frame.legs) != 2:
        found.append(Fault("windings.legs", f'"each" needs a core of two legs, this one has {len(frame.legs)}'))
    coils = coils_of(windings, blocks)
    for coil in coils:
        block = coil.block
        key = f"windings.{coil.key}"
        wound = getattr(windings, block.winding)
        told = (wound.extra if block.coil == "extra" else wound).places is not None
        too_full = _too_near(coil) if told else _too_full(coil)
        found += [Fault(key, text) for text in _outside(frame, windings, coil) + too_full]
        room = _side_room(frame, block)
        if -TOLERANCE <= room < SIDE_ROOM:
            leg = _next_leg(frame)
            tight.append(f"{block.name}: {_mm(room)} to the {leg}. Coil sides bow out: leave {_mm(SIDE_ROOM)}")
        if min(block.leg_clearance, block.end_clearance) <= TOLERANCE:
            tight.append(f"{block.name}: no clearance to the leg. Its edges cut insulation")
    if windings.yoke_clearance <= TOLERANCE:
        tight.append("no clearance to the yokes. A winding that creeps touches the iron")
    for a, b in combinations(blocks, 2):
        _judge_distance(windings, a, b, -overlap(frame, a, b), found, tight)
    found += _between_cores(frame, windings, blocks)
    found += shunt.faults(core, blocks) if shunt is not None and shunt.fitted else []
    pairs = [(a, b) for a, b in combinations(blocks, 2) if a.winding != b.winding]
    fill = sum(coil.copper_area for coil in coils) / (frame.window_width * frame.window_height)
    if fill > FILL_LIMIT:
        tight.append(f"copper fills {fill:.0%} of the window. By hand {FILL_LIMIT:.0%} is rarely exceeded")
    each = tuple(_block_fit(frame, windings, coil) for coil in coils)
    apart = min(-overlap(frame, a, b) for a, b in pairs)
    spare = min(room.room_below for room in each) + min(room.room_above for room in each)
    beside = windings.arrangement is Arrangement.CONCENTRIC or windings.legs is Legs.EACH
    return Fit(
        primary=_tightest("primary", coils, each),
        secondary=_tightest("secondary", coils, each),
        blocks=each,
        apart=apart,
        spare_height=spare if beside else spare + apart - windings.spacing,
        fill_factor=fill,
        faults=tuple(dict.fromkeys(found)),
        warnings=tuple(tight),
    )


def _between_cores(frame: Frame, windings: Windings, blocks: Sequence[Block]) -> list[Fault]:
    """Say what two cores cannot have: end turns that meet, or a primary outside the secondary that runs round both."""
    if frame.second_behind is None:
        return []
    found = []
    need = 2 * max(block.end_clearance + block.build for block in blocks if not block.round_both)
    if (over := need - frame.second_behind) > TOLERANCE:
        found.append(
            Fault(
                "core.second.spacing",
                f"the primaries' end turns need {_mm(need)} between the cores, {_mm(frame.second_behind)} is there: "
                f"{_mm(over)} too little",
            )
        )
    if windings.arrangement is Arrangement.CONCENTRIC:
        if windings.inner == "secondary":
            text = "a secondary that runs round both cores cannot lie inside their primaries"
            found.append(Fault("windings.inner", text))
        if windings.primary.extra is not None:
            text = "extra turns would lie outside of the secondary, which runs on to the other core"
            found.append(Fault("windings.primary.extra", text))
    return found


def _judge_distance(windings: Windings, a: Block, b: Block, apart: float, found: list[Fault], tight: list[str]) -> None:
    if apart < -TOLERANCE:
        found.append(Fault("windings", f"{a.name} and {b.name} overlap by {_mm(-apart)}"))
    elif apart < windings.spacing - TOLERANCE:
        tight.append(f"{a.name} and {b.name} are {_mm(apart)} apart. Spacing asks for {_mm(windings.spacing)}")
    elif apart <= TOLERANCE:
        tight.append(f"no spacing between {a.name} and {b.name}. Only their own insulation separates them")


def _block_fit(frame: Frame, windings: Windings, coil: Coil) -> BlockFit:
    block = coil.block
    return BlockFit(
        winding=block.winding,
        side_room=_side_room(frame, block),
        room_below=block.bottom - windings.yoke_clearance,
        room_above=frame.window_height - block.top - windings.yoke_clearance,
        fill_factor=coil.copper_area / block.area,
    )


def _tightest(winding: str, coils: Sequence[Coil], each: Sequence[BlockFit]) -> BlockFit:
    mine = [(coil, found) for coil, found in zip(coils, each, strict=True) if found.winding == winding]
    return BlockFit(
        winding=winding,
        side_room=min(found.side_room for _, found in mine),
        room_below=min(found.room_below for _, found in mine),
        room_above=min(found.room_above for _, found in mine),
        fill_factor=sum(coil.copper_area for coil, _ in mine) / sum(coil.block.area for coil, _ in mine),
    )


def _side_room(frame: Frame, block: Block) -> float:
    return frame.room_beside(frame.leg_at(block.leg_axis)) - block.leg_clearance - block.build


def _next_leg(frame: Frame) -> str:
    return "other leg" if len(frame.legs) == 2 else "outer leg"


def _outside(frame: Frame, windings: Windings, coil: Coil) -> list[str]:
    """Say where the block leaves the window."""
    found = []
    block, turns = coil.block, _turns(coil)
    width = frame.room_beside(frame.leg_at(block.leg_axis))
    outer = block.leg_clearance + block.build
    if (over := outer - width) > TOLERANCE:
        found.append(
            f"{turns} need {_mm(outer)} across the window (from the leg), {_mm(width)} is there: {_mm(over)} too much"
        )
    highest = frame.window_height - windings.yoke_clearance
    if (over := block.top - highest) > TOLERANCE:
        found.append(
            f"{turns} reach {_mm(block.top)} above the lower yoke, {_mm(highest)} is there below the upper "
            f"yoke's clearance: {_mm(over)} too much"
        )
    if (over := windings.yoke_clearance - block.bottom) > TOLERANCE:
        found.append(
            f"starts {_mm(block.bottom)} above the lower yoke, yoke_clearance asks for {_mm(windings.yoke_clearance)}: "
            f"{_mm(over)} too little"
        )
    return found


def _too_full(coil: Coil) -> list[str]:
    """Say whether a given height or build is too small for the turns."""
    conductor, block = coil.conductor, coil.block
    for key, size, room in (
        ("height", conductor.insulated_height, block.height),
        ("build", conductor.insulated_width, block.build),
    ):
        if (over := size - room) > TOLERANCE:
            return [f"{_turns(coil)}: {key} {_mm(room)} is less than one conductor: {_mm(over)} too little"]
    laid = lay(replace(coil, height=block.height), block.build)
    if (over := laid.per_layer * conductor.insulated_height - block.height) > TOLERANCE:
        return [
            f"{_turns(coil)}, {laid.per_layer} in a layer, need a height of {_mm(block.height + over)}, "
            f"{_mm(block.height)} is there: {_mm(over)} too little"
        ]
    if coil.build is None:
        return []
    need = laid.layers * conductor.insulated_width
    least = ""
    if conductor.circular and need - block.build > TOLERANCE:
        if coil.conductors <= MOST_PLACED:  # the edges matter little to more
            need = min(need, nest(coil.conductors, conductor.insulated_width, block.height).build)
        else:
            need, least = coil.conductors * pi / 4 * conductor.insulated_width**2 / DENSEST / block.height, "at least "
    if (over := need - block.build) <= TOLERANCE:
        return []
    return [
        f"{_turns(coil)} need a build of {least}{_mm(need)} in a height of {_mm(block.height)}, build is "
        f"{_mm(block.build)}: {_mm(over)} too little"
    ]


def _too_near(coil: Coil) -> list[str]:
    """Say which conductors in places of their own would cut into each other or the leg."""
    found, conductor = [], coil.conductor
    if (inner := min(coil.block.leg_clearance, coil.block.end_clearance)) < -TOLERANCE:
        found.append(f"{_turns(coil)}: the innermost place is {_mm(-inner)} too near to the leg")
    for (i, a), (j, b) in combinations(enumerate(coil.block.places, start=1), 2):
        across, along = abs(a.x - b.x), abs(a.y - b.y)
        apart = max(across - conductor.insulated_width, along - conductor.insulated_height)
        if conductor.circular:
            apart = hypot(across, along) - conductor.insulated_width
        if apart < -TOLERANCE:
            found.append(f"{_turns(coil)}: places {i} and {j} are {_mm(-apart)} too near to each other")
    return found


def _turns(coil: Coil) -> str:
    conductor = coil.conductor
    turns = f"{coil.turns} turn{'s' if coil.turns > 1 else ''}"
    in_hand = f", {coil.wires_in_hand} in hand," if coil.wires_in_hand > 1 else ""
    size = f"{conductor.insulated_width * 1e3:.3g} mm"
    if not conductor.circular:
        size = f"{conductor.insulated_height * 1e3:.3g} mm x {size}"
    kind = conductor.label.rsplit(" ", 1)[-1]
    return f"{turns}{in_hand} of {size} {kind}"


def _mm(length: float) -> str:
    """Write a length in millimetres, to 0.1 mm or finer where that would hide it."""
    return f"{length * 1e3:.1f} mm" if abs(length) >= 1e-4 or length == 0 else f"{length * 1e3:.2g} mm"
