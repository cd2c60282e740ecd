"""What the leakage field tells of forces and of the loss it makes in thin conductors: numbers without turns.

Forces are int J x B over a coil's sides (`field/static/force.py`) per squared ampere-turn, as J and B both go with the
ampere-turns in linear iron; eddy losses go with the means of Bx^2 and By^2 over a winding's blocks, weighted by turns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.elements import QUADRATURE
from fem.field.static.force import flux_density_components, lorentz_force_per_m
from fem.field.static.model import SolvedField
from geometries.shapes.section import Role

RIGHT, LEFT = " right", " left"
"""How the regions of a coil's two sides are called after it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockForce:
    """Force on a coil per metre of its two straight sides and per squared ampere-turn of its winding.

    Parameters
    ----------
    winding
        Name of the winding it belongs to.
    coil
        Its own name.
    across_per_m
        Away from the leg it surrounds where positive: mean of both sides [N/(m A2)].
    along_per_m
        Along the leg, towards the upper yoke where positive: mean of both sides [N/(m A2)].
    sideways_per_m
        Towards +x where positive: sum of both sides, with which the coil as a whole is pushed against the leg or away
        from another one; 0 where leg and windows are the same on both sides [N/(m A2)].
    """

    winding: str
    coil: str
    across_per_m: float
    along_per_m: float
    sideways_per_m: float


def mean_squares(field: SolvedField, winding: str) -> tuple[float, float]:
    """Return the mean of Bx^2 and By^2 over a winding's turns in a static field (its own units squared) [T2]."""
    grid = field.model.fine
    space, geometry = grid.problem.space, grid.problem.geometry
    total, sums = 0.0, np.zeros(2)
    for k, region in enumerate(grid.regions):
        if region.role is not Role.CONDUCTOR or region.winding != winding:
            continue
        elements = np.flatnonzero(grid.region == k)
        squares = np.abs(flux_density_components(space, geometry, field.fine.A, elements)) ** 2
        det = geometry.determinant[elements]
        sums += abs(region.share) * (QUADRATURE[1] @ squares @ det) / (0.5 * float(det.sum()))
        total += abs(region.share)
    if total == 0.0:
        msg = f"the section has no block of {winding!r}"
        raise ValueError(msg)
    x, y = sums / total
    return float(x), float(y)


def block_forces(
    field: SolvedField, *, senses: tuple[tuple[str, int], ...], ampere_turns: float = 1.0
) -> tuple[BlockForce, ...]:
    """Return the force on each coil of the windings: the currents' in the field they make together.

    Parameters
    ----------
    field
        The static field at the same ampere-turns in each winding, signed as in `senses`.
    senses
        Each winding's name and the sign of its ampere-turns.
    ampere_turns
        How many there are [A]: forces are told per square of them.

    Raises
    ------
    ValueError
        If a winding has no coil.

    Notes
    -----
    The integral of J x B over both sides of the coil. In a halved section the side that is not meshed is the other's
    mirror image.
    """
    regions = field.model.mesh.section.regions
    forces = []
    for name, sign in senses:
        coils = dict.fromkeys(r.coil for r in regions if r.winding == name and r.coil is not None)
        if not coils:
            msg = f"{name}: no coil in the section"
            raise ValueError(msg)
        forces += [_coil_force(field, name, coil, sign * ampere_turns) for coil in coils]
    return tuple(forces)


def _coil_force(field: SolvedField, winding: str, coil: str, ampere_turns: float) -> BlockForce:
    grid = field.model.fine
    sides: dict[str, list[Floats]] = {RIGHT: [], LEFT: []}
    for k, r in enumerate(grid.regions):
        if r.coil == coil:
            elements = np.flatnonzero(grid.region == k)
            force = lorentz_force_per_m(grid.problem, field.fine.A, elements, ampere_turns * r.sense * r.share)
            side = RIGHT if r.name.endswith(RIGHT) else LEFT
            sides[side].append(force / ampere_turns**2)
    right: Floats = np.sum(sides[RIGHT], axis=0)
    left: Floats = np.sum(sides[LEFT], axis=0) if sides[LEFT] else right * (-1, 1)
    return BlockForce(
        winding=winding,
        coil=coil,
        across_per_m=float(right[0] - left[0]) / 2,
        along_per_m=float(right[1] + left[1]) / 2,
        sideways_per_m=float(right[0] + left[0]),
    )
