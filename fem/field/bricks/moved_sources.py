"""How the windings' loads L and products Q (`sources`) move with the lengths: their derivatives.

Of a block's turns the share 1 - (d - r) / b encircles a point in the ring, d the distance from the middle of the
innermost corner or from the straight line through it. Its derivatives by the point, by half of what the ring surrounds
(a, c), by r and b are a few functions, integrated over each cell as the share itself is.

A block's lower or upper face that moves away from its grid line, as iron or another block's face lies there too, adds

    int mu H . t dA    per length outwards,

mu H from the field strengths on both sides, mu (H_1 + H_2) / 2 where mu is the same: what is normal to the face goes
through.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.constants import MU0
from fem.field.bricks.grid import TensorGrid
from fem.field.bricks.motion import Motion, Moving
from fem.field.bricks.reference import FUNCTIONS, NODES, quadratic, quadratic_slope
from fem.field.bricks.sources import POINTS, WEIGHTS
from fem.field.bricks.space import BrickSpace
from geometries.shapes.blocks import Block
from geometries.shapes.dual import gradients, number
from geometries.shapes.frame import Frame

_STAYS = 1e-9
"""Of a face's derivatives by lengths: below, it stays with its line."""
_LATTICE: Final = FUNCTIONS.reshape(3, 3, 3, 20)
_SHAPES: Final = quadratic(POINTS) * WEIGHTS


def _along_y(values: Floats) -> Floats:
    """Return a cell's functions by products of quadratics along x and z, with these values along y (3, 3, 20)."""
    return np.asarray(np.einsum("j,ijka->ika", values, _LATTICE))


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Ring:
    """A block's turns per height round the points of all cells, and how they move.

    Parameters
    ----------
    functions
        Their derivatives by a point's x and z, by a, c, distance and b; themselves (7, nx, points, nz, points).
    moves
        What each of them is multiplied with where the point itself stays (7, n).
    layer
        Which cells along y the block fills (ny,).
    faces
        Those that leave their line: the line, and how far they move outwards from there (n,).
    around
        Signed share of turns round the nodes (2 nx + 1, 2 nz + 1) [-].
    passed
        How much of the height more lies below the nodes as these move (2 ny + 1, n) [1/m].
    """

    functions: Floats
    moves: Floats
    layer: NDArray[np.bool_]
    faces: list[tuple[int, Floats]]
    around: Floats
    passed: Floats


