"""Electromagnetic forces between the windings in the leakage state, and what holds them at a short circuit's peak."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from fem.characteristics.leakage import Leakage
from geometries.core_types import AnyCore


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingForces:
    """Forces on a winding at one instant; of several coils, on the one where they are largest.

    Parameters
    ----------
    winding
        Its name.
    along
        Along the leg, towards the upper yoke where positive: on the whole coil [N].
    along_in_window
        The part of it on the two sides in the windows [N].
    across
        Sum over the whole turn of the force away from the leg: what the turn's stiffness and banding must hold [N].
    across_in_window
        The part of it on the two sides in the windows [N].
    """

    winding: str
    along: float
    along_in_window: float
    across: float
    across_in_window: float


def winding_forces(leakage: Leakage, core: AnyCore, ampere_turns: float) -> tuple[WindingForces, WindingForces]:
    """Return the forces on both windings.

    Parameters
    ----------
    leakage
        Of the arrangement.
    core
        The core.
    ampere_turns
        At the instant asked for, such as the first peak of a short circuit [A].

    Notes
    -----
    The force per metre in the window counts for the stack's depth on both sides. For the end turns it is reduced by the
    ratio of the leakage energy per metre there to that in the window: F = 2 depth F' (permeance / window permeance).
    Force goes with the square of the field as energy does; how it is spread round the end turn is not told.
    """
    in_window = 2 * core.stack_depth * ampere_turns**2
    scale = leakage.permeance / leakage.window_permeance
    coils = [
        WindingForces(
            winding=f.winding,
            along=in_window * f.along_per_m * scale,
            along_in_window=in_window * f.along_per_m,
            across=in_window * f.across_per_m * scale,
            across_in_window=in_window * f.across_per_m,
        )
        for f in leakage.forces
    ]
    names = dict.fromkeys(coil.winding for coil in coils)
    first, second = (_hardest([coil for coil in coils if coil.winding == name]) for name in names)
    return first, second


def _hardest(coils: Sequence[WindingForces]) -> WindingForces:
    """Return the largest forces of a winding's coils, along and across from whichever coil has them."""
    along, across = max(coils, key=lambda c: abs(c.along)), max(coils, key=lambda c: abs(c.across))
    return replace(along, across=across.across, across_in_window=across.across_in_window)
