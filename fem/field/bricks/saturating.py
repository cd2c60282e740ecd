"""The field of windings round a saturating core in three dimensions: `solve` with B(H) in the core's cells.

With H = F t - grad(u), t the field of the energised winding per ampere-turn [1/m], the potential u in V is where the
coenergy W(u) = int w(H) dV, dw = B . dH, is least:

    int B(H) . grad(v) dV = 0    for all v in V,

and what a turn of winding i links is Phi_i = int B . t_i dV; dW/dF = Phi_1. Air is linear; in the core's cells B = mu_s
H at Gauss's points, with the tangent dB/dH = mu_s I + (mu_d - mu_s) e e^T, e along H, mu_s = b/H, mu_d = db/dH. In iron
a winding's t lies along y and is constant in each cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.constants import MU0
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.racetrack import encircling_share
from fem.field.bricks.reference import gradients
from fem.field.bricks.sources import winding_sources
from fem.field.bricks.space import LOWER, BrickSpace, brick_space, cell_stiffness, lower_triangle
from fem.field.cholesky import Cholesky
from fem.materials.inverse import Permeability
from geometries.shapes.blocks import Block, winding_names
from geometries.shapes.frame import Frame

if TYPE_CHECKING:
    from scipy import sparse

POINTS = 2
"""Gauss's points along each edge of a cell."""
_SLOPES: Final = gradients(POINTS)
_PAIRS: Final = ((0, 0), (1, 1), (2, 2), (0, 1), (0, 2), (1, 2))
"""Components of a symmetric tensor in space."""


def _pair_tensors() -> Floats:
    """Return what each component of a tensor at each point adds to a cell's lower triangle (8 * 6, 210)."""
    slopes, weights = _SLOPES
    full = [
        slopes[:, i, :, None] * slopes[:, j, None, :] + (slopes[:, j, :, None] * slopes[:, i, None, :] if i != j else 0)
        for i, j in _PAIRS
    ]
    chosen = np.stack(full, axis=1)[:, :, *LOWER] * weights[:, None, None]
    return np.ascontiguousarray(chosen.reshape(-1, len(LOWER[0])))


_TENSORS: Final = _pair_tensors()


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Saturating:
    """A grid's unknowns, its linear air and its core's cells.

    Parameters
    ----------
    space
        The numbered unknowns of its grid, which has no permeability in the core.
    size
        Number of unknowns.
    copies
        How many mirror images make up the whole.
    air
        Values of the lower triangle of the air's stiffness on the pattern of all cells (entries,) [H].
    indices, pointers
        That pattern, by columns.
    loads, products
        Of air alone: int mu t_i . grad(v) (size, windings), int mu t_1 . t_i (windings,) [H].
    dofs
        Unknowns of the core's cells (cells, 20); `size` where the potential is fixed.
    entries
        Where a core's cell's lower triangle goes (cells, 210); one past the last where nowhere.
    factors
        Of that: 2 where two of its nodes are one unknown [-].
    edges, volumes
        Of the core's cells (cells, 3) [m], (cells,) [m3].
    turns
        t_i along y in the core's cells (cells, windings) [1/m].
    laws
        Which of the core's cells, and their law.
    """

    space: BrickSpace
    size: int
    copies: int
    air: Floats
    indices: Integers
    pointers: Integers
    loads: Floats
    products: Floats
    dofs: Integers
    entries: Integers
    factors: Floats
    edges: Floats
    volumes: Floats
    turns: Floats
    laws: tuple[tuple[NDArray[np.bool_], Permeability], ...]

    @property
    def weights(self) -> Floats:
        """Volumes that the points stand for (cells, points) [m3]."""
        return np.multiply.outer(self.volumes, _SLOPES[1])

    def slopes(self, potentials: Floats) -> Floats:
        """Return grad of potentials (size, n) at the core's points (3, cells * points, n) [A/m]."""
        padded = np.concatenate((potentials, np.zeros((1, potentials.shape[1]))))
        found = _SLOPES[0].transpose(1, 0, 2)[:, None] @ padded[self.dofs]
        found /= self.edges.T[:, :, None, None]
        return np.asarray(found.reshape(3, -1, potentials.shape[1]))

    def permeabilities(self, field_strength: Floats) -> tuple[Floats, Floats]:
        """Return mu_s and mu_d [H/m] at field strengths at the core's points (cells * points,) [A/m]."""
        size = field_strength.reshape(len(self.dofs), -1)
        secant, slope = np.empty_like(size), np.empty_like(size)
        for cells, law in self.laws:
            secant[cells], slope[cells] = law.mu_slope(size[cells])
        return secant.ravel(), slope.ravel()

    def tested(self, flux: Floats) -> Floats:
        """Return int B . grad(v) over the core, of flux densities at its points (3, cells * points) [T]: (size,)."""
        by_axis = flux.reshape(3, len(self.dofs), -1) * _SLOPES[1] * (self.volumes / self.edges.T)[:, :, None]
        by_cell = np.einsum("icp,pik->ck", by_axis, _SLOPES[0], optimize=True)
        return np.asarray(np.bincount(self.dofs.ravel(), by_cell.ravel(), minlength=self.size + 1)[:-1], np.float64)

    def matrix(self, secant: Floats, excess: Floats, unit: Floats) -> Floats:
        """Return the lower triangle's values for the tangent secant I + excess e e^T at the core's points (entries,).

        Parameters
        ----------
        secant, excess
            (cells, points) [H/m].
        unit
            (3, cells, points) [-].
        """
        tensor = np.empty((*secant.shape, len(_PAIRS)))
        for k, (i, j) in enumerate(_PAIRS):
            along = excess * unit[i] * unit[j] + (secant if i == j else 0.0)
            tensor[..., k] = along * (self.volumes / (self.edges[:, i] * self.edges[:, j]))[:, None]
        values = (tensor.reshape(len(self.dofs), -1) @ _TENSORS) * self.factors
        added = np.bincount(self.entries.ravel(), values.ravel(), minlength=len(self.air) + 1)[:-1]
        return np.asarray(self.air + added)

    def uniform(self, mu_r: float) -> tuple[Floats, Floats]:
        """Return matrix (entries,) and load (size, 1) of a core of linear iron, per ampere-turn."""
        shape = self.weights.shape
        flux = np.zeros((3, shape[0] * shape[1]))
        flux[1] = MU0 * mu_r * np.repeat(self.turns[:, 0], shape[1])
        matrix = self.matrix(np.full(shape, MU0 * mu_r), np.zeros(shape), np.zeros((3, *shape)))
        return matrix, (self.loads[:, 0] + self.tested(flux))[:, None]

    def lower(self, values: Floats) -> sparse.csc_matrix:
        """Return a lower triangle of these values (entries,)."""
        from scipy.sparse import csc_matrix

        return csc_matrix((values, self.indices, self.pointers), shape=(self.size, self.size))

    def cholesky(self) -> Cholesky:
        """Return the analysed pattern, for factoring."""
        columns = np.repeat(np.arange(self.size), np.diff(self.pointers))
        return Cholesky(rows=self.indices, columns=columns, size=self.size, in_order=True)


