"""Slices beside the 3-D problem, on tensor grids: planar in the lamination plane, axisymmetric round the leg's end.

Both solve for the flux psi, zero on the axis and far away: psi = A in the plane [Wb/m], psi = r A round an axis [Wb],
per radian. With J the turns density times ampere-turns, psi minimises

    plane   1/2 int (psi_x^2 + psi_y^2) / mu dx dy - int J psi dx dy,
    round   1/2 int (psi_r^2 + psi_y^2) / (mu r) 2 pi dr dy - int J 2 pi psi dr dy,

the latter in s = r^2, as 1/2 int pi (4 psi_s^2 + psi_y^2 / s) / mu ds dy - int pi J psi / sqrt(s) ds dy: regular at the
axis, where psi goes as s. A discrete psi, quadratic along each line of the grid, makes the energy of given
ampere-turns and so the permeance a lower bound, as the 3-D scalar potential makes it an upper one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import axisymmetric_grid, end_region_grid
from fem.field.bricks.ordering import dissection
from fem.field.bricks.reference import gauss, quadratic, quadratic_slope
from fem.field.cholesky import Lower, solve_in_order
from geometries.shapes.blocks import Block, blocks_of, winding_names
from geometries.shapes.frame import Framed, side_edges

GAUSS, GAUSS_WEIGHTS = gauss(5)
VALUES, SLOPES = quadratic(GAUSS), quadratic_slope(GAUSS)


def _weighted(left: Floats, weights: Floats, right: Floats) -> Floats:
    """Return one 3 by 3 matrix per cell."""
    matrices: Floats = np.einsum("iq,cq,kq->cik", left, weights, right)
    return matrices


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SliceField:
    """Flux of a slice.

    Parameters
    ----------
    by_side
        What the windings link on average on each side of their leg that is on the grid, right then left, per metre or
        all round (sides, windings) [Wb/m, Wb].
    """

    by_side: Floats

    @property
    def fluxes_per_turn(self) -> Floats:
        """What the windings link, the mean of their sides (windings,) [Wb/m, Wb]."""
        mean: Floats = self.by_side.mean(axis=0)
        return mean


def _slice_field(
    x: Floats,
    y: Floats,
    mu_r: Floats,
    densities: Sequence[Sequence[Floats]],
    ampere_turns: Sequence[float],
    *,
    axisymmetric: bool,
) -> SliceField:
    """Solve for psi and read what the windings link.

    Parameters
    ----------
    x, y
        Grid lines [m]; `x` is the radius in the axisymmetric case.
    mu_r
        Per cell (nx, ny) [-].
    densities
        By side, then winding, the turns density per cell (nx, ny) [1/m2], signed.
    ampere_turns
        Of each winding [A].
    axisymmetric
        Whether the slice is turned round x = 0.
    """
    x = x**2 if axisymmetric else x
    dx, dy = np.diff(x), np.diff(y)
    along, across = dy[:, None] * GAUSS_WEIGHTS, dx[:, None] * GAUSS_WEIGHTS
    steep, light, source = across, across, across
    if axisymmetric:
        s = x[:-1, None] + dx[:, None] * GAUSS
        steep, light, source = 4 * pi * across, pi * across / s, pi * across / np.sqrt(s)
    stiff_x = _weighted(SLOPES, steep / dx[:, None] ** 2, SLOPES)
    mass_x = _weighted(VALUES, light, VALUES)
    stiff_y = _weighted(SLOPES, along / dy[:, None] ** 2, SLOPES)
    mass_y = _weighted(VALUES, along, VALUES)
    local = np.einsum("xik,yjl->xyijkl", stiff_x, mass_y) + np.einsum("xik,yjl->xyijkl", mass_x, stiff_y)
    local = (local / (MU0 * mu_r[:, :, None, None, None, None])).reshape(-1, 9, 9)
    area = np.einsum("xi,yj->xyij", source @ VALUES.T, along @ VALUES.T)

    shape = (2 * len(dx) + 1, 2 * len(dy) + 1)
    index = np.stack(np.meshgrid(*[np.arange(n) for n in shape], indexing="ij"), axis=-1).reshape(-1, 2)
    members = np.flatnonzero((index > 0).all(axis=1) & (index < np.array(shape) - 1).all(axis=1))
    number = np.full(len(index), -1, dtype=np.int64)
    number[members[dissection(index[members])]] = np.arange(len(members))
    first = 2 * np.stack(np.meshgrid(np.arange(len(dx)), np.arange(len(dy)), indexing="ij"), axis=-1)
    place = first.reshape(-1, 1, 2) + np.stack(np.meshgrid(*[np.arange(3)] * 2, indexing="ij"), axis=-1).reshape(-1, 2)
    dofs = number[place[..., 0] * shape[1] + place[..., 1]]

    row, column = np.tril_indices(9)
    one, other = dofs[:, row], dofs[:, column]
    both = (one >= 0) & (other >= 0)
    places = (np.maximum(one, other)[both], np.minimum(one, other)[both])
    system = Lower(local[:, row, column][both], *places, len(members))
    free = dofs >= 0
    loads: Floats = np.stack(
        [
            np.bincount(dofs[free], (density[:, :, None, None] * area).reshape(-1, 9)[free], minlength=len(members))
            for side in densities
            for density in side
        ],
        axis=1,
    )
    excitation = np.tile(np.asarray(ampere_turns, dtype=np.float64), len(densities))
    (solution,) = solve_in_order([system], [loads @ excitation])
    return SliceField(by_side=(loads.T @ solution).reshape(len(densities), -1))


def _turns_density(block: Block, edges: tuple[float, float], x: Floats, y: Floats) -> Floats:
    """Return the turns density of a block between these edges, per turn of its winding, in the cells of these lines.

    A cell that an edge crosses holds its part of the turns: a grid as coarse as the 3-D one has no line for each edge
    of many single conductors, and a turn more or less would be a net current.
    """
    shares = _covered(edges, x)[:, None] * _covered((block.bottom, block.top), y)
    return np.asarray(shares * (block.share / block.area), dtype=np.float64)


def _covered(edges: tuple[float, float], lines: Floats) -> Floats:
    """Return which part of each interval between lines (n + 1,) lies between two edges, (n,) [-]."""
    return np.diff(np.clip(lines, *edges)) / np.diff(lines)


def planar_slice(
    core: Framed,
    blocks: Sequence[Block],
    ampere_turns: Sequence[float],
    *,
    mu_r: float = 4000.0,
    shunts: Sequence[ShuntBar] = (),
    resolution: float = 2.0,
) -> SliceField:
    """Solve the planar slice through the laminations: the right half, or the whole where left and right differ.

    Parameters
    ----------
    core
        The iron.
    blocks
        Those of the windings.
    ampere_turns
        Of each winding [A].
    mu_r
        Relative permeability of the core [-].
    shunts
        Shunt bars.
    resolution
        Cells per length relative to the 3-D model's default [-].

    Returns
    -------
    The field; its fluxes per turn are per metre of stack and for one side of the turns [Wb/m], the mean of both where
    they differ.
    """
    frame = core.frame
    grid = end_region_grid(frame, blocks, shunts, mu_r=mu_r, resolution=resolution)
    densities = [
        [
            sum(
                (
                    side
                    * frame.leg_at(b.leg_axis).direction
                    * _turns_density(b, side_edges(frame, b, side), grid.x, grid.y)
                    for b in blocks_of(blocks, name)
                ),
                np.zeros(grid.mu_r.shape[:2]),
            )
            for name in winding_names(blocks)
        ]
        for side in ((1,) if grid.copies == 4 else (1, -1))
    ]
    return _slice_field(grid.x, grid.y, grid.mu_r[:, :, 0], densities, ampere_turns, axisymmetric=False)


def end_radius(core: Framed) -> float:
    """Return the radius of the cylinder that has the leg's perimeter [m].

    Parameters
    ----------
    core
        The iron.
    """
    frame = core.frame
    return (frame.wound_leg.width + frame.stack_depth) / pi


def end_slice(
    core: Framed,
    blocks: Sequence[Block],
    ampere_turns: Sequence[float],
    *,
    mu_r: float = 4000.0,
    resolution: float = 2.0,
) -> SliceField:
    """Solve the axisymmetric slice past the leg's end.

    The leg with both yokes' height is a solid cylinder of the leg's perimeter, (leg + stack) / pi in radius; the coils
    keep their clearance to the leg's end face.

    Parameters
    ----------
    core
        The iron.
    blocks
        Those of the windings, all on the leg at x = 0.
    ampere_turns
        Of each winding [A].
    mu_r
        Relative permeability of the core [-].
    resolution
        Cells per length relative to the 3-D model's default [-].

    Returns
    -------
    The field; its fluxes per turn are all round [Wb].
    """
    radius = end_radius(core)
    r, y, permeability = axisymmetric_grid(core, radius, blocks, mu_r=mu_r, resolution=resolution)
    densities = [
        sum(
            (
                _turns_density(b, (radius + b.end_clearance, radius + b.end_clearance + b.build), r, y)
                for b in blocks_of(blocks, name)
            ),
            np.zeros(permeability.shape),
        )
        for name in winding_names(blocks)
    ]
    return _slice_field(r, y, permeability, [densities], ampere_turns, axisymmetric=True)
