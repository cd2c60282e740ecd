"""The section of a shell-type core with its windings, in the plane of the sheets."""

from __future__ import annotations

from collections.abc import Sequence

from geometries.blocks import Block
from geometries.cores import Joint, ShellCore
from geometries.quantities import format_quantity
from geometries.section import GRID, Cut, Region, Role, Section
from geometries.shunt import Shunt

MARGIN = 1.5
"""Air round the core against its larger size [-]; `shell_section` says why."""


def shell_section(
    core: ShellCore,
    blocks: Sequence[Block],
    *,
    joint_regions: bool = True,
    shunt: Shunt | None = None,
    margin: float | None = None,
) -> Section:
    """Return the planar section of a core and its windings.

    The E's own yoke lies below, the I above. Butt and welded cores have their joint at the top of all three legs,
    interleaved ones at both ends of each leg; its region is as high as the gap and takes that length from the leg, so
    the window keeps its height.

    Parameters
    ----------
    core
        The core.
    blocks
        Where the windings sit; each becomes two regions, "<winding> right" with sense +1 and "<winding> left" with -1.
    joint_regions
        Whether joints are regions of their own (role joint); False leaves the legs solid.
    shunt
        Bars between the windings, in both windows; one that is not fitted is left out.
    margin
        Air round the core, to the line on which A = 0 [m]; `MARGIN` times the core's larger size where not given.

    Returns
    -------
    Section
        With the cuts "centre leg" (at the middle of the primary), "centre leg at secondary", "left outer leg",
        "right outer leg" (at mid-window), "lower yoke left", "lower yoke right", "upper yoke left" and "upper yoke
        right" (at the middle of each window).

    Raises
    ------
    ValueError
        If a block lies outside the window or two blocks overlap.

    Notes
    -----
    The flux per metre through a cut is A(start) - A(end). Every cut is directed so that positive ampere-turns (out of
    the page at x > 0) drive positive flux: down the centre leg, outwards in the lower yoke, up the outer legs and back
    inwards in the upper yoke. Left and right together carry the centre leg's flux, but for what leaks on the way.

    The margin: what leaves a closed frame falls off at least like a dipole's field, so holding A = 0 at a finite
    distance takes little. For one winding alone on a 40 mm scrapless core, against a margin of four times its size, the
    inductance per metre falls by 0.015 % at 1.5 times its size and by 0.065 % at half of it while the relative
    permeability is 5000, by 0.9 % and 4 % when saturation has left 5. Elements out there are large: 1.5 costs 8 % more
    of them than 0.5.
    """
    _check(core, blocks)
    bars = [] if shunt is None or not shunt.fitted else _bars(core, blocks, shunt)
    air = MARGIN * max(core.overall_width, core.overall_height) if margin is None else margin
    if not air > 0:
        msg = f"margin {air} m: it must be above 0"
        raise ValueError(msg)
    return Section(
        regions=(*_iron(core, joint_regions), *bars, *_conductors(core, blocks)),
        outline=(
            core.left_edge - air,
            -core.yoke_height - air,
            core.right_edge + air,
            core.window_height + core.yoke_height + air,
        ),
        cuts=(*_cuts(core, blocks), *_bar_cuts(bars)),
    )


def _iron(core: ShellCore, joint_regions: bool) -> list[Region]:
    top, yoke, left, right = core.window_height, core.yoke_height, core.left_edge, core.right_edge
    gap = core.joint_gap if joint_regions else 0.0
    lower_gap = gap if core.joint is Joint.INTERLEAVED else 0.0
    half = core.leg_width / 2
    regions = [
        Region(name="lower yoke", role=Role.IRON, x0=left, y0=-yoke, x1=right, y1=0.0),
        Region(name="upper yoke", role=Role.IRON, x0=left, y0=top, x1=right, y1=top + yoke),
    ]
    for leg, x0, x1 in (
        ("centre leg", -half, half),
        ("left outer leg", left, -half - core.window_width),
        ("right outer leg", half + core.window_width, right),
    ):
        regions.append(Region(name=leg, role=Role.IRON, x0=x0, y0=lower_gap, x1=x1, y1=top - gap))
        if gap:
            regions.append(Region(name=f"{leg} upper joint", role=Role.JOINT, x0=x0, y0=top - gap, x1=x1, y1=top))
        if lower_gap:
            regions.append(Region(name=f"{leg} lower joint", role=Role.JOINT, x0=x0, y0=0.0, x1=x1, y1=lower_gap))
    return regions