def saturating(
    grid: TensorGrid,
    frame: Frame,
    blocks: Sequence[Block],
    materials: Sequence[tuple[NDArray[np.bool_], Permeability]],
) -> Saturating:
    """Number the unknowns and integrate what does not depend on the core's state.

    Parameters
    ----------
    grid
        Its permeability plays no part.
    frame, blocks
        The iron and the windings, the energised one's blocks first.
    materials
        Cells of the core (nx, ny, nz), and their law.
    """
    core = np.zeros(grid.mu_r.shape, dtype=np.bool_)
    for cells, _ in materials:
        core |= cells
    inside = core.ravel()
    space = brick_space(replace(grid, mu_r=np.where(core, 0.0, 1.0)))
    stiffness = lower_triangle(space, space.dofs, cell_stiffness(space, np.ones_like(inside)))
    sources = winding_sources(space, frame, blocks)
    dofs = space.dofs[inside]
    one, other = dofs[:, LOWER[0]], dofs[:, LOWER[1]]
    known = (one >= 0) & (other >= 0)
    column = np.repeat(np.arange(space.size), np.diff(stiffness.indptr))
    place = np.searchsorted(
        column * space.size + stiffness.indices, np.minimum(one, other) * space.size + np.maximum(one, other)
    )
    edges = np.stack(np.meshgrid(*[np.diff(v) for v in (grid.x, grid.y, grid.z)], indexing="ij"), axis=-1)
    edges = edges.reshape(-1, 3)[inside]
    return Saturating(
        space=space,
        size=space.size,
        copies=grid.copies,
        air=stiffness.data,
        indices=stiffness.indices.astype(np.int64),
        pointers=stiffness.indptr.astype(np.int64),
        loads=sources.loads,
        products=sources.products[0],
        dofs=np.where(dofs < 0, space.size, dofs),
        entries=np.where(known, place, stiffness.nnz),
        factors=1.0 + ((one == other) & (LOWER[0] != LOWER[1])),
        edges=edges,
        volumes=edges.prod(axis=1),
        turns=_turns(grid, frame, blocks).reshape(len(inside), -1)[inside],
        laws=tuple((cells.ravel()[inside], law) for cells, law in materials if cells.any()),
    )


def _turns(grid: TensorGrid, frame: Frame, blocks: Sequence[Block]) -> Floats:
    """Return each winding's turns per height round the cells' middles (nx, ny, nz, windings) [1/m]."""
    x, y, z = ((line[1:] + line[:-1]) / 2 for line in (grid.x, grid.y, grid.z))
    names = winding_names(blocks)
    found = np.zeros((*grid.mu_r.shape, len(names)))
    for block in blocks:
        leg = frame.leg_at(block.leg_axis)
        share = encircling_share(block, *frame.surrounded(block), x[:, None] - leg.axis, z - frame.turn_centre(block))
        layer = ((y > block.bottom) & (y < block.top)) * (block.share * leg.direction / block.height)
        found[..., names.index(block.winding)] += share[:, None, :] * layer[:, None]
    return found
