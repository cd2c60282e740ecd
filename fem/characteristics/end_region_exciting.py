"""End turns of one energised winding, from unsaturated iron in a gapped core down to iron no better than air.

The end turns' flux per ampere-turn falls several times over as the iron saturates, depends on where it does, and rises
with a joint gap, so no constant serves. Stiffness and sources are linear in the permeabilities of centre leg, outer
legs and yokes: a few solved fields span the rest, and any combination then costs a small dense solve.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.characteristics.end_region import check_arrangement
from fem.characteristics.end_region_grid import TensorGrid, end_region_grid
from fem.characteristics.end_region_shape import CoreShape
from fem.characteristics.end_region_space import SpdFamily, brick_space, stiffness_matrix, symmetric, winding_sources
from geometries.blocks import Block

Floats = NDArray[np.float64]

END_RESOLUTION = 0.6
"""Cells per length relative to the leakage's default; the difference with the slab on the same lines keeps the end part
within about 3 %, which is less than 0.5 % of the winding's inductance."""
THINNEST_JOINT = 0.03
"""Joint that is still resolved, over window width. Resolving one of 0.005 took three times as long and changed the
winding's inductance by 0.2 %."""

SCALES = np.geomspace(1.0, 2e4, 60)
"""Permeabilities tabulated along a ray of fixed ratios between the parts."""


@dataclass(frozen=True, kw_only=True, slots=True)
class IronMu:
    """Relative permeability of the three parts of a shell core [-]; incremental where a slope is asked for."""

    leg: float = 1.0
    outer_legs: float = 1.0
    yokes: float = 1.0


def _weights(mu: IronMu) -> Floats:
    """Return the permeabilities of air, leg, outer legs and yokes."""
    return np.array([1.0, mu.leg, mu.outer_legs, mu.yokes])