def _conductors(core: ShellCore, blocks: Sequence[Block]) -> list[Region]:
    regions = []
    for block in blocks:
        x0, x1 = _extent(core, block)
        for side, sense, a, b in (("right", 1, x0, x1), ("left", -1, -x1, -x0)):
            regions.append(
                Region(
                    name=f"{block.winding} {side}",
                    role=Role.CONDUCTOR,
                    x0=a,
                    y0=block.bottom,
                    x1=b,
                    y1=block.top,
                    winding=block.winding,
                    sense=sense,
                )
            )
    return regions


def _bars(core: ShellCore, blocks: Sequence[Block], shunt: Shunt) -> list[Region]:
    if faults := shunt.faults(core, blocks):
        msg = "; ".join(f"{key}: {text}" for key, text in faults)
        raise ValueError(msg)
    x0 = core.leg_width / 2 + shunt.total_gap / 2
    x1 = core.leg_width / 2 + core.window_width - shunt.total_gap / 2
    y0 = shunt.lower_edge(blocks)
    y1 = y0 + shunt.height
    return [
        Region(name="right shunt", role=Role.SHUNT, x0=x0, y0=y0, x1=x1, y1=y1),
        Region(name="left shunt", role=Role.SHUNT, x0=-x1, y0=y0, x1=-x0, y1=y1),
    ]


def _bar_cuts(bars: Sequence[Region]) -> list[Cut]:
    """Return cuts across the bars, positive for flux from the outer leg to the centre leg below a shorted secondary."""
    found = []
    for bar in bars:
        middle = (bar.x0 + bar.x1) / 2
        y0, y1 = (bar.y0, bar.y1) if middle < 0 else (bar.y1, bar.y0)
        found.append(Cut(name=bar.name, x0=middle, y0=y0, x1=middle, y1=y1))
    return found


def _cuts(core: ShellCore, blocks: Sequence[Block]) -> tuple[Cut, ...]:
    half, top, yoke = core.leg_width / 2, core.window_height, core.yoke_height
    left, right = core.left_edge, core.right_edge
    middle, inner, outer = top / 2, half + core.window_width, half + core.window_width / 2
    levels = {block.winding: (block.bottom + block.top) / 2 for block in blocks}
    y = levels.get("primary", middle)
    cuts = [Cut(name="centre leg", x0=half, y0=y, x1=-half, y1=y)]
    if "secondary" in levels:
        y = levels["secondary"]
        cuts.append(Cut(name="centre leg at secondary", x0=half, y0=y, x1=-half, y1=y))
    cuts += [
        Cut(name="left outer leg", x0=left, y0=middle, x1=-inner, y1=middle),
        Cut(name="right outer leg", x0=inner, y0=middle, x1=right, y1=middle),
        Cut(name="lower yoke left", x0=-outer, y0=-yoke, x1=-outer, y1=0.0),
        Cut(name="lower yoke right", x0=outer, y0=0.0, x1=outer, y1=-yoke),
        Cut(name="upper yoke left", x0=-outer, y0=top + yoke, x1=-outer, y1=top),
        Cut(name="upper yoke right", x0=outer, y0=top, x1=outer, y1=top + yoke),
    ]
    return tuple(cuts)


def _extent(core: ShellCore, block: Block) -> tuple[float, float]:
    x0 = core.leg_width / 2 + block.leg_clearance
    return x0, x0 + block.build


def _check(core: ShellCore, blocks: Sequence[Block]) -> None:
    for block in blocks:
        over = max(
            block.leg_clearance + block.build - core.window_width,
            block.top - core.window_height,
            -block.bottom,
            -block.leg_clearance,
        )
        if over > GRID:
            msg = f"{block.winding} sticks out of the window by {format_quantity(over, 'm')}"
            raise ValueError(msg)
    for i, a in enumerate(blocks):
        for b in blocks[i + 1 :]:
            depth = overlap(a, b)
            if depth > GRID:
                msg = f"{a.winding} and {b.winding} overlap by {format_quantity(depth, 'm')}"
                raise ValueError(msg)


def overlap(a: Block, b: Block) -> float:
    """Return how far two blocks reach into each other: the smaller of the two overlaps [m]; negative when apart."""
    across = min(a.leg_clearance + a.build, b.leg_clearance + b.build) - max(a.leg_clearance, b.leg_clearance)
    along = min(a.top, b.top) - max(a.bottom, b.bottom)
    return min(across, along)
