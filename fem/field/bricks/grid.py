"""Graded tensor grid of the end-region model: lines through every edge of iron and winding, fine at iron edges."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.lines import SAME, Edge, graded
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, Framed, side_edges
from geometries.shapes.legs import Box, Part

MARGIN = 3.0
"""Air round the core as a multiple of the window height; a dipole's energy outside falls with its third power."""
APART = 2.0
"""That many times the air where windings sit on different legs, for what leaks from yoke to yoke goes far round (1 %),
and where a secondary runs on to a second core, for its go and return are far apart there (1 %)."""
EDGE_SIZE = 0.12
"""Cell size at an iron edge over window width."""
COARSEST = 0.2
"""Resolution below which a grid hardly follows the field."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class TensorGrid:
    """Lines of a tensor grid and the permeability of its cells.

    Parameters
    ----------
    x, y, z
        Increasing coordinates of the lines [m], shapes (nx + 1,), (ny + 1,), (nz + 1,).
    mu_r
        Relative permeability [-], shape (nx, ny, nz).
    copies
        How many mirror images of the grid make up the whole.
    closed
        Whether the last z line is a mirror plane too, as in a slab of the in-plane field; otherwise far air lies there.
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    z: NDArray[np.float64]
    mu_r: NDArray[np.float64]
    copies: int
    closed: bool = False

    @property
    def nodes(self) -> int:
        """Corners and edges of the cells: what there are unknowns for, but for those on the boundary."""
        x, y, z = self.x.size, self.y.size, self.z.size
        return x * y * z + (x - 1) * y * z + x * (y - 1) * z + x * y * (z - 1)

    def slab(self, core: Framed) -> "TensorGrid":
        """Return one layer of cells in the stack between two mirror planes: the planar field times the depth.

        Parameters
        ----------
        core
            The iron.

        Returns
        -------
        The grid of the layer, as much of the stack as this grid holds, with these lines across and along the legs.
        """
        z = np.array(core.frame.nearest_stack)
        inside = int(np.searchsorted(self.z, z[1] - SAME)) - 1
        mu_r = self.mu_r[:, :, inside : inside + 1]
        return TensorGrid(x=self.x, y=self.y, z=z, mu_r=mu_r, copies=self.copies, closed=True)


def _narrowest(boxes: Sequence[Box]) -> float:
    """Return the height of the lowest joint or gap [m]; infinite where there is none."""
    return min((box.y1 - box.y0 for box in boxes if box.part in (Part.JOINT, Part.GAP)), default=np.inf)


def _beside(frame: Frame, bars: Sequence[ShuntBar]) -> list[tuple[ShuntBar, float, float, float, float]]:
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


def _air(frame: Frame, blocks: Sequence[Block]) -> float:
    """Return the width of the air round the core [m]."""
    together = frame.stacks == 1 and len({round(block.leg_axis / SAME) for block in blocks}) <= 1
    return MARGIN * frame.window_height * (1.0 if together else APART)


def _across(
    frame: Frame,
    boxes: Sequence[Box],
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    resolution: float,
    *,
    resolve_gap: bool,
    half: bool,
) -> NDArray[np.float64]:
    """Return the lines across the legs, from far left or, of a symmetric half, from the primary leg's axis."""
    width, far = frame.window_width, _air(frame, blocks)
    sides = [side_edges(frame, block, side) for block in blocks for side in (-1, 1)]
    faces = [x for leg in frame.legs for x in (leg.x0, leg.x1)]
    points = [0.0, *faces, faces[0] - far, faces[-1] + far, *(x for side in sides for x in side)]
    fine = EDGE_SIZE * width
    gap = _narrowest(boxes)
    if resolve_gap:
        fine = min(fine, gap)
    edges = [Edge(x, fine) for x in faces[1:-1]]
    near = (faces[1], faces[-2])
    for face, beyond in ((faces[0], [x0 for x0, _ in sides]), (faces[-1], [x1 for _, x1 in sides])):
        outside = [x for x in beyond if abs(x) > abs(face) and x * face > 0]
        # The whole drop across a gap stands at the outer face too, or a winding; without, that face hardly matters.
        if np.isfinite(gap) or outside:
            edges.append(Edge(face, fine))
        near = min([near[0], *outside]), max([near[1], *outside])
    for _, x0, x1, w0, w1 in _beside(frame, bars):
        points += [x0, x1]
        for tip, wall in ((x0, w0), (x1, w1)):
            size = min(fine, 0.5 * abs(tip - wall)) or fine
            edges += [Edge(tip, size), Edge(wall, size)]
    if half:
        points = [x for x in points if x > -SAME]
    return graded(points, edges, near, width, resolution)


