"""Where an end-region grid's lines lie along each axis: through every edge of iron and winding, fine at iron edges.

Cells start at `EDGE_SIZE` of the window's width at an edge of iron, or at the height of a joint or gap there, and grow
away from it (`lines`); the outermost lines close the air in, `MARGIN` window heights off.
"""

from collections.abc import Sequence
from math import inf

from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.lines import SAME, Edge, Wanted, edges_of_turns
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, side_edges
from geometries.shapes.legs import Box, Part

MARGIN = 3.0
"""Air round the core as a multiple of the window height; a dipole's energy outside falls with its third power."""
APART = 2.0
"""That many times the air where windings sit on different legs, for what leaks from yoke to yoke goes far round (1 %),
and where a secondary runs on to a second core, for its go and return are far apart there (1 %)."""
EDGE_SIZE = 0.12
"""Cell size at an iron edge over window width."""


def _narrowest(boxes: Sequence[Box]) -> float:
    """Return the height of the lowest joint or gap [m]; infinite where there is none."""
    return min((box.y1 - box.y0 for box in boxes if box.part in (Part.JOINT, Part.GAP)), default=inf)


def beside(frame: Frame, bars: Sequence[ShuntBar]) -> list[tuple[ShuntBar, float, float, float, float]]:
    """Return for each bar in each window beside the primary's leg its ends x0, x1 and the faces w0, w1 there."""
    leg = frame.wound_leg
    found = []
    for bar in bars:
        for w0, w1 in frame.windows:
            if abs(w0 - leg.x1) < SAME:
                found.append((bar, w0 + bar.leg_gap, w1 - bar.outer_leg_gap, w0, w1))
            elif abs(w1 - leg.x0) < SAME:
                found.append((bar, w0 + bar.outer_leg_gap, w1 - bar.leg_gap, w0, w1))
    return found


def air_round(frame: Frame, blocks: Sequence[Block]) -> float:
    """Return the width of the air round the core [m]."""
    together = frame.stacks == 1 and len({round(block.leg_axis / SAME) for block in blocks}) <= 1
    return MARGIN * frame.window_height * (1.0 if together else APART)


def across(
    frame: Frame,
    boxes: Sequence[Box],
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    air: float,
    resolve_gap: bool,
    half: bool,
) -> Wanted:
    """Return what lines across the legs hold, from far left or, of a half, from the primary leg's axis.

    Parameters
    ----------
    frame, boxes, blocks, bars
        The iron, its boxes with joints and gaps as they are laid, the windings, shunt bars. Lengths may carry
        derivatives.
    air
        Width of the air round the core [m].
    resolve_gap
        Whether cells at the legs' faces are as small as the lowest joint or gap is high.
    half
        Whether the plane x = 0 is a mirror plane where the lines begin.
    """
    width = frame.window_width
    sides = [side_edges(frame, block, side) for block in blocks for side in (-1, 1)]
    faces = [x for leg in frame.legs for x in (leg.x0, leg.x1)]
    fixed, turns = [0.0, *faces, faces[0] - air, faces[-1] + air], []
    for leg in frame.legs:  # each side of each leg by itself, so that what is symmetric stays so
        for side in (-1, 1):
            beside_it = [
                side * x
                for block, ends in zip([b for b in blocks for _ in (-1, 1)], sides, strict=True)
                for x in ends
                if abs(block.leg_axis - leg.axis) < SAME and side * (x - leg.axis) > 0
            ]
            turns += [side * x for x in edges_of_turns(beside_it, width)] if beside_it else []
    fine = EDGE_SIZE * width
    gap = _narrowest(boxes)
    if resolve_gap:
        fine = min(fine, gap)
    edges = [Edge(x, fine) for x in faces[1:-1]]
    near = (faces[1], faces[-2])
    for face, beyond in ((faces[0], [x0 for x0, _ in sides]), (faces[-1], [x1 for _, x1 in sides])):
        outside = [x for x in beyond if abs(x) > abs(face) and x * face > 0]
        # The whole drop across a gap stands at the outer face too, or a winding; without, that face hardly matters.
        if gap < inf or outside:
            edges.append(Edge(face, fine))
        near = min([near[0], *outside]), max([near[1], *outside])
    for _, x0, x1, w0, w1 in beside(frame, bars):
        fixed += [x0, x1]
        for tip, wall in ((x0, w0), (x1, w1)):
            size = min(fine, 0.5 * abs(tip - wall)) or fine
            edges += [Edge(tip, size), Edge(wall, size)]
    if half:
        fixed, turns = ([x for x in points if x > -SAME] for points in (fixed, turns))
    return Wanted(fixed=fixed, turns=turns, edges=edges, near=near, width=width)


def along(
    frame: Frame,
    boxes: Sequence[Box],
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    air: float,
) -> Wanted:
    """Return what lines along the legs hold, from below the lower yoke to above the upper one; as `across`."""
    height, yoke = frame.window_height, frame.yoke_height
    fixed = [-yoke - air, -yoke, 0.0, height, height + yoke, height + yoke + air]
    fine = EDGE_SIZE * frame.window_width
    edges = [Edge(0.0, fine), Edge(height, fine)]
    for box in boxes:
        if box.part in (Part.JOINT, Part.GAP):
            fixed += [box.y0, box.y1]
            edges += [Edge(at, min(fine, box.y1 - box.y0)) for at in (box.y0, box.y1)]
    turns = [at for block in blocks for at in (block.bottom, block.top)]
    for bar in bars:
        gaps = [gap for gap in (bar.leg_gap, bar.outer_leg_gap) if gap]
        fixed += [bar.bottom, bar.top]
        edges += [Edge(at, min(fine, *gaps) if gaps else fine) for at in (bar.bottom, bar.top)]
    return Wanted(fixed=fixed, turns=turns, edges=edges, near=(0.0, height), width=frame.window_width)


def deep(
    frame: Frame,
    boxes: Sequence[Box],
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    air: float,
) -> Wanted:
    """Return what lines along the stack hold, from its middle or that between two outwards; as `across`."""
    (near, face), width = frame.nearest_stack, frame.window_width
    faces = [face] if frame.second_behind is None else [near, face]
    fixed = [0.0, *faces, face + air]
    fixed += [end for bar in bars for end in bar_ends(frame, bar)]
    edges = [Edge(at, min(EDGE_SIZE * width, _narrowest(boxes))) for at in faces]
    turns: list[float] = []
    for side in (-1, 1):
        ends = []
        for block in blocks:
            centre, inner = frame.turn_centre(block), frame.surrounded(block)[1] / 2 + block.end_clearance
            ends += [side * centre + at for at in (inner, inner + block.build)]
        turns += [side * at for at in edges_of_turns(ends, width)]
    turns = [at for at in turns if at > -SAME]
    return Wanted(fixed=fixed, turns=turns, edges=edges, near=(0.0, face + width), width=width)


def bar_ends(frame: Frame, bar: ShuntBar) -> tuple[float, float]:
    """Return where a bar, centred on its stack, begins and ends along the part of the stack at z > 0 [m]."""
    near, far = frame.nearest_stack
    if frame.second_behind is None:
        return 0.0, bar.depth / 2
    return (near + far - bar.depth) / 2, (near + far + bar.depth) / 2
