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
from geometries.shapes.legs import Box, Part


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Layer:
    """A joint or gap: its cells (nx, ny, nz), its part, the share of its height that is gap, and derivatives (n,)."""

    cells: NDArray[np.bool_]
    part: Part
    share: float
    slopes: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Motion:
    """Derivatives of a grid by n inputs.

    Parameters
    ----------
    x, y, z
        Of its lines (nx + 1, n), (ny + 1, n), (nz + 1, n) [-].
    layers
        Joints and gaps that hold iron as well.
    """

    x: Floats
    y: Floats
    z: Floats
    layers: tuple[Layer, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Moving:
    """What a grid holds, with derivatives (`Dual`).

    Parameters
    ----------
    frame, blocks, bars
        Iron, windings, shunt bars.
    outline
        Of the planar section, for slabs [m].
    inputs
        By how many inputs there are derivatives.
    """

    frame: Frame
    blocks: Sequence[Block]
    bars: Sequence[ShuntBar] = ()
    outline: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    inputs: int


def grid_motion(
    grid: TensorGrid,
    moving: Moving,
    *,
    resolution: float,
    resolve_gap: bool = True,
    thinnest: float = 0.0,
    open_air: float | None = None,
) -> Motion:
    """Return the derivatives of `end_region_grid`.

    Parameters
    ----------
    grid
        As it was laid.
    moving
        What it was laid for.
    resolution, resolve_gap, open_air
        As it was laid.
    thinnest
        As it was laid, with derivatives.
    """
    frame, blocks, inputs = moving.frame, moving.blocks, moving.inputs
    axes = wanted_lines(frame, blocks, moving.bars, resolve_gap=resolve_gap, thinnest=thinnest, open_air=open_air)
    x, y, z = (axis.slopes(resolution, inputs) for axis in axes)
    if open_air is not None:
        half = halved(frame, blocks)
        x, y, z = without_end(x, mirrored=half), without_end(y), without_end(z, mirrored=True)
    return Motion(x=x, y=y, z=z, layers=_layers(grid, frame, thinnest, inputs))


def slab_motion(
    motion: Motion,
    grid: TensorGrid,
    slab: TensorGrid,
    moving: Moving,
    *,
    thinnest: float,
    outline: tuple[float, float, float, float],
) -> Motion:
    """Return the derivatives of a grid's slab.

    Parameters
    ----------
    motion, grid, slab
        Of the grid; the grid; its slab.
    moving, thinnest
        What the grid was laid for, and as it was laid, with derivatives.
    outline
        Of the planar section, without.
    """
    frame, inputs = moving.frame, moving.inputs
    ends = [gradients(pair, inputs) for pair in grid.ends(moving.outline)]
    stretches = [stretch for _, stretch in grid.stretches(outline)]
    x, y = (
        stretch.of(moves, first, last)
        for moves, stretch, (first, last) in zip(grid.finite(motion.x, motion.y), stretches, ends, strict=True)
    )
    z = gradients(frame.nearest_stack, inputs)
    return Motion(x=x, y=y, z=z, layers=_layers(slab, frame, thinnest, inputs))


def _layers(grid: TensorGrid, frame: Frame, thinnest: float, inputs: int) -> tuple[Layer, ...]:
    near, far = (number(end) for end in frame.nearest_stack)
    return tuple(
        Layer(
            cells=cells_within(grid, [_still(box)], near, far),
            part=box.part,
            share=number(box.gap_share),
            slopes=gradients([box.gap_share], inputs)[0],
        )
        for box in frame.boxes(thinnest)
        if box.part in (Part.JOINT, Part.GAP) and box.gap_share != 1.0
    )


def _still(box: Box) -> Box:
    x0, y0, x1, y1 = (number(side) for side in (box.x0, box.y0, box.x1, box.y1))
    return replace(box, x0=x0, y0=y0, x1=x1, y1=y1)
