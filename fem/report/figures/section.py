"""The cross-section with its dimensions, to hold against the core on the bench."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Circle, Rectangle

from fem.digits import brief
from fem.estimation.pictures import Pictures
from fem.estimation.result import Estimate
from fem.report.figures.style import BLUE, INK, IRON, ORANGE, STYLE, captioned, new_figure
from geometries.shapes.blocks import Block, blocks_of, coil_parts, winding_names
from geometries.shapes.frame import Frame, side_edges
from geometries.shapes.section import Role, Section

Point = tuple[float, float]


@mpl.rc_context(STYLE)
def cross_section(estimate: Estimate) -> Figure:
    """Draw the cross-section with its dimensions in mm, the windings with their turns."""
    pictures = estimate.drawn
    core = pictures.core
    joints = f"{core.joint.value} joints, gap {millimetres(core.joint_gap)}"
    if core.leg_gap is not None:
        joints += f"; {core.flux_place} gap {millimetres(core.leg_gap)}"
    stack = f"stack {millimetres(core.stack_depth)} deep"
    if core.second is not None:
        stack = f"two stacks {millimetres(core.stack_depth)} deep, {millimetres(core.second.spacing)} apart"
    figure, axes = new_figure(estimate.title, f"Dimensions in mm; {stack}; {joints}")
    colours = dict(zip(winding_names(pictures.blocks), (BLUE, ORANGE), strict=True))
    for region in pictures.section.regions:
        if region.role in {Role.IRON, Role.JOINT, Role.SHUNT}:
            corner, width, height = (region.x0, region.y0), region.x1 - region.x0, region.y1 - region.y0
            axes.add_patch(Rectangle(corner, width, height, facecolor=IRON, edgecolor="none", linewidth=0.6))
    for block, parts in coil_parts(pictures.blocks):
        for shape in _conductors(core.frame, block, parts):
            shape.set(facecolor=colours[block.winding], edgecolor=INK, linewidth=0.6)
            axes.add_patch(shape)
    edges(axes, pictures)
    _windings(axes, estimate)
    _dimensions(axes, pictures)
    axes.set_axis_off()
    captioned(
        figure,
        "Hold it against the core on the bench: a millimetre read wrong is wrong in all that follows. What lies in the "
        "window, and what is to spare there, is drawn larger beside this.",
    )
    return figure


def _conductors(frame: Frame, block: Block, parts: tuple[Block, ...]) -> Iterator[Circle | Rectangle]:
    """Yield a block's two sides, or where its conductors are single the shapes of all of them, as bare as they are."""
    for side in (-1, 1):
        if parts == (block,):
            x0, x1 = side_edges(frame, block, side)
            yield Rectangle((x0, block.bottom), x1 - x0, block.height)
            continue
        for place, part in zip(block.places, parts, strict=True):
            middle = sum(side_edges(frame, part, side)) / 2, block.bottom + place.y
            if place.circular:
                yield Circle(middle, place.width / 2)
            else:
                corner = middle[0] - place.width / 2, middle[1] - place.height / 2
                yield Rectangle(corner, place.width, place.height)


def sides(section: Section) -> tuple[float, float]:
    """Return the left and right edge of iron and windings together, x [m]."""
    solid = [region for region in section.regions if region.role is not Role.AIR]
    return min(region.x0 for region in solid), max(region.x1 for region in solid)


def edges(axes: Axes, pictures: Pictures) -> None:
    """Draw the iron's outline, the windows and the joints as lines."""
    core = pictures.core
    boxes = [((core.left_edge, -core.yoke_height), core.overall_width, core.overall_height)]
    boxes += [((x0, 0.0), x1 - x0, core.window_height) for x0, x1 in core.frame.windows]
    for corner, width, height in boxes:
        axes.add_patch(Rectangle(corner, width, height, fill=False, edgecolor=INK, linewidth=0.8, zorder=4))
    for region in pictures.section.regions:
        if region.role is Role.JOINT:
            middle = (region.y0 + region.y1) / 2
            axes.plot([region.x0, region.x1], [middle, middle], color=INK, linewidth=0.5, zorder=4)


