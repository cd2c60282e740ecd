"""Graded tensor grid of the end-region model: lines through every edge of iron and winding, fine at iron edges."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fem.characteristics.end_region_shape import CoreShape, ShuntBar
from geometries.blocks import Block

MARGIN = 3.0
"""Air round the core as a multiple of the window height; a dipole's energy outside falls with its third power."""
EDGE_SIZE, GROWTH, LARGEST = 0.12, 0.8, 0.5
"""Cell size at an iron edge over window width, its growth with distance, the largest by the windows over that width."""
SAME = 1e-9
"""Lines closer than this [m] are one."""


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

    def slab(self, stack_depth: float) -> "TensorGrid":
        """Return one layer of cells in the stack between two mirror planes: the planar field times the depth.

        Parameters
        ----------
        stack_depth
            Depth of the stack [m].

        Returns
        -------
        The grid of the layer, from mid-stack to the stack's face, with these lines across and along the legs.
        """
        z = np.array([0.0, stack_depth / 2])
        return TensorGrid(x=self.x, y=self.y, z=z, mu_r=self.mu_r[:, :, :1], copies=self.copies, closed=True)


@dataclass(frozen=True, slots=True)
class _Edge:
    at: float
    size: float


def _graded(
    points: Sequence[float], edges: Sequence[_Edge], near: tuple[float, float], width: float, resolution: float
) -> NDArray[np.float64]:
    """Return lines through `points`, as fine as asked at each edge, coarsening away from it and outside `near`."""
    breaks = np.unique(np.round(np.asarray(points) / SAME).astype(np.int64)) * SAME
    lines = [breaks[:1]]
    for start, stop in pairwise(breaks):
        at = np.linspace(start, stop, 201)
        outside = np.maximum(np.maximum(near[0] - at, at - near[1]), 0.0)
        size = np.min(
            [LARGEST * width + outside, *(edge.size + GROWTH * np.abs(at - edge.at) for edge in edges)], axis=0
        )
        density = 1 / size
        count = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2 * (at[1] - at[0]))))
        # Rounding up from 0.3 only saves a quarter of the unknowns.
        number = max(1, int(np.ceil(resolution * count[-1] - 0.3)))
        lines.append(np.interp(np.arange(1, number + 1) / number * count[-1], count, at))
    return np.concatenate(lines)


def _across(
    core: CoreShape,
    outer: float,
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    resolution: float,
    *,
    resolve_gap: bool,
) -> NDArray[np.float64]:
    """Return the lines across the legs, from the centre leg's axis past the outer leg `outer` wide."""
    leg, wall = core.leg_width / 2, core.leg_width / 2 + core.window_width
    points = [0.0, leg, wall, wall + outer, wall + outer + MARGIN * core.window_height]
    fine = EDGE_SIZE * core.window_width
    if core.joint_gap and resolve_gap:
        fine = min(fine, core.joint_gap)
    edges = [_Edge(leg, fine), _Edge(wall, fine)]
    if core.joint_gap:
        # The whole drop across the gap stands at the outer face too; without a gap that face hardly matters.
        edges.append(_Edge(wall + outer, fine))
    for block in blocks:
        inner = leg + block.leg_clearance
        points += [inner, inner + block.build]
    for bar in bars:
        for wall_at, tip in ((leg, leg + bar.leg_gap), (wall, wall - bar.outer_leg_gap)):
            points.append(tip)
            size = min(fine, 0.5 * abs(tip - wall_at)) or fine
            edges += [_Edge(tip, size), _Edge(wall_at, size)]
    return _graded(points, edges, (0.0, wall), core.window_width, resolution)


def _along(
    core: CoreShape, blocks: Sequence[Block], bars: Sequence[ShuntBar], resolution: float
) -> NDArray[np.float64]:
    """Return the lines along the legs, from below the lower yoke to above the upper one."""
    height, yoke = core.window_height, core.yoke_height
    margin = MARGIN * height
    points = [-yoke - margin, -yoke, 0.0, height, height + yoke, height + yoke + margin]
    fine = EDGE_SIZE * core.window_width
    edges = [_Edge(0.0, fine), _Edge(height, fine)]
    if core.joint_gap:
        points.append(height - core.joint_gap)
        edges += [_Edge(at, min(fine, core.joint_gap)) for at in (height - core.joint_gap, height)]
    for block in blocks:
        points += [block.bottom, block.top]
    for bar in bars:
        gaps = [gap for gap in (bar.leg_gap, bar.outer_leg_gap) if gap]
        points += [bar.bottom, bar.top]
        edges += [_Edge(at, min(fine, *gaps) if gaps else fine) for at in (bar.bottom, bar.top)]
    return _graded(points, edges, (0.0, height), core.window_width, resolution)


