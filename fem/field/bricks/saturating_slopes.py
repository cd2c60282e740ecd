"""Derivatives by lengths of the fluxes round a saturating core: those of its coenergy's slopes, without new solutions.

W(F, u) of `saturating` is least in u, so that of its least value dW/dp is the derivative at fixed u, g(F, u); and as
Phi_i = dW/dF_i,

    dPhi_i/dp = dg/dF_i = the derivative of g along   dF_i = 1, du = z_i,   K_t z_i = int t_i . dB/dH . grad(v) dV,

z_i how the potential moves with the ampere-turns of winding i, which the span (`reduced`) holds for each of its states.
In a cell of edges e and volume V, with B' = dB/dH h and h = t_i - grad(z_i) at its points,

    g = int w(H) dV,   dg/dF_i by ln e_k:   V mean(B . h + B'_k (grad u)_k + B_k (grad z_i)_k),

and by t or by the law at a given H: V mean(B' F dt + B . dt_i) and V mean(dB . h). What is read in the core as a mean,
sum_c w_c mean(B_y), has t_s = w / V in place of a winding's t_i, z_s of that, and neither V nor w moves in it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.field.bricks.motion import Motion, Moving
from fem.field.bricks.moved_sources import MovedSources
from fem.field.bricks.saturating import Saturating
from fem.field.bricks.slopes import stiffness_slopes
from fem.field.bricks.sources import WEIGHTS
from fem.field.bricks.space import symmetric
from fem.materials.mixture import Reluctivity
from fem.materials.varied import on_table
from geometries.shapes.blocks import winding_names


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LawSlope:
    """How the law of some cells moves.

    Parameters
    ----------
    cells
        Which (nx, ny, nz).
    field_strength
        Takes flux densities [T] and returns the derivative of H by what moves, at fixed flux density [A/m].
    slopes
        That one's derivatives by the inputs (n,).
    """

    cells: NDArray[np.bool_]
    field_strength: Callable[[Floats], Floats]
    slopes: Floats


Table = tuple[NDArray[np.bool_], float, Reluctivity, Floats]
"""Cells (nx, ny, nz), the share of their length that holds a law, the law, how its coefficients move."""


def flux_slopes(
    problem: Saturating,
    motion: Motion,
    moving: Moving,
    laws: Sequence[LawSlope],
    tables: Sequence[Table],
    ampere_turns: Floats,
    potentials: Floats,
    responses: Floats,
) -> tuple[Floats, Floats]:
    """Return the derivatives of each winding's flux per turn at fixed ampere-turns (states, windings, n) [Wb/m].

    And those of the first winding's by what the laws' tables move with (states, inputs).

    Parameters
    ----------
    problem
        The saturating problem; columns of `turns` beyond the windings' are read as means.
    motion, moving
        Of its grid, and what it holds.
    laws
        Where they move.
    tables
        Cells with a share of their length of a law, and how its coefficients move (inputs, 4, n + 1).
    ampere_turns
        F of the states (states,) [A].
    potentials
        u (size, states) [A].
    responses
        z_i (size, states, windings) [-].
    """
    states, windings = responses.shape[1:]
    names = winding_names(moving.blocks)
    drives = np.array([[float(k == names.index(b.winding)) for k in range(windings)] for b in moving.blocks])
    sources = MovedSources(problem.space, motion, moving, drives)
    found = stiffness_slopes(problem.space, motion, potentials, responses)
    found += ampere_turns[:, None, None] * sources.products()[0]
    found -= sources.loads(potentials)
    by_response = sources.loads(responses.reshape(problem.size, -1))[:, 0].reshape(states, windings, -1)
    found -= ampere_turns[:, None, None] * by_response
    core = _MovedCore(problem, motion, sources, drives, laws, tables)
    by_table = []
    driven = np.column_stack((problem.loads[:, :1], problem.loads))
    air, lifted = problem.lower(problem.air), sources.lifted
    for k, F in enumerate(ampere_turns.tolist()):
        fields = np.column_stack((potentials[:, k], responses[:, k]))
        own, tested, by_law = core.slopes(F, fields)
        by_table.append(by_law)
        left = driven * ([F] + [1.0] * windings) - symmetric(air, fields) + tested
        by_lift = lifted(left)
        found[k] += own - F * by_lift[0, 1:] - by_lift[:, 0]
    steel = np.zeros((states, len(tables[0][-1]) if tables else 0))
    for k, (*_, moves) in enumerate(tables):
        steel += np.stack([of_state[k].ravel() for of_state in by_table]) @ moves.reshape(len(moves), -1).T
    return np.asarray(problem.copies * found), problem.copies * steel


class _MovedCore:
    """The core's part of these derivatives, state by state; parameters as for `flux_slopes`."""

    def __init__(
        self,
        problem: Saturating,
        motion: Motion,
        sources: MovedSources,
        drives: Floats,
        laws: Sequence[LawSlope],
        tables: Sequence[Table],
    ) -> None:
        grid = problem.space.grid
        inside = grid.mu_r == 0
        self._problem, self._drives = problem, drives
        lines = (motion.x, motion.y, motion.z)
        self._edges = [np.diff(moves, axis=0)[at] for moves, at in zip(lines, np.nonzero(inside), strict=True)]
        rings = sources.rings
        across = np.stack([np.einsum("xpzq,p,q->xz", ring.functions[-1], WEIGHTS, WEIGHTS) for ring in rings])
        self._turns = (across[:, :, None] * sources.layers[:, None, :, None])[:, inside]
        self._moves = np.stack([ring.moves[-1] for ring in rings])
        self._laws = [(law.cells[inside], law) for law in laws]
        self._tables = [(cells[inside], share, law) for cells, share, law, _ in tables]
        number = (np.cumsum(inside.ravel()) - 1).reshape(inside.shape)
        areas = np.diff(grid.x)[:, None] * np.diff(grid.z)
        self._faces = []
        for block, (line, moves) in ((k, face) for k, ring in enumerate(rings) for face in ring.faces):
            # What is normal to the face goes through it: the mean of the cells on both sides.
            sides = inside[:, line - 1 : line + 1]
            share = (across[block] * areas)[:, None] / np.maximum(sides.sum(axis=1), 1)[:, None]
            weights = np.broadcast_to(share, sides.shape)[sides]
            self._faces.append((block, number[:, line - 1 : line + 1][sides], weights, moves))

    def slopes(self, F: float, fields: Floats) -> tuple[Floats, Floats, list[Floats]]:
        """Return those of one state with potential and responses (size, 1 + windings), at fixed values of the nodes.

        Returns
        -------
        (windings, n); int B . grad(v) and int B' . grad(v) over the core (size, 1 + windings); by winding and table
        those by the law's coefficients (4, n + 1).
        """
        problem, drives = self._problem, self._drives
        cells, points = problem.weights.shape
        gradients = problem.slopes(fields)
        turns = np.repeat(problem.turns, points, axis=0)
        H = -gradients[..., 0]
        H[1] += F * turns[:, 0]
        size = np.sqrt(np.einsum("ip,ip->p", H, H))
        secant, slope = problem.permeabilities(size)
        unit = H / np.maximum(size, 1e-30)
        B = secant * H
        b = (secant * size).reshape(cells, points)
        laws = [(at, law, law.field_strength(b[at])) for at, law in self._laws]

        def summed(values: Floats) -> Floats:
            """Integrate over each cell."""
            return np.asarray(np.einsum("cp,cp->c", problem.weights, values.reshape(cells, points)))

        found, tested = [], [problem.tested(B)]
        linked = [bool(column.any()) for column in self._drives.T]
        for i in range(turns.shape[1]):
            h = -gradients[..., 1 + i]
            h[1] += turns[:, i]
            along = np.einsum("ip,ip->p", unit, h)
            change = secant * h + (slope - secant) * along * unit
            tested.append(problem.tested(change))
            moving = h if linked[i] else -gradients[..., 1 + i]
            both = np.einsum("ip,ip->p", B, moving)
            own = np.zeros(self._moves.shape[1])
            for k, edges in enumerate(self._edges):
                by_edge = both + change[k] * gradients[k, :, 0] + B[k] * gradients[k, :, 1 + i]
                own += (summed(by_edge) / problem.edges[:, k]) @ edges
            through = np.stack((summed(change[1]), summed(B[1])))
            shares = np.stack((F * drives[:, 0], drives[:, i]))
            own += np.einsum("sb,bc,sc->b", shares, self._turns, through) @ self._moves
            for block, where, weights, moves in self._faces:
                normal = through[:, where] / problem.volumes[where]
                own += shares[:, block] @ normal @ weights * moves
            for at, law, by_share in laws:
                falls = -(slope * along).reshape(cells, points)[at] * by_share
                own += np.sum(problem.weights[at] * falls) * law.slopes
            found.append(own)
            if i == 0:
                by_H = -problem.weights * (slope * along).reshape(cells, points)
                by_table = [on_table(law, b[at], share * by_H[at] * b[at]) for at, share, law in self._tables]
        return np.stack(found), np.stack(tested, axis=1), by_table
