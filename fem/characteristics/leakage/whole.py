"""Leakage of two windings in three dimensions, bounded from above on two grids.

The permeance is the least int mu |T0 - grad(Omega)|^2 dV at 1 and -1 A turn (`field/bricks/solve.py`): any discrete
Omega bounds it from above, and two grids tell how far the finer one still lies over it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter

import numpy as np

from fem.arrays import Floats, Real
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import TensorGrid, affordable, end_region_grid
from fem.field.bricks.motion import Moving, grid_motion
from fem.field.bricks.slopes import energy_slopes
from fem.field.bricks.solve import linear_field
from geometries.shapes.blocks import Block, winding_names
from geometries.shapes.frame import Framed

COARSE = 0.6
"""Resolution of the second grid relative to the first, for the error estimate."""
THINNEST_GAP = 0.03
"""Joint or gap that leakage still resolves, over window width; a lower one is stretched to it and filled with iron just
good enough to leave its reluctance."""
MOST_UNKNOWNS = 60_000
"""Of the grid: some 3 s and 0.5 GB for its factor. A larger one is laid coarser, and its error estimate tells."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class EndRegion:
    """Leakage of two windings with equal and opposite ampere-turns, from the 3-D field.

    Parameters
    ----------
    permeance
        Leakage inductance per turn squared, windings only [H]; an upper bound of the idealised problem's value.
    error
        Estimated excess of `permeance` over the idealised problem's value [H].
    fluxes_per_turn
        Mean flux linked by a turn of the first and of the second winding at +1 A turn in the first and -1 in the second
        [Wb]; `permeance` is the first minus the second.
    unknowns
        Size of the linear system.
    seconds
        Wall time of the solve with its error estimate [s].
    slopes, slope_errors
        Derivatives of `permeance` by the inputs of what moves, and their estimated errors (n,) [H/m]; without, none.
    """

    permeance: float
    error: float
    fluxes_per_turn: tuple[float, float]
    unknowns: int
    seconds: float
    slopes: Floats
    slope_errors: Floats


def excess(coarse: Real, fine: Real) -> Real:
    """Return the estimated excess of the finer of two upper bounds.

    At a right-angled iron edge the potential goes as distance^(2/3), so the energy error falls at least with the power
    4/3 of the cell size h, faster where grading hides the edge. With P(h) = P + c h^(4/3) on both grids the finer one
    keeps 1 / (COARSE^(-4/3) - 1) of their difference.
    """
    return abs(coarse - fine) / float(COARSE ** (-4 / 3) - 1)


def solve_end_region(
    core: Framed,
    blocks: Sequence[Block],
    *,
    mu_r: float = 4000.0,
    shunts: tuple[ShuntBar, ...] = (),
    resolution: float = 1.0,
    moving: Moving | None = None,
) -> EndRegion:
    """Compute the leakage permeance of two windings in three dimensions.

    Parameters
    ----------
    core
        The iron; leakage hardly crosses its joints, so its frame may be taken closed.
    blocks
        Those of two windings; the first named carries +1 A turn, the second -1.
    mu_r
        Relative permeability of the core [-], linear and isotropic.
    shunts
        Shunt bars, the same in each window beside the primary's leg.
    resolution
        Cells per length relative to the default [-]; work grows with about its sixth power, up to `MOST_UNKNOWNS`.
    moving
        Core (its frame), blocks and shunts with derivatives, where those of the permeance are wanted.

    Returns
    -------
    Permeance, its error estimate and the split between the windings.

    Raises
    ------
    ValueError
        If a block or bar does not fit the window, there are not just two windings, or mu_r or resolution is out of
        range.
    """
    start = perf_counter()
    if len(names := winding_names(blocks)) != 2:
        msg = f"leakage is between two windings, these blocks belong to {names}"
        raise ValueError(msg)
    thinnest = THINNEST_GAP * core.frame.window_width

    def lay(fineness: float) -> TensorGrid:
        return end_region_grid(core, blocks, shunts, mu_r=mu_r, resolution=fineness, thinnest=thinnest)

    finer, resolution = affordable(lay, resolution, MOST_UNKNOWNS)
    bounds, slopes = [], []
    fine, coarse = resolution, COARSE * resolution
    coarser = lay(coarse)
    if coarser.nodes == finer.nodes:  # what must have lines leaves no choice: a finer one tells
        coarse, fine = fine, resolution / COARSE
        coarser, finer = finer, lay(fine)
    for grid, fineness in ((coarser, coarse), (finer, fine)):
        field = linear_field(grid, core, blocks, (1.0, -1.0))
        bounds.append(float(field.fluxes[0] - field.fluxes[1]))
        slopes.append(np.zeros(0))
        if moving is not None:
            motion = grid_motion(grid, moving, resolution=fineness, thinnest=THINNEST_GAP * moving.frame.window_width)
            slopes[-1] = energy_slopes(field, motion, moving)
    return EndRegion(
        permeance=bounds[1],
        error=excess(*bounds),
        fluxes_per_turn=(float(field.fluxes[0]), float(field.fluxes[1])),
        unknowns=field.space.size,
        seconds=perf_counter() - start,
        slopes=slopes[1],
        slope_errors=excess(*slopes),
    )
