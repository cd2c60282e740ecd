"""What the leakage field tells of forces and of the loss it makes in thin conductors: numbers without turns.

Forces are int J x B over a coil's sides (`field/static/force.py`) per squared ampere-turn, as J and B both go with the
ampere-turns in linear iron; eddy losses go with the means of Bx^2 and By^2 over a winding's blocks, weighted by turns.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.elements import QUADRATURE
from fem.field.static.force import flux_density_components, lorentz_force_per_m, stress_force_per_m
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
    stress_difference
        Difference from the force by Maxwell's stress on its right side, relative to its size [-]: a check of the mesh,
        some 1e-3 with a millimetre of air all round and up to 0.2 with a tenth, where the stress in one layer of
        elements is the poorer of the two (the force by currents is within 2 % there). None where the block has no air
        all round or it was not asked for.
    """

    winding: str
    coil: str
    across_per_m: float
    along_per_m: float
    sideways_per_m: float
    stress_difference: float | None


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
    field: SolvedField, *, senses: tuple[tuple[str, int], ...], ampere_turns: float = 1.0, with_stress: bool = True
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
    with_stress
        Whether to check them by Maxwell's stress.

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
        forces += [_coil_force(field, name, coil, sign * ampere_turns, with_stress) for coil in coils]
    return tuple(forces)


def _coil_force(field: SolvedField, winding: str, coil: str, ampere_turns: float, with_stress: bool) -> BlockForce:
    grid = field.model.fine
    sides: dict[str, list[Floats]] = {RIGHT: [], LEFT: []}
    by_current, by_stress = np.zeros(2), np.zeros(2)
    for k, r in enumerate(grid.regions):
        if r.coil == coil:
            elements = np.flatnonzero(grid.region == k)
            force = lorentz_force_per_m(grid.problem, field.fine.A, elements, ampere_turns * r.sense * r.share)
            side = RIGHT if r.name.endswith(RIGHT) else LEFT
            sides[side].append(force / ampere_turns**2)
            if with_stress and side == RIGHT:
                by_current += force
                in_air = _in_air(field, k)
                by_stress += stress_force_per_m(grid.problem, field.fine.A, elements) if in_air else np.nan
    right: Floats = np.sum(sides[RIGHT], axis=0)
    left: Floats = np.sum(sides[LEFT], axis=0) if sides[LEFT] else right * (-1, 1)
    difference = float(np.linalg.norm(by_stress - by_current) / np.linalg.norm(by_current)) if with_stress else np.nan
    return BlockForce(
        winding=winding,
        coil=coil,
        across_per_m=float(right[0] - left[0]) / 2,
        along_per_m=float(right[1] + left[1]) / 2,
        sideways_per_m=float(right[0] + left[0]),
        stress_difference=None if np.isnan(difference) else difference,
    )


def _in_air(field: SolvedField, index: int) -> bool:
    """Return whether a block has air on all sides: for the stress there must be a layer of it."""
    block, section = field.model.mesh.section.regions[index], field.model.mesh.section
    x0, y0, x1, y1 = section.outline
    clear = 1e-6
    if block.x0 - x0 < clear or x1 - block.x1 < clear or block.y0 - y0 < clear or y1 - block.y1 < clear:
        return False
    return all(
        max(r.x0 - block.x1, block.x0 - r.x1, r.y0 - block.y1, block.y0 - r.y1) > clear
        for k, r in enumerate(section.regions)
        if k != index
    )
