"""The section of a core with its windings and shunts, in the plane of the sheets."""

from __future__ import annotations

from collections.abc import Sequence

from geometries.cores.shunt import Shunt, bar_regions
from geometries.described.quantities import format_quantity
from geometries.shapes.blocks import Block, coil_parts
from geometries.shapes.frame import Frame, Framed, overlap, side_edges
from geometries.shapes.legs import Leg, Part
from geometries.shapes.section import GRID, Cut, Region, Role, Section

MARGIN = 1.5
"""Air round the core against its larger size [-]; `section_of` says why."""

_ROLES = {
    Part.WOUND_LEG: Role.IRON,
    Part.OTHER_LEG: Role.IRON,
    Part.YOKE: Role.IRON,
    Part.JOINT: Role.JOINT,
    Part.GAP: Role.AIR,
}


def section_of(
    core: Framed,
    blocks: Sequence[Block],
    *,
    joint_regions: bool = True,
    shunt: Shunt | None = None,
    margin: float | None = None,
) -> Section:
    """Return the planar section of a core with its windings and shunts.

    Parameters
    ----------
    core
        The iron; a gap in the leg is a region of air.
    blocks
        Where the windings sit; each becomes two regions, "<coil> right" and "<coil> left", and so does each
        conductor of a winding of few (`coil_parts`).
    joint_regions
        Whether joints are regions of their own (role joint); False leaves the legs solid but for a gap in the leg.
    shunt
        Shunts; ones that are not fitted are left out.
    margin
        Air round the core, to the line on which A = 0 [m]; `MARGIN` times the core's larger size where not given.

    Returns
    -------
    Section
        With a cut through each leg, by its name, through each yoke beside the middle of each window, and through each
        bar. That of the primary's leg lies at the middle of its (largest) block, with another, "... at secondary",
        where the secondary is on that leg too; other legs are cut at the middle of their windings or at mid-window.

    Raises
    ------
    ValueError
        If a block lies outside its window, two blocks overlap, a shunt does not go in, or margin is not above 0.

    Notes
    -----
    The flux per metre through a cut is A(start) - A(end). Every cut is directed so that positive ampere-turns (out of
    the page at the right of the primary's leg) drive positive flux: down the primary's leg, outwards in the lower yoke,
    up the other legs and back inwards in the upper yoke. A winding on another leg has the opposite sense there, so that
    primary and secondary link each other's flux positively wherever they sit.

    The margin: what leaves a closed frame falls off at least like a dipole's field, so holding A = 0 at a finite
    distance takes little. For one winding alone on a 40 mm scrapless shell core, against a margin of four times its
    size, the inductance per metre falls by 0.015 % at 1.5 times its size and by 0.065 % at half of it while the
    relative permeability is 5000, by 0.9 % and 4 % when saturation has left 5. Elements out there are large: 1.5 costs
    8 % more of them than 0.5.
    """
    frame = core.frame if joint_regions else core.frame.closed
    bars = () if shunt is None or not shunt.fitted else bar_regions(frame, blocks, shunt)
    _check(frame, blocks)
    width, height = frame.right_edge - frame.left_edge, frame.window_height + 2 * frame.yoke_height
    air = MARGIN * max(width, height) if margin is None else margin
    if not air > 0:
        msg = f"margin {air} m: it must be above 0"
        raise ValueError(msg)
    iron = [
        Region(name=box.name, role=_ROLES[box.part], x0=box.x0, y0=box.y0, x1=box.x1, y1=box.y1)
        for box in frame.boxes()
    ]
    return Section(
        regions=(*iron, *bars, *_conductors(frame, blocks)),
        outline=(
            frame.left_edge - air,
            -frame.yoke_height - air,
            frame.right_edge + air,
            frame.window_height + frame.yoke_height + air,
        ),
        cuts=(*_leg_cuts(frame, blocks), *_yoke_cuts(frame), *_bar_cuts(bars)),
    )


