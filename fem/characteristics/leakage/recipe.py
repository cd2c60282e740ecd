"""End turns as single numbers: leakage and excitation from two-dimensional slices, a cross-check of the 3-D solver.

A turn lies in the stack for twice its depth, where the planar slice holds; round the leg's end faces the axisymmetric
slice holds; in between, at each of the four corners, the windows' iron still shapes the field for a length of about k
times the window's width. On a two-leg core only the two corners towards the window are such: on the other side the
field beside the leg is much as it is round its end.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, pi

import numpy as np

from fem.characteristics.leakage.whole import check_arrangement, fluxes_per_turn
from fem.characteristics.magnetising.ends import END_RESOLUTION
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.slices import end_radius, end_slice, planar_slice
from geometries.shapes.blocks import Block, blocks_of, winding_names
from geometries.shapes.frame import Framed

CORNER_REACH = 0.40
"""Length of a corner that still has the window's field, over the window's width: fitted to five cores in 3-D."""
BAND = 0.03
"""Relative band of the recipe: on other shell cores, legs 30 to 45 mm, it was -2.2 to +2.1 % off the 3-D value."""
TWO_LEG_BAND = 0.04
"""On two-leg cores, legs 20 to 50 mm: -3.0 to -1.8 % side by side, +0.4 to +1.0 % concentric."""


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
    core: Framed, blocks: Sequence[Block], *, mu_r: float = 4000.0, shunts: Sequence[ShuntBar] = ()
) -> float:
    """Compute the leakage of one side of the windings per metre of stack with linear iron.

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
    Flux per turn and ampere-turn [H/m] in a window; the mean of both sides of the leg where they differ.

    Raises
    ------
    ValueError
        If something does not fit the window.
    """
    check_arrangement(core, blocks, shunts, mu_r=mu_r, resolution=1.0)
    first, second = planar_slice(core, blocks, (1.0, -1.0), mu_r=mu_r, shunts=shunts).fluxes_per_turn
    return float(first - second)


def _outside(core: Framed, blocks: Sequence[Block]) -> float:
    """Return the mean turn's length outside the stack [m], the mean of the windings."""
    turns = [core.frame.mean_turn(blocks_of(blocks, name)) for name in winding_names(blocks)]
    return float(np.mean(turns)) - 2 * core.frame.stack_depth


def _circumference(core: Framed, blocks: Sequence[Block]) -> float:
    """Return the mean turn's length in the axisymmetric slice [m], the mean of the windings."""
    radii = []
    for name in winding_names(blocks):
        mine = blocks_of(blocks, name)
        shares = [abs(b.share) for b in mine]
        radii.append(np.average([end_radius(core) + b.end_clearance + b.build / 2 for b in mine], weights=shares))
    return 2 * pi * float(np.mean(radii))


def no_recipe_reason(core: Framed, blocks: Sequence[Block]) -> str | None:
    """Return why the recipe does not hold for an arrangement; None where it does.

    Parameters
    ----------
    core
        The iron.
    blocks
        Those of the windings.
    """
    if core.frame.stacks > 1:
        return "what two cores have between them no slice shows"
    if any(block.leg_axis for block in blocks):
        return "windings on different legs leak from yoke to yoke round the whole core, which no slice shows"
    if len(core.frame.legs) > 3:
        return f"the recipe knows cores of two and three legs, this one has {len(core.frame.legs)}"
    return None


def end_recipe(
    core: Framed,
    blocks: Sequence[Block],
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
        Leakage of one side of the windings per metre of stack [H/m], the mean of both where they differ, with
        the shunts if there are any.
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
        If something does not fit the window, the value without shunts is missing, or there is no recipe.
    """
    check_arrangement(core, blocks, shunts, mu_r=1.0, resolution=1.0)
    if reason := no_recipe_reason(core, blocks):
        raise ValueError(reason)
    frame = core.frame
    plain = window_per_m
    bar_reach = 0.0
    if shunts:
        if unshunted_window_per_m is None:
            msg = "with shunts the window's leakage without them is needed too"
            raise ValueError(msg)
        plain = unshunted_window_per_m
        bar_reach = float(np.mean([gap_reach(max(bar.leg_gap, bar.outer_leg_gap), bar.height) for bar in shunts]))
    first, second = end_slice(core, blocks, (1.0, -1.0)).fluxes_per_turn
    number = 2 * len(frame.windows)
    corner = number * CORNER_REACH * frame.window_width
    window = 2 * frame.stack_depth * window_per_m
    beside = plain
    if len(frame.windows) == 1:
        inner = planar_slice(core, blocks, (1.0, -1.0)).by_side[0]
        beside = float(inner[0] - inner[1])
    corners = corner * beside + 4 * bar_reach * (window_per_m - plain)
    ends = (_outside(core, blocks) - corner) * float(first - second) / _circumference(core, blocks)
    return RecipeLeakage(permeance=window + corners + ends, window=window, corners=corners, ends=ends)


def exciting_end_recipe(core: Framed, block: Block, *, mu_r: float = 4000.0) -> float:
    """Estimate the end turns' permeance of one energised block in a shell core with a joint gap.

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
        If the core has no gap or other than three legs, or the block does not fit.
    """
    check_arrangement(core, (block,), (), mu_r=mu_r, resolution=1.0)
    frame = core.frame
    if not frame.joint_gap or len(frame.legs) != 3:
        msg = f"the recipe needs three legs and a joint gap, got {len(frame.legs)} and {frame.joint_gap} m"
        raise ValueError(msg)
    field = planar_slice(core, (block,), (1.0,), mu_r=mu_r)
    whole = float(field.fluxes_per_turn[0])
    # Flux through the upper yoke above the middle of a window: the difference of A between its two edges.
    middle = np.argmin(np.abs(field.x - sum(frame.windows[-1]) / 2))
    top = frame.window_height
    lower, upper = (np.argmin(np.abs(field.y - y)) for y in (top, top + frame.yoke_height))
    through = float(abs(field.psi[middle, lower] - field.psi[middle, upper]))
    corner = 4 * CORNER_REACH * frame.window_width
    ends = float(end_slice(core, (block,), (1.0,), mu_r=mu_r).fluxes_per_turn[0]) / _circumference(core, (block,))
    return (
        4 * gap_reach(frame.joint_gap, frame.yoke_height) * through
        + corner * (whole - through)
        + (_outside(core, (block,)) - corner) * ends
    )


def exciting_end_permeance(core: Framed, block: Block, *, mu_r: float = 4000.0) -> float:
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
    grids = grid, grid.slab(core)
    whole, planar = (fluxes_per_turn(g, core, (block,), (1.0,))[0][0] for g in grids)
    return float(whole - planar)
