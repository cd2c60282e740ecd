"""Graded tensor grid of the end-region model: its lines and the permeability of its cells."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.field.bricks.axes import EDGE_SIZE, MARGIN, across, air_round, along, bar_ends, beside, deep
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.fits import check_arrangement
from fem.field.bricks.lines import SAME, Edge, Stretch, Wanted, without_end
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame, Framed
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
        Whether the grid is a slab of the in-plane field: one layer between two mirror planes, no flux through its
        outline.
    open
        Whether the outermost cells, but for those at mirror planes, go on for ever; each is as wide as it lies far from
        the core's middle. Otherwise the potential is 0 on the outermost lines.
    """

    x: Floats
    y: Floats
    z: Floats
    mu_r: Floats
    copies: int
    closed: bool = False
    open: bool = False

    @property
    def nodes(self) -> int:
        """Corners and edges of the cells: what there are unknowns for, but for those on the boundary."""
        x, y, z = self.x.size, self.y.size, self.z.size
        return x * y * z + (x - 1) * y * z + x * (y - 1) * z + x * y * (z - 1)

    def slab(self, core: Framed, outline: tuple[float, float, float, float]) -> "TensorGrid":
        """Return one layer of cells in the stack between two mirror planes: the planar field times the depth.

        Parameters
        ----------
        core
            The iron.
        outline
            Of the planar section: left, lower, right and upper edge [m]. No flux leaves it.

        Returns
        -------
        The grid of the layer, as much of the stack as this grid holds, with this grid's lines within the outline.
        """
        z = np.array(core.frame.nearest_stack)
        inside = int(np.searchsorted(self.z, z[1] - SAME)) - 1
        x, y = (
            stretch.of(lines, first, last)
            for (lines, stretch), (first, last) in zip(self.stretches(outline), self.ends(outline), strict=True)
        )
        at = [np.searchsorted(own, (new[1:] + new[:-1]) / 2) - 1 for own, new in ((self.x, x), (self.y, y))]
        at = [np.clip(i, 0, n - 1) for i, n in zip(at, self.mu_r.shape, strict=False)]
        mu_r = self.mu_r[np.ix_(*at, np.array([inside]))]
        return TensorGrid(x=x, y=y, z=z, mu_r=mu_r, copies=self.copies, closed=True)

    def ends(self, outline: Sequence[float]) -> tuple[tuple[float, float], tuple[float, float]]:
        """Return where the slab's lines begin and end across and along the legs [m]."""
        left, low, right, high = outline
        return (0.0 * left if self.copies == 4 else left, right), (low, high)

    def stretches(self, outline: tuple[float, float, float, float]) -> list[tuple[Floats, Stretch]]:
        """Return for both directions the lines before the cells that go on for ever, and how a slab takes them."""
        return [
            (lines, Stretch.to(lines, first, last))
            for lines, (first, last) in zip(self.finite(self.x, self.y), self.ends(outline), strict=True)
        ]

    def finite(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Return lines (n, ...) across and along the legs without those beyond which cells go on for ever."""
        below = int(self.open and self.copies == 2)
        return (x[below:-1], y[1:-1]) if self.open else (x, y)

    @property
    def reaches(self) -> list[Integers]:
        """Per axis which of its cells go on for ever, below (-1) or above (1) (nx,), (ny,), (nz,) [-]."""
        found = [np.zeros(n, dtype=np.int64) for n in self.mu_r.shape]
        if self.open:
            for axis, reach in enumerate(found):
                reach[-1] = 1
                if axis == 1 or (axis == 0 and self.copies == 2):
                    reach[0] = -1
        return found


def cells_within(grid: TensorGrid, boxes: Sequence[Box], near: float, far: float) -> NDArray[np.bool_]:
    """Return which cells lie in one of the boxes, between two depths [m] (nx, ny, nz)."""
    x, y, z = ((line[1:] + line[:-1]) / 2 for line in (grid.x, grid.y, grid.z))
    plane = np.zeros((x.size, y.size), dtype=np.bool_)
    for box in boxes:
        plane |= ((x > box.x0) & (x < box.x1))[:, None] & ((y > box.y0) & (y < box.y1))
    return plane[:, :, None] & ((z > near) & (z < far))


def bar_cells(grid: TensorGrid, frame: Frame, bars: Sequence[ShuntBar]) -> NDArray[np.bool_]:
    """Return which cells are shunt bars (nx, ny, nz)."""
    found = np.zeros(grid.mu_r.shape, dtype=np.bool_)
    for bar, x0, x1, _, _ in beside(frame, bars):
        place = Box(name="shunt", part=Part.OTHER_LEG, x0=x0, y0=bar.bottom, x1=x1, y1=bar.top)
        found |= cells_within(grid, (place,), *bar_ends(frame, bar))
    return found


def layer_mu_r(iron_mu_r: float, gap_mu_r: float, share: float) -> float:
    """Return what a layer counts as that is a gap over `share` of its height and iron over the rest, in series [-]."""
    return 1 / ((1 - share) / iron_mu_r + share / gap_mu_r)


def halved(frame: Frame, blocks: Sequence[Block]) -> bool:
    """Return whether left and right are alike, so that a grid holds a quarter."""
    return frame.mirror_symmetric and all(abs(block.leg_axis) < SAME for block in blocks)


def wanted_lines(
    frame: Frame,
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    resolve_gap: bool,
    thinnest: float,
    open_air: float | None,
) -> tuple[Wanted, Wanted, Wanted]:
    """Return what the lines of `end_region_grid` hold along each axis; lengths may carry derivatives."""
    boxes = frame.boxes(thinnest)
    air = air_round(frame, blocks) if open_air is None else open_air * frame.window_height
    half = halved(frame, blocks)
    return (
        across(frame, boxes, blocks, bars, air=air, resolve_gap=resolve_gap, half=half),
        along(frame, boxes, blocks, bars, air=air),
        deep(frame, boxes, blocks, bars, air=air),
    )


def end_region_grid(
    core: Framed,
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    mu_r: float,
    resolution: float,
    resolve_gap: bool = True,
    thinnest: float = 0.0,
    open_air: float | None = None,
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
    open_air
        Where the air has no end: its width round the core over the window's height, before cells go on for ever [-].

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
    half = halved(frame, blocks)
    axes = wanted_lines(frame, blocks, bars, resolve_gap=resolve_gap, thinnest=thinnest, open_air=open_air)
    x, y, z = (axis.lines(resolution) for axis in axes)
    if open_air is not None:
        x, y, z = without_end(x, mirrored=half), without_end(y), without_end(z, mirrored=True)
    cells = np.ones((len(x) - 1, len(y) - 1, len(z) - 1))
    grid = TensorGrid(x=x, y=y, z=z, mu_r=cells, copies=4 if half else 2, open=open_air is not None)
    for box in boxes:
        cells[cells_within(grid, (box,), *frame.nearest_stack)] = layer_mu_r(mu_r, 1.0, box.gap_share)
    for bar in bars:
        cells[bar_cells(grid, frame, (bar,))] = bar.mu_r
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
    edges, near = [Edge(radius, EDGE_SIZE * width)], (0.0, radius + width)
    r = Wanted(fixed=points, turns=(), edges=edges, near=near, width=width).lines(resolution)
    y = along(frame, boxes, blocks, (), air=air_round(frame, blocks)).lines(resolution)
    mid_r, mid_y = (r[1:] + r[:-1]) / 2, (y[1:] + y[:-1]) / 2
    level = (mid_y > -frame.yoke_height) & (mid_y < frame.window_height + frame.yoke_height)
    for box in boxes:
        if box.part in (Part.JOINT, Part.GAP) and box.x0 < 0 < box.x1:
            level &= ~((mid_y > box.y0) & (mid_y < box.y1))
    return r, y, np.where((mid_r < radius)[:, None] & level, mu_r, 1.0)