class MovedSources:
    """Derivatives of what windings drive.

    Parameters
    ----------
    space
        The numbered unknowns.
    motion
        Of their grid.
    moving
        What it is the grid of.
    drives
        Ampere-turns of each block's winding (blocks, drives) [A].
    """

    def __init__(self, space: BrickSpace, motion: Motion, moving: Moving, drives: Floats) -> None:
        grid = space.grid
        self._space, self._motion, self._drives = space, motion, drives
        self._mu = MU0 * grid.mu_r
        self._dx, self._dy, self._dz = (np.diff(lines) for lines in (grid.x, grid.y, grid.z))
        self.rings = [_ring(grid, motion, moving.frame, block) for block in moving.blocks]
        self.layers = np.array([ring.layer for ring in self.rings])
        x, z = np.diff(motion.x, axis=0) / self._dx[:, None], np.diff(motion.z, axis=0) / self._dz[:, None]
        self._spread = x[:, None] + z
        """Derivatives of the cells' areas across the leg over them (nx, nz, n) [1/m]."""

    def loads(self, fields: Floats) -> Floats:
        """Return dL^T v of potentials v (size, m): (m, drives, n)."""
        padded = np.concatenate((fields, np.zeros((1, fields.shape[1]))))
        dofs = self._space.dofs.reshape(*self._mu.shape, 20)
        found = np.zeros((fields.shape[1], self._drives.shape[1], self._motion.x.shape[1]))
        for ring, drives in zip(self.rings, self._drives, strict=True):
            moments, slopes = self._integrated(ring, _SHAPES)
            slopes += moments[..., None] * self._spread[:, None, :, None]
            seen = np.einsum("xyz,xyzkm->xzkm", self._mu[:, ring.layer], padded[dofs[:, ring.layer]])
            own = np.einsum("abk,xzkm,xazbn->mn", _along_y(np.array([-1.0, 0.0, 1.0])), seen, slopes, optimize=True)
            for line, moves in ring.faces:
                through = self._through(line)
                for cell, at in ((line - 1, 1.0), (line, 0.0)):
                    slope = _along_y(quadratic_slope(np.array([at]))[:, 0]) / self._dy[cell]
                    beside = np.einsum("xz,xzkm->xzkm", through, padded[dofs[:, cell]])
                    own += np.outer(np.einsum("abk,xzkm,xazb->m", slope, beside, moments, optimize=True), moves)
            found += own[:, None] * drives[:, None]
        return found

    def products(self) -> Floats:
        """Return dQ (drives, drives, n)."""
        found = np.zeros((self._drives.shape[1], *self._drives.shape[1:], self._motion.x.shape[1]))
        stretched = np.diff(self._motion.y, axis=0)
        for active in np.unique(self.layers, axis=1).T:
            if not active.any():
                continue
            here = (self.layers == active[:, None]).all(axis=0)
            profiles, mu = self._profiles(active), self._mu[:, here]
            level = np.einsum("xyz,y->xz", mu, self._dy[here])
            both = np.einsum("dxpzq,expzq,p,q->dexz", profiles, profiles, WEIGHTS, WEIGHTS, optimize=True)
            both *= self._dx[:, None] * self._dz
            moved = np.einsum("xyz,yn->xzn", mu, stretched[here]) + level[..., None] * self._spread
            found += np.einsum("dexz,xzn->den", both, moved)
            for k in np.flatnonzero(active).tolist():
                for e, profile in enumerate(profiles):
                    _, slopes = self._integrated(self.rings[k], WEIGHTS[None], profile)
                    self._add(found, k, e, np.einsum("xz,xazbn->n", level, slopes))
        for k, ring in enumerate(self.rings):
            for line, moves in ring.faces:
                beside = np.add(*(self._profiles(self.layers[:, cell]) for cell in (line - 1, line)))
                for e, profile in enumerate(beside):
                    held, _ = self._integrated(ring, WEIGHTS[None], profile)
                    self._add(found, k, e, np.einsum("xz,xazb->", self._through(line), held) * moves)
        return found

    def lifted(self, vectors: Floats) -> Floats:
        """Return v . dU of vectors v (size, m), with U the integral of the drives' T0 from below (drives, m, n)."""
        from scipy.sparse import csr_matrix

        space, counts = self._space, [2 * n + 1 for n in self._mu.shape]
        free = space.dofs >= 0
        nodes = 2 * np.stack(np.unravel_index(np.arange(len(free)), self._mu.shape), axis=-1)[:, None] + NODES
        at = np.empty((space.size, 3), dtype=np.int64)
        at[space.dofs[free]] = nodes[free]
        found = np.zeros((self._drives.shape[1], vectors.shape[1], self._motion.x.shape[1]))
        for ring, drives in zip(self.rings, self._drives, strict=True):
            share = ring.around[at[:, 0], at[:, 2]]
            by_line = csr_matrix((share, (at[:, 1], np.arange(space.size))), shape=(counts[1], space.size)) @ vectors
            found += drives[:, None, None] * (by_line.T @ ring.passed)
        return found

    def _add(self, found: Floats, k: int, drive: int, slopes: Floats) -> None:
        """Add to dQ what the motion of one block does in the field of a drive."""
        own = np.outer(self._drives[k], slopes)
        found[:, drive] += own
        found[drive] += own

    def _profiles(self, active: NDArray[np.bool_]) -> Floats:
        """Return the drives' T0 where these blocks lie, at the points (drives, nx, points, nz, points) [A/m]."""
        shares = np.stack([ring.functions[-1] for ring in self.rings])
        return np.tensordot((self._drives * active[:, None]).T, shares, axes=1)

    def _through(self, line: int) -> Floats:
        """Return 1 / (1 / mu_1 + 1 / mu_2) of the cells on both sides of a line along y (nx, nz) [H/m]."""
        low, high = self._mu[:, line - 1], self._mu[:, line]
        return np.asarray(low * high / np.maximum(low + high, 1e-30))

    def _integrated(self, ring: Ring, shapes: Floats, profile: Floats | float = 1.0) -> tuple[Floats, Floats]:
        """Integrate a ring, times a profile, with weighted shapes along x and z.

        Returns
        -------
        (nx, shapes, nz, shapes), and its derivatives (nx, shapes, nz, shapes, n) but for those of the cells' areas.
        """
        areas = self._dx[:, None, None, None] * self._dz[:, None]

        def integral(values: Floats, along_x: Floats, along_z: Floats) -> Floats:
            kept = along_x @ values.reshape(*values.shape[:-2], -1)
            return np.asarray(kept.reshape(*kept.shape[:-1], *values.shape[-2:]) @ along_z.T * areas)

        functions = ring.functions * profile
        found = integral(functions, shapes, shapes)
        slopes = np.einsum("fxazb,fn->xazbn", found, ring.moves)
        x, z = self._motion.x[:, None, None, None], self._motion.z[:, None]
        slopes += found[0][..., None] * x[:-1] + found[1][..., None] * z[:-1]
        slopes += integral(functions[0], shapes * POINTS, shapes)[..., None] * np.diff(x, axis=0)
        slopes += integral(functions[1], shapes, shapes * POINTS)[..., None] * np.diff(z, axis=0)
        return found[-1], slopes


