"""Electromagnetic forces between the windings in the leakage state, and what holds them at a short circuit's peak.

On a whole coil, along the leg and likewise across it,

    force = 2 depth f F^2 scale,    scale = P / P_window, but at most (mean turn) / (2 depth),

f the planar force per metre of a side and squared ampere-turn, F the ampere-turns at that instant [A], P and P_window
the leakage permeance and its planar part; see the notes of `coil_forces`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.characteristics.leakage.permeance import Leakage
from fem.characteristics.leakage.planar import BlockForce
from fem.digits import brief
from fem.errors import OutOfRange
from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block

NOISE = 1e-3
"""Share of the largest force below which another is what the mesh leaves of none: by Maxwell's stress and by J x B they
differ by 4.5e-3 of the largest (tests/physics/test_force_arrangements.py)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CoilForce:
    """Force on one coil at one instant, on all of its turns.

    Of two cores behind each other a primary's coil is one core's, the secondary's is that round both.

    Parameters
    ----------
    winding
        Name of the winding it belongs to.
    coil
        Its own name.
    along
        Along the leg, towards the upper yoke where positive: on the whole coil [N].
    along_in_window
        The part of it on the two straight sides, as long as the stack is deep, in the windows or beside the leg [N].
    across
        Sum over the whole turn of the force away from the leg: what the turn's stiffness and banding must hold [N].
        Its tension is this over 2 pi.
    sideways
        Force on the coil as a whole across the leg, towards +x where positive, on its two straight sides [N]: what its
        bobbin and wedges must hold. The end turns' pull one way and the other. 0 where both sides of the leg are alike.
    """

    winding: str
    coil: str
    along: float
    along_in_window: float
    across: float
    sideways: float


def coil_forces(leakage: Leakage, core: AnyCore, blocks: Sequence[Block], ampere_turns: float) -> tuple[CoilForce, ...]:
    """Return the force on every coil, in the order of the blocks.

    Parameters
    ----------
    leakage
        Of the arrangement.
    core, blocks
        The core, and where the windings sit.
    ampere_turns
        Of either winding at the instant asked for, such as the first peak of a short circuit [A].

    Raises
    ------
    OutOfRange
        If with shunts there are more ampere-turns than the leakage was solved for.

    Notes
    -----
    The planar field's force per metre counts for the stack's depth on both sides. With shunts it is that of the field
    with saturating iron, interpolated between the ampere-turns at which it was solved.

    For the end turns it is raised in the ratio of the whole leakage to the planar one, as force goes with the square of
    the field as energy does; but no further than the turn is longer than its straight sides, because out there turns
    lie in no stronger field than beside the leg: far from the coils energy holds nothing. With shunts, which hold
    energy of their own, it is raised as the turn is longer.

    Against the slope of the 3-D permeance where a coil is displaced (tests/physics/test_force_arrangements.py): along
    the leg within 10 % for coils side by side and the end coils of interleaved ones; across it within 15 % for
    concentric ones and up to 30 % too high for coils on legs of their own; with shunts up to 45 % too high while they
    are not saturated.
    A component that is a small part of a coil's force may be wrong by its own size.
    """
    found = []
    frame = core.frame
    for block in blocks:
        force = _force_of(leakage, block.name, abs(ampere_turns))
        sides = 2 * frame.iron_within(block)
        in_window = sides * ampere_turns**2
        longer = block.mean_turn(*frame.surrounded(block)) / sides
        scale = longer if leakage.shunted_forces else min(longer, leakage.permeance / leakage.window_permeance)
        found.append(
            CoilForce(
                winding=block.winding,
                coil=block.name,
                along=in_window * force.along_per_m * scale,
                along_in_window=in_window * force.along_per_m,
                across=in_window * force.across_per_m * scale,
                sideways=in_window / 2 * force.sideways_per_m,
            )
        )
    return tuple(found)


def largest_forces(forces: Sequence[CoilForce]) -> tuple[float, float]:
    """Return the largest sizes over all coils, each from whichever coil has it.

    Parameters
    ----------
    forces
        On every coil.

    Returns
    -------
    `along`, and across the leg the larger of `across` and `sideways` [N]; 0 where the field could not tell.
    """
    along, across = max(abs(f.along) for f in forces), max(max(abs(f.across), abs(f.sideways)) for f in forces)
    least = NOISE * max(along, across)
    return along if along > least else 0.0, across if across > least else 0.0


def _force_of(leakage: Leakage, coil: str, ampere_turns: float) -> BlockForce:
    """Return a coil's force per squared ampere-turn: the linear field's, or with shunts that at the ampere-turns."""
    (linear,) = (f for f in leakage.forces if f.coil == coil)
    if not leakage.shunted_forces or leakage.ampere_turns is None:
        return linear
    at = leakage.ampere_turns[1:]
    curve = [next(f for f in forces if f.coil == coil) for forces in leakage.shunted_forces]
    if ampere_turns > at[-1]:
        msg = f"forces with shunts are known up to {brief(at[-1])} ampere-turns, not at {brief(ampere_turns)}"
        raise OutOfRange(msg)
    log_at, log_F = np.log(at), np.log(max(ampere_turns, at[0]))

    def between(values: list[float]) -> float:
        return float(np.interp(log_F, log_at, values))

    return BlockForce(
        winding=linear.winding,
        coil=coil,
        across_per_m=between([f.across_per_m for f in curve]),
        along_per_m=between([f.along_per_m for f in curve]),
        sideways_per_m=between([f.sideways_per_m for f in curve]),
    )
