"""End turns as single numbers: leakage and excitation from two-dimensional slices, a cross-check of the 3-D solver.

A turn lies in the stack for twice its depth, where the planar slice holds; round the leg's end faces the axisymmetric
slice holds; in between, at each of the four corners, the windows' iron still shapes the field for a length of about k
times the window's width.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, pi

import numpy as np

from fem.characteristics.end_region import check_arrangement, fluxes_per_turn
from fem.characteristics.end_region_exciting import END_RESOLUTION
from fem.characteristics.end_region_grid import end_region_grid
from fem.characteristics.end_region_plane import end_radius, end_slice, planar_slice
from fem.characteristics.end_region_shape import CoreShape, ShuntBar
from geometries.blocks import Block

CORNER_REACH = 0.40
"""Length of a corner that still has the window's field, over the window's width: fitted to five cores in 3-D."""
BAND = 0.03
"""Relative band of the recipe: on other cores, legs 30 to 45 mm, it came within -2.2 to +2.1 % of the 3-D value."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RecipeLeakage:
    """Leakage per turn squared by two-dimensional slices, windings only.

    Parameters
    ----------
    permeance
        The whole [H], within `BAND`.
    window
        Planar slice over the stack, both windows [H].
    corners
        What the corners add [H].
    ends
        Axisymmetric part round the end faces [H].
    """

    permeance: float
    window: float
    corners: float
    ends: float


def gap_reach(gap: float, height: float) -> float:
    """Return how far past its end face a gap conducts as if it went on.

    Parameters
    ----------
    gap
        Between the two faces [m].
    height
        Of the pole faces' flanks [m].

    Returns
    -------
    Equivalent length (g / 2 pi) (1 + ln(pi h / 2 g)) [m].
    """
    return gap / (2 * pi) * (1 + log(pi * height / (2 * gap)))


def window_per_m_linear(
    core: CoreShape, blocks: tuple[Block, Block], *, mu_r: float = 4000.0, shunts: Sequence[ShuntBar] = ()
) -> float:
    """Compute the leakage of one window per metre of stack with linear iron.

    Parameters
    ----------
    core
        The iron.
    blocks
        The windings, +1 and -1 A turn.
    mu_r
        Relative permeability of the core [-].
    shunts
        Shunt bars.

    Returns
    -------
    Twice the energy per metre and ampere-turn squared [H/m]; the mean of the windows where they differ.

    Raises
    ------
    ValueError
        If something does not fit the window.
    """
    check_arrangement(core, blocks, shunts, mu_r=mu_r, resolution=1.0)
    first, second = planar_slice(core, blocks, (1.0, -1.0), mu_r=mu_r, shunts=shunts).fluxes_per_turn
    return float(first - second)


def _outside(core: CoreShape, blocks: Sequence[Block]) -> float:
    """Return the mean turn's length outside the stack [m], the mean of the blocks."""
    turns = [block.mean_turn(core.leg_width, core.stack_depth) for block in blocks]
    return float(np.mean(turns)) - 2 * core.stack_depth


def _circumference(core: CoreShape, blocks: Sequence[Block]) -> float:
    """Return the mean turn's length in the axisymmetric slice [m], the mean of the blocks."""
    return 2 * pi * float(np.mean([end_radius(core) + b.end_clearance + b.build / 2 for b in blocks]))