def _deep(core: CoreShape, blocks: Sequence[Block], bars: Sequence[ShuntBar], resolution: float) -> NDArray[np.float64]:
    """Return the lines in the stack direction, from mid-stack outwards."""
    face = core.stack_depth / 2
    points = [0.0, face, face + MARGIN * core.window_height, *(bar.depth / 2 for bar in bars)]
    fine = EDGE_SIZE * core.window_width
    if core.joint_gap:
        fine = min(fine, core.joint_gap)
    edges = [_Edge(face, fine)]
    for block in blocks:
        inner = face + block.end_clearance
        points += [inner, inner + block.build]
    return _graded(points, edges, (0.0, face + core.window_width), core.window_width, resolution)


def end_region_grid(
    core: CoreShape,
    blocks: Sequence[Block],
    bars: Sequence[ShuntBar],
    *,
    mu_r: float,
    resolution: float,
    resolve_gap: bool = True,
) -> TensorGrid:
    """Lay the grid: a quarter of the arrangement, or the front half where the outer legs differ.

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
        Whether to grade across the legs down to the joint gap. What its fringe adds in the lamination plane drops out
        of the difference with the slab, which therefore does without at half the unknowns.

    Returns
    -------
    The grid with its cells' permeability.
    """
    right = _across(core, core.outer_leg_widths[1], blocks, bars, resolution, resolve_gap=resolve_gap)
    x = right
    if not core.mirror_symmetric:
        left = _across(core, core.outer_leg_widths[0], blocks, bars, resolution, resolve_gap=resolve_gap)
        x = np.concatenate((-left[:0:-1], right))
    y, z = _along(core, blocks, bars, resolution), _deep(core, blocks, bars, resolution)
    mid_x, mid_y, mid_z = ((line[1:] + line[:-1]) / 2 for line in (x, y, z))

    leg, wall = core.leg_width / 2, core.leg_width / 2 + core.window_width
    across = np.abs(mid_x)
    outer = np.where(mid_x < 0, *(wall + width for width in core.outer_leg_widths))
    in_window = (across > leg) & (across < wall)
    iron = (across < outer)[:, None] & ((mid_y > -core.yoke_height) & (mid_y < core.window_height + core.yoke_height))
    iron &= ~(in_window[:, None] & ((mid_y > 0) & (mid_y < core.window_height)))
    iron &= ~((mid_y > core.window_height - core.joint_gap) & (mid_y < core.window_height))
    cells = np.where(iron[:, :, None] & (mid_z < core.stack_depth / 2), mu_r, 1.0)
    for bar in bars:
        plane = ((across > leg + bar.leg_gap) & (across < wall - bar.outer_leg_gap))[:, None]
        plane = plane & ((mid_y > bar.bottom) & (mid_y < bar.top))
        cells = np.where(plane[:, :, None] & (mid_z < bar.depth / 2), bar.mu_r, cells)
    return TensorGrid(x=x, y=y, z=z, mu_r=cells, copies=4 if core.mirror_symmetric else 2)


def axisymmetric_grid(
    core: CoreShape, radius: float, blocks: Sequence[Block], *, mu_r: float, resolution: float
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
    fine = EDGE_SIZE * core.window_width
    points = [0.0, radius, radius + core.window_width + MARGIN * core.window_height]
    for block in blocks:
        inner = radius + block.end_clearance
        points += [inner, inner + block.build]
    r = _graded(points, [_Edge(radius, fine)], (0.0, radius + core.window_width), core.window_width, resolution)
    y = _along(core, blocks, (), resolution)
    mid_r, mid_y = (r[1:] + r[:-1]) / 2, (y[1:] + y[:-1]) / 2
    iron = (mid_r < radius)[:, None] & ((mid_y > -core.yoke_height) & (mid_y < core.window_height + core.yoke_height))
    iron &= ~((mid_y > core.window_height - core.joint_gap) & (mid_y < core.window_height))
    return r, y, np.where(iron, mu_r, 1.0)
