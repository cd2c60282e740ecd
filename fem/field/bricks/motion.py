"""How an end-region grid moves with the lengths of what it holds: the derivatives of its lines, its layers' iron.

The grid keeps its cells: how many lie between two edges is taken as given. Each line moves as `lines` lays it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import TensorGrid, cells_within, halved, wanted_lines
from fem.field.bricks.lines import without_end
from geometries.shapes.blocks import Block
from geometries.shapes.dual import gradients, number
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Part

Outline = tuple[float, float, float, float]
"""Left, lower, right and upper edge [m]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Moving:
    """What a grid holds, with derivatives (`Dual`) by some inputs; for slabs the planar section's outline, too."""

    frame: Frame
    blocks: Sequence[Block]
    bars: Sequence[ShuntBar] = ()
    outline: Outline | None = None
    inputs: int


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Layer:
    """A joint or gap: its cells (nx, ny, nz), its part, the share of its height that is gap, and derivatives (n,)."""

    cells: NDArray[np.bool_]
    part: Part
    share: float
    slopes: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Motion:
    """Derivatives of a grid by n inputs: of its lines (lines, n) [-], and of joints and gaps that hold iron as well."""

    x: Floats
    y: Floats
    z: Floats
    layers: tuple[Layer, ...]


def grid_motion(
    grid: TensorGrid,
    moving: Moving,
    *,
    resolution: float,
    thinnest: float,
    resolve_gap: bool = True,
    open_air: float | None = None,
) -> Motion:
    """Return the derivatives of `end_region_grid`.

    Parameters
    ----------
    grid, moving
        As it was laid, and what for.
    resolution, resolve_gap, open_air
        As it was laid.
    thinnest
        As it was laid, with derivatives.
    """
    frame, blocks = moving.frame, moving.blocks
    axes = wanted_lines(frame, blocks, moving.bars, resolve_gap=resolve_gap, thinnest=thinnest, open_air=open_air)
    x, y, z = (axis.slopes(resolution, moving.inputs) for axis in axes)
    if open_air is not None:
        x, y, z = without_end(x, mirrored=halved(frame, blocks)), without_end(y), without_end(z, mirrored=True)
    return Motion(x=x, y=y, z=z, layers=_layers(grid, moving, thinnest))


def slab_motion(
    motion: Motion, grid: TensorGrid, slab: TensorGrid, moving: Moving, *, thinnest: float, outline: Outline
) -> Motion:
    """Return the derivatives of a grid's slab from the grid's, `outline` without and `moving.outline` with theirs."""
    if moving.outline is None:
        msg = "a slab moves with the planar section's outline"
        raise ValueError(msg)
    stretches = [stretch for _, stretch in grid.stretches(outline)]
    x, y = (
        stretch.of(moves, *gradients(ends, moving.inputs))
        for moves, stretch, ends in zip(
            grid.finite(motion.x, motion.y), stretches, grid.ends(moving.outline), strict=True
        )
    )
    z = gradients(moving.frame.nearest_stack, moving.inputs)
    return Motion(x=x, y=y, z=z, layers=_layers(slab, moving, thinnest))


def _layers(grid: TensorGrid, moving: Moving, thinnest: float) -> tuple[Layer, ...]:
    found = []
    for box in moving.frame.boxes(thinnest):
        if box.part in (Part.JOINT, Part.GAP) and box.gap_share != 1.0:
            x0, y0, x1, y1 = (number(side) for side in (box.x0, box.y0, box.x1, box.y1))
            near, far = (number(end) for end in moving.frame.nearest_stack)
            cells = cells_within(grid, [replace(box, x0=x0, y0=y0, x1=x1, y1=y1)], near, far)
            slopes = gradients([box.gap_share], moving.inputs)[0]
            found.append(Layer(cells=cells, part=box.part, share=number(box.gap_share), slopes=slopes))
    return tuple(found)