def _conductors(frame: Frame, blocks: Sequence[Block]) -> list[Region]:
    regions = []
    for coil, block in ((coil, part) for coil, parts in coil_parts(blocks) for part in parts):
        direction = frame.leg_at(block.leg_axis).direction
        for name, side in (("right", 1), ("left", -1)):
            x0, x1 = side_edges(frame, block, side)
            regions.append(
                Region(
                    name=f"{block.name} {name}",
                    role=Role.CONDUCTOR,
                    x0=x0,
                    y0=block.bottom,
                    x1=x1,
                    y1=block.top,
                    winding=block.winding,
                    coil=coil.name,
                    sense=side * direction,
                    share=block.share,
                )
            )
    return regions


def _leg_cuts(frame: Frame, blocks: Sequence[Block]) -> list[Cut]:
    cuts = []
    for leg in sorted(frame.legs, key=lambda leg: leg.part is not Part.WOUND_LEG):
        here = [block for block in blocks if abs(block.leg_axis - leg.axis) < GRID]
        cuts.append(_across(leg, leg.name, _middle(here, "primary" if leg.part is Part.WOUND_LEG else None, frame)))
        if leg.part is Part.WOUND_LEG and any(block.winding == "secondary" for block in here):
            cuts.append(_across(leg, f"{leg.name} at secondary", _middle(here, "secondary", frame)))
    return cuts


def _middle(blocks: Sequence[Block], winding: str | None, frame: Frame) -> float:
    """Return the middle of the block that holds most of the winding's turns, or of the window where there is none."""
    wanted = [block for block in blocks if winding in (None, block.winding)]
    if not wanted:
        return frame.window_height / 2
    largest = max(wanted, key=lambda block: abs(block.share))
    return (largest.bottom + largest.top) / 2


def _across(leg: Leg, name: str, y: float) -> Cut:
    start, end = (leg.x1, leg.x0) if leg.direction > 0 else (leg.x0, leg.x1)
    return Cut(name=name, x0=start, y0=y, x1=end, y1=y)


def _yoke_cuts(frame: Frame) -> list[Cut]:
    top, yoke = frame.window_height, frame.yoke_height
    lower, upper = [], []
    for x0, x1 in frame.windows:
        x = (x0 + x1) / 2
        side = "" if len(frame.windows) == 1 else " left" if x < 0 else " right"
        # outwards in the lower yoke, inwards in the upper one
        below, above = ((0.0, -yoke), (top, top + yoke)) if x > 0 else ((-yoke, 0.0), (top + yoke, top))
        lower.append(Cut(name=f"lower yoke{side}", x0=x, y0=below[0], x1=x, y1=below[1]))
        upper.append(Cut(name=f"upper yoke{side}", x0=x, y0=above[0], x1=x, y1=above[1]))
    return [*lower, *upper]


def _bar_cuts(bars: Sequence[Region]) -> list[Cut]:
    """Return cuts across the bars, positive for flux from the other leg to the primary's below a shorted secondary."""
    found = []
    for bar in bars:
        middle = (bar.x0 + bar.x1) / 2
        y0, y1 = (bar.y0, bar.y1) if middle < 0 else (bar.y1, bar.y0)
        found.append(Cut(name=bar.name, x0=middle, y0=y0, x1=middle, y1=y1))
    return found


def _check(frame: Frame, blocks: Sequence[Block]) -> None:
    for block in blocks:
        room = frame.room_beside(frame.leg_at(block.leg_axis))
        over = max(
            block.leg_clearance + block.build - room,
            block.top - frame.window_height,
            -block.bottom,
            -block.leg_clearance,
        )
        if over > GRID:
            msg = f"{block.name} sticks out of the window by {format_quantity(over, 'm')}"
            raise ValueError(msg)
    for i, a in enumerate(blocks):
        for b in blocks[i + 1 :]:
            depth = overlap(frame, a, b)
            if depth > GRID:
                msg = f"{a.name} and {b.name} overlap by {format_quantity(depth, 'm')}"
                raise ValueError(msg)
