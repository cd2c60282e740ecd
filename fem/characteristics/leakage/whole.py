"""Leakage of two windings in three dimensions, bounded from above on two grids.

The permeance is the least int mu |T0 - grad(Omega)|^2 dV at 1 and -1 A turn (`field/bricks/solve.py`): any discrete
Omega bounds it from above, and two grids tell how far the finer one still lies over it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter

from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import TensorGrid, affordable, end_region_grid
from fem.field.bricks.solve import fluxes_per_turn
from geometries.shapes.blocks import Block, winding_names
from geometries.shapes.frame import Framed

COARSE = 0.6
"""Resolution of the second grid relative to the first, for the error estimate."""
THINNEST_GAP = 0.03
"""Joint or gap that leakage still resolves, over window width; a lower one is stretched to it and filled with iron just
good enough to leave its reluctance."""
MOST_UNKNOWNS = 60_000
"""Of the grid: some 3 s and 0.5 GB for its factor. A larger one is laid coarser, and its error estimate tells."""


@dataclass(frozen=True, kw_only=True, slots=True)
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
    """

    permeance: float
    error: float
    fluxes_per_turn: tuple[float, float]
    unknowns: int
    seconds: float


def excess(coarse: float, fine: float) -> float:
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
    bounds = []
    coarser = lay(COARSE * resolution)
    if coarser.nodes == finer.nodes:  # what must have lines leaves no choice: a finer one tells
        coarser, finer = finer, lay(resolution / COARSE)
    for grid in (coarser, finer):
        fluxes, unknowns = fluxes_per_turn(grid, core, blocks, (1.0, -1.0))
        bounds.append(float(fluxes[0] - fluxes[1]))
    return EndRegion(
        permeance=bounds[1],
        error=excess(*bounds),
        fluxes_per_turn=(float(fluxes[0]), float(fluxes[1])),
        unknowns=unknowns,
        seconds=perf_counter() - start,
    )