def _ring(grid: TensorGrid, motion: Motion, frame: Frame, block: Block) -> Ring:
    """Return a block's ring, its directions as in `racetrack`."""
    leg, inputs = frame.leg_at(block.leg_axis), motion.x.shape[1]
    width, depth = frame.surrounded(block)
    sizes = (
        leg.axis,
        frame.turn_centre(block),
        width / 2 + block.leg_clearance,
        depth / 2 + block.end_clearance,
        block.corner_radius,
        block.build,
        block.height,
    )
    axis, centre, a, c, r, b, height = (number(size) for size in sizes)
    d_axis, d_centre, d_a, d_c, _, d_b, d_height = gradients(sizes, inputs)
    # The radius is the lesser clearance; where both are equal it has two derivatives, and their mean is taken.
    d_r = gradients([size for size in (block.leg_clearance, block.end_clearance) if size <= r], inputs).mean(axis=0)
    signed = number(block.share) * leg.direction

    def place(x: Floats, z: Floats) -> tuple[Floats, Floats, NDArray[np.bool_], Floats, Floats]:
        """Return how far points lie beyond both straight sides, whether at a corner, their distance and share."""
        over_x, over_z = np.broadcast_arrays(np.abs(x) - (a - r), np.abs(z) - (c - r))
        corner = (over_x > 0) & (over_z > 0)
        distance = np.where(corner, np.hypot(over_x, over_z), np.maximum(over_x, over_z))
        return over_x, over_z, corner, distance, np.clip(1 - (distance - r) / b, 0.0, 1.0)

    x = (grid.x[:-1, None] + np.diff(grid.x)[:, None] * POINTS)[:, :, None, None] - axis
    z = grid.z[:-1, None] + np.diff(grid.z)[:, None] * POINTS - centre
    over_x, over_z, corner, distance, share = place(x, z)
    turns = signed / height
    falls = turns / b * ((share > 0) & (share < 1))
    to_x, to_z = (
        falls * np.where(corner, over / np.where(corner, distance, 1.0), over >= other)
        for over, other in ((over_x, over_z), (over_z, over_x))
    )
    mid_y = (grid.y[1:] + grid.y[:-1]) / 2
    faces = []
    for at, side in ((block.bottom, -1), (block.top, 1)):
        line = int(np.abs(grid.y - number(at)).argmin())
        beyond = side * (gradients((at,), inputs)[0] - motion.y[line])
        if not np.all(np.abs(beyond) < _STAYS):
            faces.append((line, beyond))
    below = ((_halved(grid.y) - number(block.bottom)) / height)[:, None]
    moved = (_halved(motion.y) - gradients((block.bottom,), inputs) - below * d_height) / height
    return Ring(
        around=signed * place(_halved(grid.x)[:, None] - axis, _halved(grid.z) - centre)[-1],
        passed=np.where((below > 0) & (below < 1), moved, 0.0),
        functions=np.stack(
            (-to_x * np.sign(x), -to_z * np.sign(z), to_x, to_z, falls, falls * (distance - r) / b, turns * share)
        ),
        moves=np.stack((-d_axis, -d_centre, d_a - d_r, d_c - d_r, d_r, d_b, -d_height / height)),
        layer=(mid_y > number(block.bottom)) & (mid_y < number(block.top)),
        faces=faces,
    )


def _halved(lines: Floats) -> Floats:
    """Return what is at nodes, from what is at lines (n, ...): that and the means between (2 n - 1, ...)."""
    found = np.repeat(lines, 2, axis=0)[:-1]
    found[1::2] = (lines[1:] + lines[:-1]) / 2
    return found
