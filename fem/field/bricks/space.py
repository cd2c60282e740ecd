"""Quadratic bricks on a tensor grid: reference tensors, numbering, stiffness and the windings' right-hand sides."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from cvxopt import cholmod, matrix, spmatrix
from numpy.typing import NDArray
from scipy import sparse

from fem.arrays import Floats
from fem.constants import MU0
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.racetrack import encircling_share
from geometries.shapes.blocks import Block, winding_names
from geometries.shapes.frame import Framed

Ints = NDArray[np.int64]

LEAF = 60
"""Nested dissection stops at pieces of this many unknowns; CHOLMOD's supernodes do the rest."""
PARTS = 6
"""Each cell is cut this often in x and z to integrate the racetrack's rounded corners."""

_abscissae, _weights = np.polynomial.legendre.leggauss(3)
GAUSS, GAUSS_WEIGHTS = (_abscissae + 1) / 2, _weights / 2


def _quadratic(t: Floats) -> Floats:
    """Return the three quadratic shape functions on [0, 1], shape (3, points)."""
    return np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)])


def _reference() -> tuple[Ints, Floats, Floats]:
    """Return positions (20, 3) of the serendipity nodes, their 20 functions in the 27 products, and the stiffness.

    The stiffness has shape (3, 20, 20): one matrix per derivative direction on the unit cube. The 20-node brick keeps
    the full quadratic polynomials with half the unknowns of the 27-node one.
    """
    slope = np.stack([4 * GAUSS - 3, 4 - 8 * GAUSS, 4 * GAUSS - 1])
    values = _quadratic(GAUSS)
    mass, stiffness = (values * GAUSS_WEIGHTS) @ values.T, (slope * GAUSS_WEIGHTS) @ slope.T
    lattice = np.stack(np.meshgrid(*[np.arange(3)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    nodes = lattice[(lattice == 1).sum(axis=1) <= 1]
    at = (lattice - 1).astype(np.float64)
    functions = np.empty((27, 20))
    for column, corner in enumerate(nodes - 1):
        product = np.where(corner == 0, 1 - at**2, 1 + corner * at).prod(axis=1)
        functions[:, column] = product / 4 if (corner == 0).any() else product * (at @ corner - 2) / 8
    tensors = []
    for direction in range(3):
        factors = [stiffness if axis == direction else mass for axis in range(3)]
        full = np.einsum("il,jm,kn->ijklmn", *factors).reshape(27, 27)
        tensors.append(functions.T @ full @ functions)
    return nodes, functions, np.stack(tensors)


NODES, FUNCTIONS, STIFFNESS = _reference()


def dissection(lattice: Ints) -> Ints:
    """Return an elimination order of lattice points by nested dissection.

    Cutting along planes of cell faces (even lattice numbers) separates the halves, whose factors then do not fill each
    other: on a 3-D grid several times less work than a minimum-degree order.

    Parameters
    ----------
    lattice
        Lattice numbers of the unknowns, shape (unknowns, dimensions); cells lie between even numbers.

    Returns
    -------
    Positions in `lattice` in the order of elimination.
    """

    def cut(members: Ints) -> list[Ints]:
        places = lattice[members]
        low, high = places.min(axis=0), places.max(axis=0)
        axis = int(np.argmax(high - low))
        if len(members) <= LEAF or high[axis] - low[axis] < 3:
            return [members]
        middle = int(low[axis] + high[axis]) // 2
        middle += middle % 2
        if middle >= high[axis]:
            middle -= 2
        side = places[:, axis]
        below, above = members[side < middle], members[side > middle]
        return [*cut(below), *cut(above), members[side == middle]]

    return np.concatenate(cut(np.arange(len(lattice))))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class BrickSpace:
    """Numbered unknowns of a grid.

    Parameters
    ----------
    grid
        The grid.
    dofs
        Number of each cell's 20 unknowns, shape (cells, 20); -1 where the potential is fixed to zero.
    size
        Number of unknowns.
    """

    grid: TensorGrid
    dofs: Ints
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
    """Assemble the lower triangle of the integral of mu grad(u) . grad(v) [H].

    Parameters
    ----------
    space
        The numbered unknowns.

    Returns
    -------
    Lower triangle, shape (size, size).
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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Sources:
    """The windings' fields tested with the unknowns and with each other.

    Parameters
    ----------
    loads
        Integral of mu T0 . grad(v) per ampere-turn [H], shape (size, windings).
    products
        Integral of mu T0 . T0 [H], shape (windings, windings).
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
    points = ((np.arange(PARTS)[:, None] + GAUSS) / PARTS).ravel()
    weights = np.tile(GAUSS_WEIGHTS, PARTS) / PARTS
    shapes = _quadratic(points) * weights
    x = (grid.x[:-1, None] + dx[:, None] * points).ravel()
    z = (grid.z[:-1, None] + dz[:, None] * points).ravel()
    mid_y = (grid.y[1:] + grid.y[:-1]) / 2
    mu = MU0 * grid.mu_r
    free = space.dofs >= 0
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
        weighted = mu * layer[:, None]
        full = np.einsum("xyz,xizk,j->xyzijk", weighted, moments, np.array([-1.0, 0.0, 1.0]), optimize=True)
        cell_loads = full.reshape(-1, 27) @ FUNCTIONS
        loads.append(np.bincount(space.dofs[free], cell_loads[free], minlength=space.size))
        shares.append(share)
        inside.append(layer)
    products = np.empty((len(blocks), len(blocks)))
    for i, j in np.ndindex(products.shape):
        overlap = np.einsum("xpzq,xpzq,p,q,x,z->xz", shares[i], shares[j], weights, weights, dx, dz, optimize=True)
        products[i, j] = np.einsum("xyz,xz,y->", mu, overlap, inside[i] * inside[j] * dy, optimize=True)
    names = winding_names(blocks)
    member = np.array([[float(block.winding == name) for name in names] for block in blocks])
    return Sources(loads=np.stack(loads, axis=1) @ member, products=member.T @ products @ member)


def symmetric(lower: sparse.csc_matrix, vectors: Floats) -> Floats:
    """Return the product of a symmetric matrix, given by its lower triangle, with vectors.

    Parameters
    ----------
    lower
        Lower triangle.
    vectors
        Shape (size,) or (size, columns).

    Returns
    -------
    Product, shaped as `vectors`.
    """
    diagonal = lower.diagonal()
    product: Floats = lower @ vectors + lower.T @ vectors
    return product - (diagonal[:, None] if vectors.ndim > 1 else diagonal) * vectors


class SpdFamily:
    """Symmetric positive definite matrices of one pattern, given by their lower triangles in elimination order.

    The pattern is analysed once. Each `solve` overwrites the factor of the one before.
    """

    def __init__(self, lower: sparse.csc_matrix) -> None:
        """Analyse the pattern of a lower triangle."""
        size = lower.shape[0]
        columns = np.repeat(np.arange(size), np.diff(lower.indptr))
        rows = matrix(lower.indices.astype(np.int64))
        self._system = spmatrix(matrix(lower.data), rows, matrix(columns), (size, size))
        self._factor = cholmod.symbolic(self._system, p=matrix(np.arange(size)))
        self._indptr, self._indices = lower.indptr, lower.indices

    def solve(self, lower: sparse.csc_matrix, right: Floats) -> Floats:
        """Factorise a matrix of the pattern and solve.

        Parameters
        ----------
        lower
            Lower triangle.
        right
            Right-hand side, shape (size,).

        Returns
        -------
        Solution, shape (size,).

        Raises
        ------
        ArithmeticError
            If the pattern differs, the matrix is not positive definite or the residual is not small.
        """
        # A changed pattern would be factorised wrongly without a word.
        if not (np.array_equal(lower.indptr, self._indptr) and np.array_equal(lower.indices, self._indices)):
            msg = f"a matrix of {lower.nnz} entries does not have the analysed pattern"
            raise ArithmeticError(msg)
        self._system.V = matrix(lower.data)
        cholmod.numeric(self._system, self._factor)
        unknown = matrix(right)
        cholmod.solve(self._factor, unknown)
        solution: Floats = np.array(unknown).ravel()
        relative = float(np.abs(symmetric(lower, solution) - right).max() / np.abs(right).max())
        if not relative < 1e-8:
            msg = f"linear solve left a relative residual of {relative:.1e}"
            raise ArithmeticError(msg)
        return solution


def solve_spd(lower: sparse.csc_matrix, right: Floats) -> Floats:
    """Solve once with a symmetric positive definite matrix.

    Parameters
    ----------
    lower
        Lower triangle, already in elimination order.
    right
        Right-hand side, shape (size,).

    Returns
    -------
    Solution, shape (size,).

    Raises
    ------
    ArithmeticError
        If the matrix is not positive definite or the residual is not small.
    """
    return SpdFamily(lower).solve(lower, right)
