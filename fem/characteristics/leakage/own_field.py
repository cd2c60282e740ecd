"""What turns that are single conductors hold in their own field beyond an even block of the same ampere-turns.

A block spreads each conductor's current over its whole cell. Per metre of each of n conductors with the ampere-turns
1/n the inductance is higher by mu0 / (2 pi) K / n^2, so that of the winding per turn squared by

    P = mu0 / (2 pi) K length / n,    K = ln(g_cell / g_conductor) + E,

g the geometric mean distances of cell and conductor from themselves: 0.3894 of a circle's diameter, 0.2235 of the sum
of a rectangle's sides. E is for neighbours, which are farther from each other than their cells are.

References
----------
E. B. Rosa and F. W. Grover, Bull. Bureau of Standards 8 (1911) 1, correction for insulation: ln(D / d) + 0.1381 + E for
round wire of diameter d in square cells of side D; E is 0.0065 for two turns and 0.018 for many (from memory).
"""

from __future__ import annotations

from math import exp, log, pi

from fem.constants import MU0
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed

CIRCLE, RECTANGLE = exp(-0.25) / 2, 0.2235
"""Geometric mean distance over a circle's diameter, over the sum of a rectangle's sides."""
NEIGHBOURS = 0.017
"""E of some twenty round wires and more."""


def own_field(
    core: Framed, block: Block, *, conductors: int, layers: int, width: float, height: float, circular: bool
) -> tuple[float, float]:
    """Return what to add to the leakage permeance for a block that stands for single conductors [H].

    In the windows or beside the leg, and in the end turns; of two cores the primaries of both.

    Parameters
    ----------
    core
        The iron.
    block
        The coil.
    conductors, layers
        In one window, turns times wires in hand, and in how many layers [-].
    width, height
        Bare size of a conductor across the build and along the leg [m].
    circular
        Whether it is round.
    """
    cell = RECTANGLE * (block.build / layers + block.height * layers / conductors)
    own = CIRCLE * width if circular else RECTANGLE * (width + height)
    K = log(cell / own) + (NEIGHBOURS if circular else 0.0)
    frame = core.frame
    inside = 2 * frame.iron_depth
    whole = block.mean_turn(*frame.surrounded(block)) * (1 if block.round_both else frame.stacks)
    per_m = MU0 / (2 * pi) * max(K, 0.0) * block.share**2 / conductors
    return per_m * inside, per_m * (whole - inside)