def _along(
    frame: Frame, boxes: Sequence[Box], blocks: Sequence[Block], bars: Sequence[ShuntBar], resolution: float
) -> NDArray[np.float64]:
    """Return the lines along the legs, from below the lower yoke to above the upper one."""
    height, yoke = frame.window_height, frame.yoke_height
    margin = _air(frame, blocks)
    points = [-yoke - margin, -yoke, 0.0, height, height + yoke, height + yoke + margin]
    fine = EDGE_SIZE * frame.window_width
    edges = [Edge(0.0, fine), Edge(height, fine)]
    for box in boxes:
        if box.part in (Part.JOINT, Part.GAP):
            points += [box.y0, box.y1]
            edges += [Edge(at, min(fine, box.y1 - box.y0)) for at in (box.y0, box.y1)]
    for block in blocks:
        points += [block.bottom, block.top]
    for bar in bars:
        gaps = [gap for gap in (bar.leg_gap, bar.outer_leg_gap) if gap]
        points += [bar.bottom, bar.top]
        edges += [Edge(at, min(fine, *gaps) if gaps else fine) for at in (bar.bottom, bar.top)]
    return graded(points, edges, (0.0, height), frame.window_width, resolution)


def _deep(
    frame: Frame, boxes: Sequence[Box], blocks: Sequence[Block], bars: Sequence[ShuntBar], resolution: float
) -> NDArray[np.float64]:
    """Return the lines in the stack direction, from mid-stack or from the middle between two stacks outwards."""
    (near, face), width = frame.nearest_stack, frame.window_width
    faces = [face] if frame.second_behind is None else [near, face]
    points = [0.0, *faces, face + _air(frame, blocks)]
    points += [end for bar in bars for end in _bar_ends(frame, bar)]
    edges = [Edge(at, min(EDGE_SIZE * width, _narrowest(boxes))) for at in faces]
    for block in blocks:
        centre, inner = frame.turn_centre(block), frame.surrounded(block)[1] / 2 + block.end_clearance
        points += [centre + side * at for side in (-1, 1) for at in (inner, inner + block.build)]
    return graded([at for at in points if at > -SAME], edges, (0.0, face + width), width, resolution)


def _bar_ends(frame: Frame, bar: ShuntBar) -> tuple[float, float]:
    """Return where a bar, centred on its stack, begins and ends along the part of the stack at z > 0 [m]."""
    near, far = frame.nearest_stack
    if frame.second_behind is None:
        return 0.0, bar.depth / 2
    return (near + far - bar.depth) / 2, (near + far + bar.depth) / 2


def cells_within(grid: TensorGrid, boxes: Sequence[Box], near: float, far: float) -> NDArray[np.bool_]:
    """Return which cells lie in one of the boxes, between two depths [m], shape (nx, ny, nz)."""
    x, y, z = ((line[1:] + line[:-1]) / 2 for line in (grid.x, grid.y, grid.z))
    plane = np.zeros((x.size, y.size), dtype=np.bool_)
    for box in boxes:
        plane |= ((x > box.x0) & (x < box.x1))[:, None] & ((y > box.y0) & (y < box.y1))
    return plane[:, :, None] & ((z > near) & (z < far))


def layer_mu_r(iron_mu_r: float, gap_mu_r: float, share: float) -> float:
    """Return what a layer counts as that is a gap over `share` of its height and iron over the rest, in series [-]."""
    return 1 / ((1 - share) / iron_mu_r + share / gap_mu_r)


