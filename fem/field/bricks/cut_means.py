"""The flux density of a saturating core across the cuts of its planar section: mean over the iron there, and normal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fem.arrays import Floats
from fem.field.bricks.saturating import Saturating
from geometries.shapes.section import Cut

_ALIKE = 1e-6


def cut_means(problem: Saturating, cuts: Sequence[Cut], ampere_turns: Floats, potentials: Floats) -> Floats:
    """Return the mean flux density through each cut, iron and insulation together, towards +x or +y (cuts, n) [T].

    Over the layer of cells that the cut lies in and the one beside it, straight between their middles. A cut without
    saturating cells has 0.

    Parameters
    ----------
    problem
        The saturating problem.
    cuts
        Across legs, yokes or shunts; where the grid holds a quarter, one on the left is read on the right.
    ampere_turns
        F of the states (n,) [A].
    potentials
        u (size, n) [A].
    """
    normal, weights = zip(*(cut_weights(problem, cut) for cut in cuts), strict=True)
    kept = np.any(weights, axis=0)
    part = replace(
        problem,
        dofs=problem.dofs[kept],
        edges=problem.edges[kept],
        volumes=problem.volumes[kept],
        turns=problem.turns[kept],
        laws=tuple((cells[kept], law) for cells, law in problem.laws),
    )
    shares = part.weights / part.volumes[:, None]
    field = -part.slopes(potentials)
    field[1] += np.multiply.outer(np.repeat(part.turns[:, 0], shares.shape[1]), ampere_turns)
    size = np.sqrt((field**2).sum(axis=0))
    field *= part.permeabilities(size.ravel())[0].reshape(size.shape)
    by_cell = np.einsum("cp,acpn->acn", shares, field.reshape(3, *shares.shape, -1))
    return np.stack([w[kept] @ by_cell[axis] for axis, w in zip(normal, weights, strict=True)])


def cut_weights(problem: Saturating, cut: Cut) -> tuple[int, Floats]:
    """Return the axis normal to a cut, and what each of the core's cells counts (cells,) [-]."""
    grid = problem.space.grid
    core = grid.mu_r == 0
    lines = (grid.x, grid.y, grid.z)
    middles = [(line[1:] + line[:-1]) / 2 for line in lines]
    x, y = sorted((cut.x0, cut.x1)), sorted((cut.y0, cut.y1))
    if grid.copies == 4 and sum(x) < 0:
        x = [-x[1], -x[0]]
    axis, at, (low, high) = (1, y[0], x) if x[0] < x[1] else (0, x[0], y)
    beside = [np.diff(line) for line in lines]
    beside[axis] = np.ones(core.shape[axis])
    beside[1 - axis] = beside[1 - axis] * ((middles[1 - axis] > low) & (middles[1 - axis] < high))
    u, v, w = np.ix_(*beside)
    areas = np.where(core, u * v * w, 0.0)
    by_layer = areas.sum(axis=tuple({0, 1, 2} - {axis}))
    filled = np.flatnonzero(by_layer)
    hat = np.zeros(by_layer.size)
    if filled.size:
        own = by_layer[filled[np.argmin(np.abs(middles[axis][filled] - at))]]
        alike = np.flatnonzero(np.abs(by_layer / own - 1) < _ALIKE)
        hat[alike] = [np.interp(at, middles[axis][alike], row) / own for row in np.eye(alike.size)]
    shape = [1, 1, 1]
    shape[axis] = -1
    return axis, (areas * hat.reshape(shape))[core]
