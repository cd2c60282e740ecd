"""The unknowns of a brick grid and the stiffness of its cells: V and K of `solve`."""

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.ordering import dissection
from fem.field.bricks.reference import NODES, STIFFNESS


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class BrickSpace:
    """Numbered unknowns of a grid.

    Parameters
    ----------
    grid
        The grid.
    dofs
        Number of each cell's 20 unknowns (cells, 20); -1 where the potential is fixed to zero.
    size
        Number of unknowns.
    """

    grid: TensorGrid
    dofs: Integers
    size: int


def brick_space(grid: TensorGrid) -> BrickSpace:
    """Number the unknowns; the potential is zero on the outer air boundary and free on the mirror planes.

    The windings' T0 lies in the mirror planes and is even across them, so the potential is even too and its normal
    derivative vanishes there: the natural condition. On the outer boundary the fixed zero makes every discrete field,
    continued by zero, admissible in unbounded space: the energy stays an upper bound whatever the margin.

    Parameters
    ----------
    grid
        The grid; its first z line, and its first x line where it has four copies, are mirror planes.

    Returns
    -------
    The numbering.
    """
    cells = grid.mu_r.shape
    counts = tuple(2 * n + 1 for n in cells)
    index = np.stack(np.meshgrid(*[np.arange(n) for n in counts], indexing="ij"), axis=-1).reshape(-1, 3)
    last = np.array(counts) - 1
    if grid.closed:
        last[2] += 1
    free = ((index % 2).sum(axis=1) <= 1) & (index < last).all(axis=1) & (index[:, 1] > 0)
    if grid.copies == 2:
        free &= index[:, 0] > 0
    members = np.flatnonzero(free)
    number = np.full(len(index), -1, dtype=np.int64)
    number[members[dissection(index[members])]] = np.arange(len(members))
    first = 2 * np.stack(np.meshgrid(*[np.arange(n) for n in cells], indexing="ij"), axis=-1).reshape(-1, 1, 3)
    place = first + NODES
    flat = (place[..., 0] * counts[1] + place[..., 1]) * counts[2] + place[..., 2]
    return BrickSpace(grid=grid, dofs=number[flat], size=len(members))


def stiffness_matrix(space: BrickSpace) -> sparse.csc_matrix:
    """Assemble the lower triangle of K, the integrals of mu grad(N_i) . grad(N_k) [H].

    Parameters
    ----------
    space
        The numbered unknowns.

    Returns
    -------
    Lower triangle (size, size).
    """
    grid = space.grid
    dx, dy, dz = np.diff(grid.x)[:, None, None], np.diff(grid.y)[:, None], np.diff(grid.z)
    scale = np.stack([dy * dz / dx, dx * dz / dy, dx * dy / dz], axis=-1) * (MU0 * grid.mu_r)[..., None]
    row, column = np.tril_indices(20)
    # Of a grid in which one part alone is filled only that part's cells add anything.
    filled = grid.mu_r.ravel() > 0
    values = scale.reshape(-1, 3)[filled] @ STIFFNESS[:, row, column]
    dofs = space.dofs[filled]
    one, other = dofs[:, row], dofs[:, column]
    both = (one >= 0) & (other >= 0)
    places = (np.maximum(one, other)[both], np.minimum(one, other)[both])
    return sparse.csc_matrix((values[both], places), shape=(space.size, space.size))


def symmetric(lower: sparse.csc_matrix, vectors: Floats) -> Floats:
    """Return the product of a symmetric matrix, given by its lower triangle, with vectors.

    Parameters
    ----------
    lower
        Lower triangle.
    vectors
        (size,) or (size, columns).

    Returns
    -------
    Product, shaped as `vectors`.
    """
    diagonal = lower.diagonal()
    product: Floats = lower @ vectors + lower.T @ vectors
    return product - (diagonal[:, None] if vectors.ndim > 1 else diagonal) * vectors
