"""The unknowns of a brick grid and the stiffness of its cells: V and K of `solve`."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.ordering import dissection
from fem.field.bricks.reference import NODES, stiffness_tensors

if TYPE_CHECKING:
    from scipy import sparse


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
    continued by zero, admissible in unbounded space: the energy stays an upper bound whatever the margin. Of an open
    grid the outer boundary is infinity. A slab has no outer boundary, so one corner holds the potential.

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
    free = (index % 2).sum(axis=1) <= 1
    if grid.closed:
        # Nothing depends on z, so the layer's upper corners and edges share the unknowns of its lower ones.
        free &= (index[:, 2] == 0) & (index != last * [1, 1, 0]).any(axis=1)
    else:
        free &= (index < last).all(axis=1) & (index[:, 1] > 0)
        if grid.copies == 2:
            free &= index[:, 0] > 0
    members = np.flatnonzero(free)
    number = np.full(len(index), -1, dtype=np.int64)
    number[members[dissection(index[members])]] = np.arange(len(members))
    first = 2 * np.stack(np.meshgrid(*[np.arange(n) for n in cells], indexing="ij"), axis=-1).reshape(-1, 1, 3)
    place = (first + NODES) * ([1, 1, 0] if grid.closed else 1)
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
    # Of a grid in which one part alone is filled only that part's cells add anything.
    filled = space.grid.mu_r.ravel() > 0
    return lower_triangle(space, space.dofs[filled], cell_stiffness(space, filled))


LOWER: Final = np.tril_indices(20)
"""Rows and columns of a cell's lower triangle (210,), (210,)."""


def cell_stiffness(space: BrickSpace, chosen: NDArray[np.bool_]) -> Floats:
    """Return the lower triangles of the chosen cells' own matrices (n, 210) [H]."""
    grid = space.grid
    dx, dy, dz = np.diff(grid.x)[:, None, None], np.diff(grid.y)[:, None], np.diff(grid.z)
    scale = np.stack([dy * dz / dx, dx * dz / dy, dx * dy / dz], axis=-1) * (MU0 * grid.mu_r)[..., None]
    reach = np.stack(np.meshgrid(*grid.reaches, indexing="ij"), axis=-1).reshape(-1, 3)[chosen]
    scale = scale.reshape(-1, 3)[chosen]
    kinds, kind = np.unique(reach, axis=0, return_inverse=True)
    values = np.empty((len(scale), len(LOWER[0])))
    for k, (i, j, m) in enumerate(kinds.tolist()):
        values[kind.ravel() == k] = scale[kind.ravel() == k] @ stiffness_tensors((i, j, m))[:, *LOWER]
    return values


def lower_triangle(space: BrickSpace, dofs: Integers, values: Floats) -> sparse.csc_matrix:
    """Add up cells' lower triangles (n, 210), of cells with these unknowns (n, 20), to a lower triangle."""
    from scipy.sparse import csc_matrix

    dofs = dofs.astype(np.int32)  # as scipy has them in the end
    one, other = dofs[:, LOWER[0]], dofs[:, LOWER[1]]
    if space.grid.closed:
        # Two nodes of one unknown meet twice off the cell's diagonal.
        values = values * (1 + ((one == other) & (LOWER[0] != LOWER[1])))
    columns = np.minimum(one, other)
    known = columns >= 0
    places = (np.maximum(one, other)[known], columns[known])
    return csc_matrix((values[known], places), shape=(space.size, space.size))


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
