"""Leakage as a single number from two-dimensional slices: a cross-check of the 3-D solver.

A turn lies in the stack for twice its depth, where the planar slice holds; round the leg's end faces the axisymmetric
slice holds; in between, at each corner of a leg towards a window, the window's iron still shapes the field for a length
of about k = `CORNER_REACH` times the window's width w. On a two-leg core there are two such corners instead of four:
on the other side the field beside the leg is much as it is round its end. So, of n corners,

    P = 2 depth P' + n k w P' + (l_outside - n k w) P_round / l_round    [H],

P' the permeance of one side per metre of stack by the planar slice [H/m] (at the corners that of the window's side),
P_round that of the axisymmetric one and l_round its mean turn, l_outside the mean turn's length outside the stack. The
make-up is our own, k is fitted to five cores in three dimensions. With shunts, which do not turn the corner, P' at the
corners is that without them, and what they add goes on at four ends as far as their gaps conduct (`gap_reach`).
"""

from collections.abc import Sequence
from math import log, pi

import numpy as np

from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.slices import end_radius, end_slice, planar_slice
from geometries.shapes.blocks import Block, blocks_of, winding_names
from geometries.shapes.frame import Framed

CORNER_REACH = 0.40
"""Length of a corner that still has the window's field, over the window's width: fitted to five cores in 3-D."""


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

    References
    ----------
    A. Balakrishnan, W. T. Joines and T. G. Wilson, IEEE Trans. Power Electron. 12 (1997) 654 (from memory): past an
    edge with a flank h high over a plane at g / 2 the permeance per metre is mu0 / pi (1 + ln(pi h / 2 g)).
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
) -> float:
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
    The permeance [H].

    Raises
    ------
    ValueError
        If something does not fit the window, the value without shunts is missing, or there is no recipe.
    """
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
    return window + corners + ends
