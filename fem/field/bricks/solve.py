"""The field of windings round a core in three dimensions, by a magnetic scalar potential.

A known field T0 with curl T0 = J carries the ampere-turns (`racetrack`), so that H = T0 - grad(Omega) obeys Ampere's
law whatever Omega is. Gauss's law div(mu H) = 0 is left, in its weak form: Omega in V with

    int mu grad(Omega) . grad(v) dV = int mu T0 . grad(v) dV        for all v in V,

which is where W(Omega) = 1/2 int mu |T0 - grad(Omega)|^2 dV is least. V: continuous, quadratic in each brick, 0 on the
outer boundary, free on mirror planes (`space`). mu is constant in each brick and linear.

With T0 = sum_k F_k t_k over the windings, F_k their ampere-turns [A] and t_k the field per ampere-turn [1/m], what a
turn of winding i links on average is Phi_i = int mu H . t_i dV, as t_i counts for each point the share of turns round
it over the winding's height. In matrices,

    K u = L F,      Phi = Q F - L^T u,      K = int mu grad(N) . grad(N)^T,  L = int mu grad(N) . t,  Q = int mu t . t^T

and F . Phi = int mu |H|^2 dV = 2 W: for F = (1, -1) it is the leakage permeance [H], for F = 1 a winding's own. The
minimum over a smaller space cannot be lower, so each is an upper bound of the idealised arrangement's value.

References
----------
P. Hammond, Energy Methods in Electromagnetism, Oxford 1981: dual bounds (from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.sources import winding_sources
from fem.field.bricks.space import BrickSpace, brick_space, stiffness_matrix
from fem.field.cholesky import solve_in_order
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LinearField:
    """The field of windings round linear iron.

    Parameters
    ----------
    space
        The grid and its numbered unknowns.
    core, blocks
        What it is the field of.
    ampere_turns
        F of each winding, in the order in which the blocks name them (windings,) [A].
    potential
        u (size,) [A].
    fluxes
        Phi, each winding's mean flux per turn (windings,) [Wb].
    """

    space: BrickSpace
    core: Framed
    blocks: Sequence[Block]
    ampere_turns: Floats
    potential: Floats
    fluxes: Floats


def linear_field(grid: TensorGrid, core: Framed, blocks: Sequence[Block], ampere_turns: Sequence[float]) -> LinearField:
    """Solve K u = L F on a grid; Phi = Q F - L^T u.

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
    """
    space = brick_space(grid)
    sources = winding_sources(space, core, blocks)
    excitation = np.asarray(ampere_turns, dtype=np.float64)
    (potential,) = solve_in_order([stiffness_matrix(space)], [sources.loads @ excitation])
    return LinearField(
        space=space,
        core=core,
        blocks=blocks,
        ampere_turns=excitation,
        potential=potential,
        fluxes=grid.copies * (sources.products @ excitation - sources.loads.T @ potential),
    )
