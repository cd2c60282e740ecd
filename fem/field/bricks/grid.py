"""Graded tensor grid of the end-region model: its lines and the permeability of its cells."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.field.bricks.axes import EDGE_SIZE, MARGIN, across, along, bar_ends, beside, deep
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.fits import check_arrangement
from fem.field.bricks.lines import SAME, Edge, graded
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed
from geometries.shapes.legs import Box, Part

COARSEST = 0.2
"""Resolution below which a grid hardly follows the field."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class TensorGrid:
    """Lines of a tensor grid and the permeability of its cells.

    Parameters
    ----------
    x, y, z
        Increasing coordinates of the lines (nx + 1,), (ny + 1,), (nz + 1,) [m].
    mu_r
        Relative permeability (nx, ny, nz) [-].
    copies
        How many mirror images of the grid make up the whole.
    closed
        Whether the last z line is a mirror plane too, as in a slab of the in-plane field; otherwise far air lies there.
    """

    x: Floats
    y: Floats
    z: Floats
    mu_r: Floats
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


def cells_within(grid: TensorGrid, boxes: Sequence[Box], near: float, far: float) -> NDArray[np.bool_]:
    """Return which cells lie in one of the boxes, between two depths [m] (nx, ny, nz)."""
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

    Raises
    ------
    ValueError
        If a block or bar does not fit the window, `mu_r` is below 1 or `resolution` not positive.
    """
    check_arrangement(core, blocks, bars, mu_r=mu_r, resolution=resolution)
    frame = core.frame
    boxes = frame.boxes(thinnest)
    half = frame.mirror_symmetric and all(abs(block.leg_axis) < SAME for block in blocks)
    x = across(frame, boxes, blocks, bars, resolution, resolve_gap=resolve_gap, half=half)
    y, z = along(frame, boxes, blocks, bars, resolution), deep(frame, boxes, blocks, bars, resolution)
    cells = np.ones((len(x) - 1, len(y) - 1, len(z) - 1))
    grid = TensorGrid(x=x, y=y, z=z, mu_r=cells, copies=4 if half else 2)
    for box in boxes:
        cells[cells_within(grid, (box,), *frame.nearest_stack)] = layer_mu_r(mu_r, 1.0, box.gap_share)
    for bar, x0, x1, _, _ in beside(frame, bars):
        place = Box(name="shunt", part=Part.OTHER_LEG, x0=x0, y0=bar.bottom, x1=x1, y1=bar.top)
        cells[cells_within(grid, (place,), *bar_ends(frame, bar))] = bar.mu_r
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
) -> tuple[Floats, Floats, Floats]:
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

    Raises
    ------
    ValueError
        As for `end_region_grid`.
    """
    check_arrangement(core, blocks, (), mu_r=mu_r, resolution=resolution)
    frame = core.frame
    width, boxes = frame.window_width, frame.boxes()
    points = [0.0, radius, radius + width + MARGIN * frame.window_height]
    for block in blocks:
        inner = radius + block.end_clearance
        points += [inner, inner + block.build]
    r = graded(points, [Edge(radius, EDGE_SIZE * width)], (0.0, radius + width), width, resolution)
    y = along(frame, boxes, blocks, (), resolution)
    mid_r, mid_y = (r[1:] + r[:-1]) / 2, (y[1:] + y[:-1]) / 2
    level = (mid_y > -frame.yoke_height) & (mid_y < frame.window_height + frame.yoke_height)
    for box in boxes:
        if box.part in (Part.JOINT, Part.GAP) and box.x0 < 0 < box.x1:
            level &= ~((mid_y > box.y0) & (mid_y < box.y1))
    return r, y, np.where((mid_r < radius)[:, None] & level, mu_r, 1.0)
