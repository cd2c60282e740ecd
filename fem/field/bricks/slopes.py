"""Derivatives of a linear field's energy, and of all that is bilinear in two fields, by lengths: no further solution.

With fields F t - grad(u) and G t - grad(v), u and v in the same space (`solve`),

    a = F . Q G - u . L G - v . L F + u . K v

is twice the energy where both are one field, and the energy is least there: its derivative is that of a at fixed u and
v (Hellmann and Feynman). A cell's part of u . K v is mu (dy dz/dx e_x + dx dz/dy e_y + dx dy/dz e_z) with numbers e of
u and v alone, so that its derivatives by ln dx, ln dy and ln dz are the sum of its three terms less twice the own one.

References
----------
R. P. Feynman, Phys. Rev. 56 (1939) 340.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.field.bricks.motion import Motion, Moving
from fem.field.bricks.moved_sources import MovedSources
from fem.field.bricks.reference import stiffness_tensors
from fem.field.bricks.solve import LinearField
from fem.field.bricks.sources import winding_sources
from fem.field.bricks.space import BrickSpace, stiffness_matrix, symmetric
from geometries.shapes.blocks import winding_names


def energy_slopes(field: LinearField, motion: Motion, moving: Moving) -> Floats:
    """Return the derivatives of F . Phi, twice the energy, at fixed ampere-turns (n,) [Wb A/m].

    Parameters
    ----------
    field
        The solved field.
    motion
        Of its grid.
    moving
        What it is the field of.
    """
    space, u, F = field.space, field.potential[:, None], field.ampere_turns
    names = winding_names(moving.blocks)
    drives = np.array([[F[names.index(block.winding)]] for block in moving.blocks])
    sources = MovedSources(space, motion, moving, drives)
    found = sources.products()[0, 0] - 2 * sources.loads(u)[0, 0]
    found += stiffness_slopes(space, motion, u, u[..., None])[0, 0]
    for layer in motion.layers:
        mu_r = np.where(layer.cells, space.grid.mu_r, 0.0)
        alone = replace(space, grid=replace(space.grid, mu_r=mu_r))
        own, v = winding_sources(alone, field.core, field.blocks), field.potential
        inside = F @ own.products @ F - 2 * F @ own.loads.T @ v + v @ symmetric(stiffness_matrix(alone), v)
        # The layer's mu is that of iron and gap in series, 1 / mu = (1 - s) / mu_iron + s.
        mu = mu_r.max()
        found -= mu * inside * (1 - (1 / mu - layer.share) / (1 - layer.share)) * layer.slopes
    return np.asarray(space.grid.copies * found)


def stiffness_slopes(space: BrickSpace, motion: Motion, fields: Floats, others: Floats) -> Floats:
    """Return u . dK v of potentials u with v by n inputs (m, w, n).

    Parameters
    ----------
    space
        The numbered unknowns; cells without permeability add nothing.
    motion
        Of their grid.
    fields
        u (size, m).
    others
        v, some for each (size, m, w).
    """
    grid = space.grid
    m, w = others.shape[1:]
    filled = grid.mu_r.ravel() > 0
    dofs = space.dofs[filled]
    zero = np.zeros((1, m))
    u = np.concatenate((fields, zero)).T[:, dofs]
    v = np.concatenate((others.reshape(len(others), -1), np.zeros((1, m * w)))).T[:, dofs].reshape(m, w, -1, 20)
    parts = np.empty((m, w, len(dofs), 3))
    reach = np.stack(np.meshgrid(*grid.reaches, indexing="ij"), axis=-1).reshape(-1, 3)[filled]
    kinds, kind = np.unique(reach, axis=0, return_inverse=True)
    for k, (i, j, q) in enumerate(kinds.tolist()):
        mine = kind.ravel() == k
        for axis, tensor in enumerate(stiffness_tensors((i, j, q))):
            parts[:, :, mine, axis] = np.einsum("mci,mwci->mwc", u[:, mine] @ tensor, v[:, :, mine])
    widths = np.stack(np.meshgrid(*(np.diff(lines) for lines in (grid.x, grid.y, grid.z)), indexing="ij"), axis=-1)
    widths = widths.reshape(-1, 3)[filled]
    mu = MU0 * grid.mu_r.ravel()[filled]
    parts *= (mu * widths.prod(axis=1))[:, None] / widths**2
    by_cell = np.zeros((m, w, filled.size, 3))
    by_cell[:, :, filled] = (parts.sum(axis=-1, keepdims=True) - 2 * parts) / widths
    return by_widths(by_cell.reshape(m, w, *grid.mu_r.shape, 3), motion)


def by_widths(by_cell: Floats, motion: Motion) -> Floats:
    """Return derivatives by inputs (..., n) from those by each cell's three edges (..., nx, ny, nz, 3)."""
    dx, dy, dz = (np.diff(moves, axis=0) for moves in (motion.x, motion.y, motion.z))
    return np.asarray(
        by_cell[..., 0].sum(axis=(-1, -2)) @ dx
        + by_cell[..., 1].sum(axis=(-1, -3)) @ dy
        + by_cell[..., 2].sum(axis=(-2, -3)) @ dz
    )