SNAPSHOTS = (
    *(IronMu(leg=mu, outer_legs=mu, yokes=mu) for mu in (1.0, 8.0, 60.0, 500.0, 8000.0)),
    IronMu(leg=2, outer_legs=10, yokes=200),
    IronMu(leg=10, outer_legs=100, yokes=1000),
    IronMu(leg=100, outer_legs=10, yokes=200),
    IronMu(leg=400, outer_legs=400, yokes=4000),
    IronMu(leg=1000, outer_legs=1000, yokes=100),
)
"""Iron solved for: evenly saturated, and the leg, the outer legs or the yokes ahead of or behind the rest."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Reduced:
    """The problem in the span of a few fields: parts air, leg, outer legs, yokes along the first axis."""

    stiffness: Floats
    loads: Floats
    products: Floats

    def permeances(self, weights: Floats) -> Floats:
        """Return the flux each block links per ampere-turn of the first [H], (n, blocks), at permeabilities (n, 4)."""
        loads = np.einsum("np,pib->nib", weights, self.loads)
        fields = np.linalg.solve(np.tensordot(weights, self.stiffness, 1), loads[:, :, :1])[:, :, 0]
        found: Floats = weights @ self.products - np.einsum("nib,ni->nb", loads, fields)
        return found


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ExcitingEnd:
    """Flux per turn and ampere-turn of one energised block: in the stack, and what three dimensions add to it.

    Parameters
    ----------
    whole, slab
        Reduced 3-D problem and reduced planar problem times the stack's depth.
    """

    whole: _Reduced
    slab: _Reduced

    def planar_permeance(self, mu: IronMu) -> float:
        """Return the planar slice's permeance times the stack's depth [H].

        Parameters
        ----------
        mu
            Of the iron.
        """
        return float(self.slab.permeances(_weights(mu)[None])[0, 0])

    def end_permeance(self, mu: IronMu) -> float:
        """Return what three dimensions add to the planar permeance [H].

        Parameters
        ----------
        mu
            Of the iron.
        """
        weights = _weights(mu)[None]
        return float((self.whole.permeances(weights) - self.slab.permeances(weights))[0, 0])

    def end_of_planar(self, planar: Floats, ratios: IronMu | None = None) -> Floats:
        """Return the end permeance of each block that goes with a planar permeance; constant beyond mu_r of 1 to 2e4.

        Parameters
        ----------
        planar
            Planar flux per turn over ampere-turns, or its slope, times the stack's depth [H].
        ratios
            Permeabilities of the parts relative to each other; uniform iron where not given.

        Returns
        -------
        End turns' flux per turn over ampere-turns, or its slope, (n, blocks) [H].
        """
        ray = _weights(ratios or IronMu())[1:]
        ray = np.column_stack((np.ones_like(SCALES), SCALES[:, None] * ray / ray.min()))
        known = self.slab.permeances(ray)
        ends = self.whole.permeances(ray) - known
        at, table = np.log(planar), np.log(known[:, 0])
        return np.stack([np.interp(at, table, column) for column in ends.T], axis=-1)

    def end_flux_per_turn(self, ampere_turns: Floats, planar_flux_per_turn: Floats) -> Floats:
        """Return the end turns' flux along a planar magnetisation curve, as if the iron saturated evenly.

        The end turns' slope follows from the planar curve's slope, since a small change on top of a saturated state
        sees the iron's incremental permeability: in full saturation the winding's air-core value remains.

        Parameters
        ----------
        ampere_turns
            Rising from 0 (n,) [A].
        planar_flux_per_turn
            Planar slice's flux per turn times the stack's depth, from 0 (n,) [Wb].

        Returns
        -------
        Flux per turn to be added (n,) [Wb].

        Raises
        ------
        ValueError
            If the curve does not rise from (0, 0).
        """
        steps = np.diff(ampere_turns)
        if ampere_turns[0] != 0 or planar_flux_per_turn[0] != 0 or not (steps > 0).all():
            msg = f"the curve must rise from (0, 0), it starts at ({ampere_turns[0]}, {planar_flux_per_turn[0]})"
            raise ValueError(msg)
        slopes = self.end_of_planar(np.diff(planar_flux_per_turn) / steps)[:, 0]
        return np.concatenate(([0.0], np.cumsum(slopes * steps)))


def _parts(grid: TensorGrid, core: CoreShape, joint_mu_r: float) -> list[Floats]:
    """Return the permeability each cell contributes as air (joints included), centre leg, outer legs and yokes.

    The grid's iron cells are those above 1. A joint lies above the iron of each leg.
    """
    across = np.abs(grid.x[1:] + grid.x[:-1])[:, None, None] / 2
    along = (grid.y[1:] + grid.y[:-1])[None, :, None] / 2
    iron = grid.mu_r > 1
    between = iron & (along > 0) & (along < core.window_height)
    inner = across < (core.leg_width + core.window_width) / 2
    air = (~iron).astype(np.float64)
    if core.joint_gap:
        start = core.window_height - core.joint_gap
        of_leg = iron[:, np.flatnonzero(along.ravel() < start)[-1], :][:, None, :]
        air[of_leg & (along > start) & (along < core.window_height)] = joint_mu_r
    return [air, *(cells.astype(np.float64) for cells in (between & inner, between & ~inner, iron & ~between))]


def _reduced(grid: TensorGrid, core: CoreShape, blocks: Sequence[Block], joint_mu_r: float) -> _Reduced:
    """Solve at the snapshots and project on their span; the energy stays an upper bound of the grid's own."""
    numbered = brick_space(grid)
    spaces = [replace(numbered, grid=replace(grid, mu_r=cells)) for cells in _parts(grid, core, joint_mu_r)]
    matrices = [stiffness_matrix(space) for space in spaces]
    sources = [winding_sources(space, core, blocks) for space in spaces]
    loads = np.stack([source.loads for source in sources])
    weights = [_weights(mu) for mu in SNAPSHOTS]
    systems = [sum((w * m for w, m in zip(weight[1:], matrices[1:], strict=True)), matrices[0]) for weight in weights]
    family = SpdFamily(systems[0])
    fields = [family.solve(system, weight @ loads[:, :, 0]) for system, weight in zip(systems, weights, strict=True)]
    basis = np.linalg.qr(np.stack(fields, axis=1))[0]
    return _Reduced(
        stiffness=grid.copies * np.stack([basis.T @ symmetric(matrix, basis) for matrix in matrices]),
        loads=grid.copies * np.einsum("pkb,ki->pib", loads, basis),
        products=grid.copies * np.stack([source.products[0] for source in sources]),
    )


def exciting_end(core: CoreShape, blocks: Sequence[Block], *, resolution: float = END_RESOLUTION) -> ExcitingEnd:
    """Compute the end turns' flux of one energised block over the permeabilities of the iron.

    Parameters
    ----------
    core
        The iron, with its joint gap.
    blocks
        The energised winding, then any others that link its flux.
    resolution
        Cells per length relative to the leakage's default [-].

    Returns
    -------
    The reduced problems.

    Raises
    ------
    ValueError
        If a block does not fit the window or resolution is not positive.

    Notes
    -----
    A gap thinner than `THINNEST_JOINT` is stretched to it and filled with iron just good enough
    to leave its reluctance: what it drives round the ends is its magnetomotive force, not its own fringe.
    """
    check_arrangement(core, blocks, (), mu_r=1.0, resolution=resolution)
    joint_mu_r = 1.0
    if 0 < core.joint_gap < (layer := THINNEST_JOINT * core.window_width):
        joint_mu_r = layer / core.joint_gap
        core = replace(core, joint_gap=layer)
    grid = end_region_grid(core, blocks, (), mu_r=2.0, resolution=resolution, resolve_gap=False)
    return ExcitingEnd(
        whole=_reduced(grid, core, blocks, joint_mu_r),
        slab=_reduced(grid.slab(core.stack_depth), core, blocks, joint_mu_r),
    )
