"""A brick problem over many permeabilities of the core's parts: solved at a few, then small and dense.

Stiffness, loads and products of `field/bricks/solve.py` are linear in the permeabilities mu_p of air and of the core's
parts, K = sum_p mu_p K_p and likewise L, Q. The potentials at some snapshots of mu span a space with the orthonormal
basis V (Galerkin's method in that space); with F = 1 in the first winding

    (sum_p mu_p V^T K_p V) q = sum_p mu_p V^T L_p,1,    Phi = sum_p mu_p (Q_p,1 - (V^T L_p)^T q),

as many unknowns as snapshots. It is the minimum over a smaller space: exact at the snapshots, an upper bound of the
grid's own permeance elsewhere.

References
----------
J. S. Hesthaven, G. Rozza and B. Stamm, Certified Reduced Basis Methods, Springer 2016, chapter 3.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Floats
from fem.field.bricks.grid import TensorGrid, cells_within
from fem.field.bricks.sources import winding_sources
from fem.field.bricks.space import brick_space, stiffness_matrix, symmetric
from fem.field.cholesky import solve_in_order
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Box, Part

PARTS = (Part.WOUND_LEG, Part.OTHER_LEG, Part.YOKE, Part.JOINT, Part.GAP)
"""The core's parts along the first axis of a reduced problem, after the air's."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Reduced:
    """The problem in the span of n fields: air and `PARTS` along the first axis.

    Parameters
    ----------
    stiffness
        V^T K_p V (6, n, n) [H].
    loads
        V^T L_p (6, n, windings) [H].
    products
        Q_p between the energised winding and each (6, windings) [H].
    """

    stiffness: Floats
    loads: Floats
    products: Floats

    def permeances(self, weights: Floats) -> Floats:
        """Return each winding's flux per ampere-turn of the first [H] (n, windings) at permeabilities (n, 6)."""
        loads = np.einsum("np,pib->nib", weights, self.loads)
        fields = np.linalg.solve(np.tensordot(weights, self.stiffness, 1), loads[:, :, :1])[:, :, 0]
        found: Floats = weights @ self.products - np.einsum("nib,ni->nb", loads, fields)
        return found


def _part_cells(grid: TensorGrid, frame: Frame, boxes: Sequence[Box]) -> list[Floats]:
    """Return which cells are air and which belong to each of `PARTS`."""
    cells = [
        cells_within(grid, [box for box in boxes if box.part is part], *frame.nearest_stack).astype(np.float64)
        for part in PARTS
    ]
    return [1 - sum(cells, np.zeros_like(cells[0])), *cells]


def reduced(
    grid: TensorGrid, frame: Frame, blocks: Sequence[Block], boxes: Sequence[Box], weights: Sequence[Floats]
) -> Reduced:
    """Solve at the snapshots and project on their span.

    Parameters
    ----------
    grid
        Of the whole arrangement, or its slab.
    frame, blocks
        The iron and the windings, the energised one's blocks first.
    boxes
        The iron by part.
    weights
        Relative permeability of air and of each of `PARTS` at each snapshot (6,) [-].
    """
    numbered = brick_space(grid)
    spaces = [replace(numbered, grid=replace(grid, mu_r=cells)) for cells in _part_cells(grid, frame, boxes)]
    matrices = [stiffness_matrix(space) for space in spaces]
    sources = [winding_sources(space, frame, blocks) for space in spaces]
    loads = np.stack([source.loads for source in sources])
    systems = [sum((w * m for w, m in zip(weight[1:], matrices[1:], strict=True)), matrices[0]) for weight in weights]
    fields = solve_in_order(systems, [weight @ loads[:, :, 0] for weight in weights])
    basis = np.linalg.qr(np.stack(fields, axis=1))[0]
    return Reduced(
        stiffness=grid.copies * np.stack([basis.T @ symmetric(matrix, basis) for matrix in matrices]),
        loads=grid.copies * np.einsum("pkb,ki->pib", loads, basis),
        products=grid.copies * np.stack([source.products[0] for source in sources]),
    )
