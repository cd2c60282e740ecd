"""Leakage of two windings in three dimensions, by a scalar potential on a small graded brick grid.

The windings' ampere-turns are carried by a known field T0; H = T0 - grad(Omega) and div(mu H) = 0 make Omega the
minimiser of the integral of mu |T0 - grad(Omega)|^2. The minimum is the permeance: any discrete Omega bounds it above.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from time import perf_counter

import numpy as np
from numpy.typing import NDArray

from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import TensorGrid, affordable, end_region_grid
from fem.field.bricks.space import brick_space, solve_spd, stiffness_matrix, winding_sources
from geometries.shapes.blocks import Block, blocks_of, winding_names
from geometries.shapes.frame import Framed
from geometries.shapes.section import GRID

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


@dataclass(frozen=True, kw_only=True, slots=True)
class ExcitingPermeance:
    """Inductance per turn squared of one winding alone, from the 3-D field with linear iron.

    Parameters
    ----------
    permeance
        Inductance per turn squared [H]; an upper bound of the idealised problem's value.
    error
        Estimated excess of `permeance` over the idealised problem's value [H].
    unknowns
        Size of the linear system.
    """

    permeance: float
    error: float
    unknowns: int


def check_arrangement(
    core: Framed, blocks: Sequence[Block], shunts: Sequence[ShuntBar], *, mu_r: float, resolution: float
) -> None:
    """Refuse what does not fit the window.

    Parameters
    ----------
    core, blocks, shunts
        The arrangement.
    mu_r
        Relative permeability of the core [-].
    resolution
        Cells per length relative to the default [-].

    Raises
    ------
    ValueError
        If a block or bar does not fit, mu_r is below 1 or resolution not positive.
    """
    frame = core.frame
    height = frame.window_height
    for block in blocks:
        width = frame.room_beside(frame.leg_at(block.leg_axis))
        if block.bottom < -GRID or block.top > height + GRID:
            msg = f"block {block.name!r} from {block.bottom} to {block.top} m leaves the window, 0 to {height} m"
            raise ValueError(msg)
        if min(block.leg_clearance, block.end_clearance) < 0 or block.leg_clearance + block.build > width + GRID:
            msg = (
                f"block {block.name!r} does not fit: clearances {block.leg_clearance} and {block.end_clearance} m, "
                f"build {block.build} m, window {width} m"
            )
            raise ValueError(msg)
    for name in winding_names(blocks):
        blocks_of(blocks, name)
    for bar in shunts:
        if bar.top > height or bar.leg_gap + bar.outer_leg_gap >= frame.window_width:
            msg = (
                f"shunt bar from {bar.bottom} to {bar.top} m with gaps {bar.leg_gap} and {bar.outer_leg_gap} m "
                f"does not fit a window of {frame.window_width} m by {height} m"
            )
            raise ValueError(msg)
    if not (mu_r >= 1 and resolution > 0):
        msg = f"mu_r must be at least 1 and resolution positive, got {mu_r} and {resolution}"
        raise ValueError(msg)


def fluxes_per_turn(
    grid: TensorGrid, core: Framed, blocks: Sequence[Block], ampere_turns: Sequence[float]
) -> tuple[NDArray[np.float64], int]:
    """Solve on a given grid for each winding's mean flux per turn.

    Parameters
    ----------
    grid
        Grid with lines along every block's edges.
    core
        The iron, already in the grid's permeability.
    blocks
        Those of the windings.
    ampere_turns
        Of each winding, in the order in which the blocks name them [A].

    Returns
    -------
    Flux per turn [Wb], shape (windings,), and the number of unknowns.
    """
    space = brick_space(grid)
    sources = winding_sources(space, core, blocks)
    excitation = np.asarray(ampere_turns, dtype=np.float64)
    potential = solve_spd(stiffness_matrix(space), sources.loads @ excitation)
    fluxes = grid.copies * (sources.products @ excitation - sources.loads.T @ potential)
    return fluxes, space.size


def _excess(coarse: float, fine: float) -> float:
    """Return the estimated excess of the finer of two upper bounds.

    At a right-angled iron edge the potential goes as distance^(2/3), so the energy error falls at least with the power
    4/3 of the cell size, faster where grading hides the edge: the finer grid keeps at most 1 / (COARSE^(-4/3) - 1) of
    the difference.
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
    check_arrangement(core, blocks, shunts, mu_r=mu_r, resolution=resolution)
    if len(names := winding_names(blocks)) != 2:
        msg = f"leakage is between two windings, these blocks belong to {names}"
        raise ValueError(msg)
    thinnest = THINNEST_GAP * core.frame.window_width

    def lay(fineness: float) -> TensorGrid:
        return end_region_grid(core, blocks, shunts, mu_r=mu_r, resolution=fineness, thinnest=thinnest)

    finer, resolution = affordable(lay, resolution, MOST_UNKNOWNS)
    bounds = []
    for grid in (lay(COARSE * resolution), finer):
        fluxes, unknowns = fluxes_per_turn(grid, core, blocks, (1.0, -1.0))
        bounds.append(float(fluxes[0] - fluxes[1]))
    return EndRegion(
        permeance=bounds[1],
        error=_excess(*bounds),
        fluxes_per_turn=(float(fluxes[0]), float(fluxes[1])),
        unknowns=unknowns,
        seconds=perf_counter() - start,
    )


def solve_exciting(core: Framed, block: Block, *, mu_r: float = 4000.0, resolution: float = 1.0) -> ExcitingPermeance:
    """Compute the inductance per turn squared of one block alone in three dimensions, with linear iron.

    Parameters
    ----------
    core
        The iron, with its joint gap.
    block
        The energised winding.
    mu_r
        Relative permeability of the core [-], linear and isotropic.
    resolution
        Cells per length relative to the default [-].

    Returns
    -------
    Permeance and its error estimate.

    Raises
    ------
    ValueError
        If the block does not fit the window, or mu_r or resolution is out of range.
    """
    check_arrangement(core, (block,), (), mu_r=mu_r, resolution=resolution)
    bounds = []
    for fineness in (COARSE * resolution, resolution):
        grid = end_region_grid(core, (block,), (), mu_r=mu_r, resolution=fineness)
        fluxes, unknowns = fluxes_per_turn(grid, core, (block,), (1.0,))
        bounds.append(float(fluxes[0]))
    return ExcitingPermeance(permeance=bounds[1], error=_excess(*bounds), unknowns=unknowns)