def _windings(axes: Axes, estimate: Estimate) -> None:
    """Name each winding with its turns and its size, left of the core with a line to it."""
    pictures = estimate.drawn
    core = pictures.core
    blocks = [
        max(blocks_of(pictures.blocks, name), key=lambda block: block.area) for name in winding_names(pictures.blocks)
    ]
    middles = [(block.bottom + block.top) / 2 for block in blocks]
    apart = 0.3 * core.overall_height
    heights = list(middles)
    if abs(heights[1] - heights[0]) < apart:
        sign = 1 if heights[1] >= heights[0] else -1
        heights = [sum(middles) / 2 - sign * apart / 2, sum(middles) / 2 + sign * apart / 2]
    beside = sides(pictures.section)[0] - 0.04 * core.overall_width
    states = (estimate.build.primary, estimate.build.secondary)
    for block, state, middle, height in zip(blocks, states, middles, heights, strict=True):
        x = block.leg_axis - (core.leg_width / 2 + block.leg_clearance + block.build / 2)
        turns = f"{state.turns} turn{'s' if state.turns > 1 else ''}"
        coils = len(blocks_of(pictures.blocks, block.winding))
        size = f"{millimetres(block.build)} x {millimetres(block.height)}" if coils == 1 else f"{coils} coils"
        text = f"{block.winding}\n{turns}\n{size}"
        axes.text(beside, height, text, ha="right", va="center", fontsize=6.5, linespacing=1.3)
        axes.plot([beside + 0.01 * core.overall_width, x], [height, middle], color=INK, linewidth=0.5, zorder=5)
        axes.plot([x], [middle], ".", color=INK, markersize=3, zorder=5)


def _dimensions(axes: Axes, pictures: Pictures) -> None:
    core = pictures.core
    left, right = core.left_edge, core.right_edge
    bottom, top = -core.yoke_height, core.window_height + core.yoke_height
    step = 0.07 * max(core.overall_width, core.overall_height)
    outer_left, outer_right = sides(pictures.section)
    below, beside = bottom - step, outer_right + step
    marks = [x for leg in core.frame.legs for x in (leg.x0, leg.x1)]
    for x0, x1 in pairwise(marks):
        _dimension(axes, (x0, below), (x1, below))
    _dimension(axes, (left, below - step), (right, below - step))
    for x in marks:
        axes.plot([x, x], [bottom, below - step * (1.3 if x in {left, right} else 0.3)], color=INK, linewidth=0.3)
    for y0, y1 in ((bottom, 0.0), (0.0, core.window_height), (core.window_height, top)):
        _dimension(axes, (beside, y0), (beside, y1))
    _dimension(axes, (beside + step, bottom), (beside + step, top))
    for y in (bottom, 0.0, core.window_height, top):
        axes.plot([right, beside + step * (1.3 if y in {bottom, top} else 0.3)], [y, y], color=INK, linewidth=0.3)
    axes.set_xlim(outer_left - 4 * step, beside + 1.9 * step)
    axes.set_ylim(below - 1.9 * step, top + 0.3 * step)


def _dimension(axes: Axes, start: Point, end: Point) -> None:
    """Draw a dimension line with its length in mm beside it."""
    arrow = {"arrowstyle": "<|-|>", "color": INK, "linewidth": 0.5, "mutation_scale": 4, "shrinkA": 0, "shrinkB": 0}
    axes.annotate("", xy=start, xytext=end, arrowprops=arrow)
    upright = start[0] == end[0]
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    length = abs(end[0] - start[0]) + abs(end[1] - start[1])
    axes.annotate(
        millimetres(length),
        middle,
        xytext=(3.5, 0) if upright else (0, -3),
        textcoords="offset points",
        rotation=90 if upright else 0,
        ha="left" if upright else "center",
        va="center" if upright else "top",
        fontsize=6.5,
    )


def millimetres(length: float) -> str:
    """Write a length as on a drawing: millimetres without their unit, to 0.1 mm or three digits where finer."""
    millimetres = 1e3 * length
    return f"{round(millimetres, 1):g}" if millimetres >= 1 else f"{brief(millimetres)}"
