"""What the leakage field tells of forces and of the loss it makes in thin conductors: numbers without turns."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.field.elements import QUADRATURE
from fem.field.force import flux_density_components, lorentz_force_per_m, stress_force_per_m
from fem.field.model import SolvedField
from geometries.section import Role


@dataclass(frozen=True, kw_only=True, slots=True)
class BlockForce:
    """Force on a coil's side in the right-hand window, per metre and squared ampere-turn.

    Parameters
    ----------
    winding
        Name of the winding it belongs to.
    across_per_m
        Away from the centre leg where positive [N/(m A2)].
    along_per_m
        Along the leg, towards the upper yoke where positive [N/(m A2)].
    stress_difference
        Difference from the force by Maxwell's stress relative to its size [-]: a check of the mesh, some 1e-3 with a
        millimetre of air all round and up to 0.2 with a tenth, where the stress in one layer of elements is the
        poorer of the two (the force by currents is within 2 % there). None where the block has no air all round.
    """

    winding: str
    across_per_m: float
    along_per_m: float
    stress_difference: float | None


def mean_squares(field: SolvedField, winding: str) -> tuple[float, float]:
    """Return the mean of Bx^2 and By^2 over a winding's blocks in a static field (its own units squared) [T2]."""
    grid = field.model.fine
    regions = [
        k for k, r in enumerate(field.model.mesh.section.regions) if r.role is Role.CONDUCTOR and r.winding == winding
    ]
    elements = np.flatnonzero(np.isin(grid.region, regions))
    if elements.size == 0:
        msg = f"the section has no block of {winding!r}"
        raise ValueError(msg)
    space, geometry = grid.problem.space, grid.problem.geometry
    Bx, By = flux_density_components(space, geometry, field.fine.A)[:, :, elements]
    det = geometry.determinant[elements]
    x, y = (float((QUADRATURE[1] @ np.abs(B) ** 2) @ det) / (0.5 * float(det.sum())) for B in (Bx, By))
    return x, y


def block_forces(field: SolvedField, *, senses: tuple[tuple[str, int], ...]) -> tuple[BlockForce, ...]:
    """Return the force on the right-hand side of each coil of the windings.

    Parameters
    ----------
    field
        The static field at one ampere-turn in each winding, signed as in `senses`.
    senses
        Each winding's name and the sign of its ampere-turn.

    Raises
    ------
    ValueError
        If a winding has no coil at x > 0.
    """
    grid, section = field.model.fine, field.model.mesh.section
    forces = []
    for name, sign in senses:
        index = [
            k
            for k, r in enumerate(section.regions)
            if r.role is Role.CONDUCTOR and r.winding == name and r.sense > 0 and r.x0 > 0
        ]
        if not index:
            msg = f"{name}: no coil in the right-hand window"
            raise ValueError(msg)
        for k in index:
            elements = np.flatnonzero(grid.region == k)
            current = sign * section.regions[k].share
            by_current = lorentz_force_per_m(grid.problem, field.fine.A, elements, current)
            forces.append(
                BlockForce(
                    winding=name,
                    across_per_m=float(by_current[0]),
                    along_per_m=float(by_current[1]),
                    stress_difference=_difference(field, elements, by_current) if _in_air(field, k) else None,
                )
            )
    return tuple(forces)


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


def _difference(field: SolvedField, elements: np.ndarray, by_current: np.ndarray) -> float:
    grid = field.model.fine
    by_stress = stress_force_per_m(grid.problem, field.fine.A, elements)
    return float(np.linalg.norm(by_stress - by_current) / np.linalg.norm(by_current))
