"""Derivatives of the planar leakage field's numbers by the lengths of the job file.

One factorisation, and a back-substitution for each number: the windings' flux, the means of B^2 that eddy losses go
with, and the forces on every coil.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.characteristics.leakage.planar import RIGHT
from fem.field.static.model import SolvedField
from fem.field.static.shape import Adjoint, Density, Moving, Reading, combined
from geometries.assembly.velocity import Motion


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LeakageSlopes:
    """Derivatives of planar leakage, per metre of each key; NaN where a key is `torn`.

    Parameters
    ----------
    keys
        Dotted keys of the job file, all lengths [m].
    torn
        Those by which the planar field has no derivative on this mesh, see `Motion`.
    permeance_per_m
        Of the window's leakage permeance per metre of depth, of windings with opposite ampere-turns (keys,) [H/m per
        m].
    flux_per_m
        Per winding, of its flux per turn and metre per ampere-turn of both (keys,) [Wb/(m A) per m].
    mean_squares
        Per winding, of the means of Bx^2 and By^2 at 1 A turn (2, keys) [T2/A2 per m].
    forces
        Per coil, of the force across, along and sideways as `BlockForce` has them (3, keys) [N/(m A2) per m].
    """

    keys: tuple[str, ...]
    torn: tuple[str, ...]
    permeance_per_m: Floats
    flux_per_m: Mapping[str, Floats]
    mean_squares: Mapping[str, Floats]
    forces: Mapping[str, Floats]


def leakage_slopes(field: SolvedField, motion: Motion) -> LeakageSlopes:
    """Return the derivatives of a leakage field's numbers.

    Parameters
    ----------
    field
        At 1 A turn in the first winding and -1 in the second, linear iron, as `leakage_field` solves it.
    motion
        Of its coarse mesh.
    """
    adjoint, (first, second) = _adjoint(field, motion)
    names, coils = (first, second), {r.coil: r.winding for r in adjoint.moving.grid.regions if r.coil is not None}
    readings = [adjoint.linkage(name) for name in names]
    for name in names:
        readings += _squares(adjoint, name)
    for coil, winding in coils.items():
        readings += _forces(adjoint, coil, 1 if winding == first else -1)
    found = adjoint.by_key(readings)
    return LeakageSlopes(
        keys=motion.keys,
        torn=motion.torn,
        permeance_per_m=found[0] - found[1],
        flux_per_m=dict(zip(names, found, strict=False)),
        mean_squares={name: found[2 + 2 * k : 4 + 2 * k] for k, name in enumerate(names)},
        forces={coil: found[6 + 3 * k : 9 + 3 * k] for k, coil in enumerate(coils)},
    )


def opposite_flux_slopes(field: SolvedField, motion: Motion) -> Floats:
    """Return the derivatives of the first winding's flux per turn and metre less the second's (keys,) [Wb/m per m].

    Parameters
    ----------
    field
        At opposite ampere-turns of the two; iron may saturate, as with shunts.
    motion
        Of its coarse mesh.
    """
    adjoint, names = _adjoint(field, motion)
    reading = combined((1, -1), [adjoint.linkage(name) for name in names])
    return np.asarray(adjoint.by_key([reading])[0])


def _adjoint(field: SolvedField, motion: Motion) -> tuple[Adjoint, tuple[str, str]]:
    first, second = field.fine.ampere_turns
    model = field.model
    return Adjoint(Moving(model.fine, model.shape.fine_points(motion.vertices)), field.fine), (first, second)


def _squares(adjoint: Adjoint, winding: str) -> list[Reading]:
    """Read the means of Bx^2 = (dA/dy)^2 and By^2 = (dA/dx)^2 over a winding's blocks, each by its share."""
    grid = adjoint.moving.grid
    blocks = [(k, abs(r.share)) for k, r in enumerate(grid.regions) if r.winding == winding]
    total = sum(share for _, share in blocks)
    return [
        combined(
            [share / total for _, share in blocks],
            [adjoint.integral(np.flatnonzero(grid.region == k), _power(axis, 2), mean=True) for k, _ in blocks],
        )
        for axis in (1, 0)
    ]


def _power(axis: int, power: int) -> Density:
    """Return a power of one component of grad A."""

    def density(a: Floats) -> tuple[Floats, Floats]:
        slope = np.zeros_like(a)
        slope[axis] = power * a[axis] ** (power - 1)
        return a[axis] ** power, slope

    return density


def _forces(adjoint: Adjoint, coil: str, sign: int) -> list[Reading]:
    """Read a coil's force across, along and sideways per squared ampere-turn: current times the mean of grad A.

    J x B with B = (dA/dy, -dA/dx) is J grad A. In a half section the left side is the right one's mirror image.
    """
    grid = adjoint.moving.grid
    sides = [(k, r, 1 if r.name.endswith(RIGHT) else -1) for k, r in enumerate(grid.regions) if r.coil == coil]
    whole = any(side < 0 for *_, side in sides)
    currents = np.array([sign * r.sense * r.share / (2 if whole else 1) for _, r, _ in sides])
    x, y = (
        [adjoint.integral(np.flatnonzero(grid.region == k), _power(axis, 1), mean=True) for k, *_ in sides]
        for axis in (0, 1)
    )
    across = currents * [side for *_, side in sides]
    return [combined(across, x), combined(currents, y), combined(2 * currents if whole else 0 * currents, x)]