def end_region_grid(
    core: Framed,
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    mu_r: float,
    resolution: float,
    resolve_gap: bool = True,
    thinnest: float = 0.0,
) -> TensorGrid:
    """Lay the grid: a quarter of the arrangement, or the front half where left and right differ.

    Parameters
    ----------
    core
        The iron.
    blocks
        The windings, whose edges become grid lines.
    bars
        Shunt bars.
    mu_r
        Relative permeability of the core [-].
    resolution
        Cells per length relative to the default [-].
    resolve_gap
        Whether to grade across the legs down to the height of joints and gaps. What their fringe adds in the lamination
        plane drops out of the difference with the slab, which therefore does without at half the unknowns.
    thinnest
        Height that lower joints and gaps are stretched to [m], with iron in what is added.

    Returns
    -------
    The grid with its cells' permeability.
    """
    frame = core.frame
    boxes = frame.boxes(thinnest)
    half = frame.mirror_symmetric and all(abs(block.leg_axis) < SAME for block in blocks)
    x = _across(frame, boxes, blocks, bars, resolution, resolve_gap=resolve_gap, half=half)
    y, z = _along(frame, boxes, blocks, bars, resolution), _deep(frame, boxes, blocks, bars, resolution)
    cells = np.ones((len(x) - 1, len(y) - 1, len(z) - 1))
    grid = TensorGrid(x=x, y=y, z=z, mu_r=cells, copies=4 if half else 2)
    for box in boxes:
        cells[cells_within(grid, (box,), *frame.nearest_stack)] = layer_mu_r(mu_r, 1.0, box.gap_share)
    for bar, x0, x1, _, _ in _beside(frame, bars):
        place = Box(name="shunt", part=Part.OTHER_LEG, x0=x0, y0=bar.bottom, x1=x1, y1=bar.top)
        cells[cells_within(grid, (place,), *_bar_ends(frame, bar))] = bar.mu_r
    return grid


def affordable(lay: Callable[[float], TensorGrid], resolution: float, most: int) -> tuple[TensorGrid, float]:
    """Lay a grid, coarser than asked for where it would have too many unknowns; return it with its resolution.

    Parameters
    ----------
    lay
        Lays the grid at a resolution.
    resolution
        Wanted [-].
    most
        Unknowns it may have; at `COARSEST` it has what it needs.
    """
    grid = lay(resolution)
    while grid.nodes > most and resolution > COARSEST:
        resolution = max(0.96 * resolution, COARSEST)
        grid = lay(resolution)
    return grid, resolution


def axisymmetric_grid(
    core: Framed, radius: float, blocks: Sequence[Block], *, mu_r: float, resolution: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Lay the grid of the slice past the leg's end: an iron cylinder as long as window and yokes, coils round it.

    Parameters
    ----------
    core
        The iron.
    radius
        Of the cylinder [m].
    blocks
        The windings, at their end clearance.
    mu_r
        Relative permeability of the cylinder [-].
    resolution
        Cells per length relative to the default [-].

    Returns
    -------
    Radii [m], heights [m], and the relative permeability of the cells.
    """
    frame = core.frame
    width, boxes = frame.window_width, frame.boxes()
    points = [0.0, radius, radius + width + MARGIN * frame.window_height]
    for block in blocks:
        inner = radius + block.end_clearance
        points += [inner, inner + block.build]
    r = graded(points, [Edge(radius, EDGE_SIZE * width)], (0.0, radius + width), width, resolution)
    y = _along(frame, boxes, blocks, (), resolution)
    mid_r, mid_y = (r[1:] + r[:-1]) / 2, (y[1:] + y[:-1]) / 2
    level = (mid_y > -frame.yoke_height) & (mid_y < frame.window_height + frame.yoke_height)
    for box in boxes:
        if box.part in (Part.JOINT, Part.GAP) and box.x0 < 0 < box.x1:
            level &= ~((mid_y > box.y0) & (mid_y < box.y1))
    return r, y, np.where((mid_r < radius)[:, None] & level, mu_r, 1.0)
