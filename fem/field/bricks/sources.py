"""What the windings drive: their fields T0, tested with the unknowns and with each other: L and Q of `solve`.

In a block T0 is (share of the turns that encircle (x, z)) / height along y, so that on a cell within it

    int mu T0 . grad(N) dV = mu / height * (N at the cell's upper face - N at its lower), integrated with the share
                             over x and z,

and Q needs the integral of the product of two shares over x and z.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.field.bricks.racetrack import encircling_share
from fem.field.bricks.reference import FUNCTIONS, GAUSS, GAUSS_WEIGHTS, quadratic
from fem.field.bricks.space import BrickSpace
from geometries.shapes.blocks import Block, winding_names
from geometries.shapes.frame import Framed

PARTS = 6
"""Each cell is cut this often in x and z to integrate the racetrack's rounded corners."""
POINTS: Final = ((np.arange(PARTS)[:, None] + GAUSS) / PARTS).ravel()
WEIGHTS: Final = np.tile(GAUSS_WEIGHTS, PARTS) / PARTS
_LATTICE: Final = FUNCTIONS.reshape(3, 3, 3, 20)
ACROSS: Final = (_LATTICE[:, 2] - _LATTICE[:, 0]).reshape(9, 20)
"""What of the functions is left at a cell's upper face less its lower, in the 9 products along x and z."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sources:
    """The windings' fields tested with the unknowns and with each other.

    Parameters
    ----------
    loads
        Integral of mu T0 . grad(v) per ampere-turn [H], (size, windings).
    products
        Integral of mu T0 . T0 [H], (windings, windings).
    """

    loads: Floats
    products: Floats


def winding_sources(space: BrickSpace, core: Framed, blocks: Sequence[Block]) -> Sources:
    """Integrate the windings' T0: per block a product of a plateau in (x, z) and a constant over the block's height.

    Parameters
    ----------
    space
        The numbered unknowns; the blocks' lower and upper faces are grid lines.
    core
        The legs they surround.
    blocks
        The windings; of a winding's ampere-turns each of its blocks carries its share, and on a leg of the other
        direction they run the other way round.

    Returns
    -------
    Loads and products by winding, in the order of the blocks.
    """
    grid, frame = space.grid, core.frame
    dx, dy, dz = np.diff(grid.x), np.diff(grid.y), np.diff(grid.z)
    points, weights = POINTS, WEIGHTS
    shapes = quadratic(points) * weights
    x = (grid.x[:-1, None] + dx[:, None] * points).ravel()
    z = (grid.z[:-1, None] + dz[:, None] * points).ravel()
    mid_y = (grid.y[1:] + grid.y[:-1]) / 2
    mu = MU0 * grid.mu_r
    shares, inside, loads = [], [], []
    for block in blocks:
        leg = frame.leg_at(block.leg_axis)
        share = encircling_share(block, *frame.surrounded(block), x[:, None] - leg.axis, z - frame.turn_centre(block))
        share = block.share * leg.direction * share
        share = share.reshape(len(dx), len(points), len(dz), len(points))
        moments = (shapes @ share.reshape(len(dx), len(points), -1)).reshape(len(dx), 3, len(dz), -1) @ shapes.T
        moments *= dx[:, None, None, None] * dz[:, None]
        # Along y only the difference of a shape function across the cell enters.
        layer = ((mid_y > block.bottom) & (mid_y < block.top)) / block.height
        by_function = moments.transpose(0, 2, 1, 3).reshape(len(dx), 1, len(dz), 9) @ ACROSS
        inner = np.flatnonzero(layer)
        cell_loads = (mu * layer[:, None])[:, inner, :, None] * by_function
        dofs = space.dofs.reshape(*mu.shape, 20)[:, inner]
        known = dofs >= 0
        loads.append(np.bincount(dofs[known], cell_loads[known], minlength=space.size))
        shares.append(share)
        inside.append(layer)
    products = np.zeros((len(blocks), len(blocks)))
    for i, j in zip(*np.triu_indices(len(blocks)), strict=True):
        level = inside[i] * inside[j] * dy
        if level.any():  # fields of blocks at different heights do not meet
            overlap = np.einsum("xpzq,xpzq,p,q,x,z->xz", shares[i], shares[j], weights, weights, dx, dz, optimize=True)
            products[i, j] = products[j, i] = np.einsum("xyz,xz,y->", mu, overlap, level, optimize=True)
    names = winding_names(blocks)
    member = np.array([[float(block.winding == name) for name in names] for block in blocks])
    return Sources(loads=np.stack(loads, axis=1) @ member, products=member.T @ products @ member)
