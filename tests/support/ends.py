"""Permeances of one energised winding in three dimensions: by the reduced problem, and on a grid of its own."""

from fem.characteristics.leakage.whole import COARSE, excess
from fem.characteristics.magnetising.ends import ExcitingEnd, IronMu
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.solve import fluxes_per_turn
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed


def planar_and_end(end: ExcitingEnd, mu: IronMu) -> tuple[float, float]:
    """Return the reduced problem's planar permeance times the stack's depth, and what three dimensions add [H]."""
    weights = end.layers.weights(mu)[None]
    planar = float(end.slab.permeances(weights)[0, 0])
    return planar, float(end.whole.permeances(weights)[0, 0]) - planar


def exciting(core: Framed, block: Block, *, mu_r: float = 4000.0, resolution: float = 1.0) -> tuple[float, float]:
    """Return the permeance of one block alone with linear iron, an upper bound, and its estimated excess [H]."""
    bounds = []
    for fineness in (COARSE * resolution, resolution):
        grid = end_region_grid(core, (block,), (), mu_r=mu_r, resolution=fineness)
        bounds.append(float(fluxes_per_turn(grid, core, (block,), (1.0,))[0][0]))
    return bounds[1], excess(*bounds)