def end_recipe(
    core: CoreShape,
    blocks: tuple[Block, Block],
    window_per_m: float,
    *,
    shunts: tuple[ShuntBar, ...] = (),
    unshunted_window_per_m: float | None = None,
) -> RecipeLeakage:
    """Estimate the leakage permeance from the window's planar slice and an axisymmetric slice round the end.

    Parameters
    ----------
    core
        The iron.
    blocks
        The windings.
    window_per_m
        Leakage of one window per metre of stack [H/m], with the shunts if there are any.
    shunts
        Shunt bars.
    unshunted_window_per_m
        The same without the shunts [H/m]; needed with shunts, since a shunt's field does not turn the corner.

    Returns
    -------
    The permeance and its parts.

    Raises
    ------
    ValueError
        If something does not fit the window, or the value without shunts is missing.
    """
    check_arrangement(core, blocks, shunts, mu_r=1.0, resolution=1.0)
    plain = window_per_m
    bar_reach = 0.0
    if shunts:
        if unshunted_window_per_m is None:
            msg = "with shunts the window's leakage without them is needed too"
            raise ValueError(msg)
        plain = unshunted_window_per_m
        bar_reach = float(np.mean([gap_reach(max(bar.leg_gap, bar.outer_leg_gap), bar.height) for bar in shunts]))
    first, second = end_slice(core, blocks, (1.0, -1.0)).fluxes_per_turn
    corner = 4 * CORNER_REACH * core.window_width
    window = 2 * core.stack_depth * window_per_m
    corners = corner * plain + 4 * bar_reach * (window_per_m - plain)
    ends = (_outside(core, blocks) - corner) * float(first - second) / _circumference(core, blocks)
    return RecipeLeakage(permeance=window + corners + ends, window=window, corners=corners, ends=ends)


def exciting_end_recipe(core: CoreShape, block: Block, *, mu_r: float = 4000.0) -> float:
    """Estimate the end turns' permeance of one energised block in a core with a joint gap.

    The flux that crosses the upper yoke goes on past the stack as far as the gap's fringe; the rest leaks from leg to
    leg and yoke, as in the leakage's recipe. With gaps of 0.1 to 1 mm the winding's inductance comes out within -3.5
    and +0.2 % of the 3-D one: prefer `exciting_end_permeance`, which costs a few tenths of a second.

    Parameters
    ----------
    core
        The iron, its joint gap above zero.
    block
        The energised winding.
    mu_r
        Relative permeability of the iron [-].

    Returns
    -------
    What to add to the planar slice times the stack's depth [H].

    Raises
    ------
    ValueError
        If the core has no gap or the block does not fit.
    """
    check_arrangement(core, (block,), (), mu_r=mu_r, resolution=1.0)
    if not core.joint_gap:
        msg = "the recipe needs a joint gap"
        raise ValueError(msg)
    field = planar_slice(core, (block,), (1.0,), mu_r=mu_r)
    whole = float(field.fluxes_per_turn[0])
    # Flux through the upper yoke above the middle of a window: the difference of A between its two edges.
    middle = np.argmin(np.abs(field.x - (core.leg_width + core.window_width) / 2))
    lower, upper = (np.argmin(np.abs(field.y - y)) for y in (core.window_height, core.window_height + core.yoke_height))
    through = float(abs(field.psi[middle, lower] - field.psi[middle, upper]))
    corner = 4 * CORNER_REACH * core.window_width
    ends = float(end_slice(core, (block,), (1.0,), mu_r=mu_r).fluxes_per_turn[0]) / _circumference(core, (block,))
    return (
        4 * gap_reach(core.joint_gap, core.yoke_height) * through
        + corner * (whole - through)
        + (_outside(core, (block,)) - corner) * ends
    )


def exciting_end_permeance(core: CoreShape, block: Block, *, mu_r: float = 4000.0) -> float:
    """Compute the end turns' permeance of one block alone with uniform, unsaturated iron.

    Parameters
    ----------
    core
        The iron, with its joint gap.
    block
        The energised winding.
    mu_r
        Relative permeability of the iron [-].

    Returns
    -------
    What three dimensions add to the planar slice times the stack's depth [H].

    Raises
    ------
    ValueError
        If the block does not fit the window or mu_r is below 1.
    """
    check_arrangement(core, (block,), (), mu_r=mu_r, resolution=1.0)
    grid = end_region_grid(core, (block,), (), mu_r=mu_r, resolution=END_RESOLUTION, resolve_gap=False)
    whole, planar = (fluxes_per_turn(g, core, (block,), (1.0,))[0][0] for g in (grid, grid.slab(core.stack_depth)))
    return float(whole - planar)
