"""From a meshed section to a time-harmonic problem, and the element sizes its conductors need."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import sqrt

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.errors import OutOfRange
from fem.field.harmonic.problem import HarmonicProblem, Solid, Stranded, skin_depth
from fem.field.static.space import Where, build_geometry, build_space
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.section import Role, Section

ELEMENTS_PER_SKIN_DEPTH = 2
"""Quadratic elements along one skin depth: a round wire's resistance is then within 1e-4 of the Bessel solution."""

FEWEST_PER_SKIN_DEPTH = 1.25
"""Where the conductors would take too many otherwise: within 1e-3."""

MOST_ELEMENTS = 15_000
"""In all solid conductors together: some 5 s on one core."""


@dataclass(frozen=True, kw_only=True, slots=True)
class StrandedRegions:
    """Regions wound in series whose current is evenly spread.

    Parameters
    ----------
    regions
        Names; each takes its sense from the section.
    conductivity
        Averaged over the regions' area [S/m].
    """

    regions: tuple[str, ...]
    conductivity: float


def skin_sizes(section: Section, solid: Mapping[str, float], frequency: float) -> dict[str, float]:
    """Return the element size for each solid conductor [m]: half a skin depth, or its narrow side where that is less.

    Parameters
    ----------
    section
        The section.
    solid
        Conductivity [S/m] of each solid conductor, by its region's name.
    frequency
        [Hz].

    Raises
    ------
    OutOfRange
        If the conductors would take more than `MOST_ELEMENTS`.
    ValueError
        If a name is no region.
    """
    regions = {r.name: r for r in section.regions}
    if unknown := set(solid) - set(regions):
        msg = f"solid conductors {sorted(unknown)}, which the section does not have"
        raise ValueError(msg)
    per_depth = float(ELEMENTS_PER_SKIN_DEPTH)
    while True:
        sizes = {
            name: min(
                skin_depth(conductivity, frequency) / per_depth,
                regions[name].x1 - regions[name].x0,
                regions[name].y1 - regions[name].y0,
            )
            for name, conductivity in solid.items()
        }
        shares = {name: regions[name].area / (sqrt(3) / 4 * size**2) for name, size in sizes.items()}
        total = sum(shares.values())
        if total <= MOST_ELEMENTS or per_depth <= FEWEST_PER_SKIN_DEPTH:
            break
        per_depth = max(FEWEST_PER_SKIN_DEPTH, 0.99 * per_depth * sqrt(MOST_ELEMENTS / total))
    if total > MOST_ELEMENTS:
        largest = max(shares, key=lambda name: shares[name])
        msg = (
            f"resolving the skin depth at {frequency:g} Hz takes about {total:.2g} elements in {len(solid)} solid "
            f"conductors (largest: {largest}, {shares[largest]:.2g}); the limit is {MOST_ELEMENTS}: fewer, thinner or "
            "stranded conductors, or a lower frequency"
        )
        raise OutOfRange(msg)
    return sizes


def harmonic_problem(
    mesh: SectionMesh,
    *,
    solid: Mapping[str, float],
    stranded: Mapping[str, StrandedRegions],
    reluctivity: Floats | None = None,
    fixed: Where | None = None,
) -> HarmonicProblem:
    """Prepare a meshed section for a time-harmonic solution.

    Parameters
    ----------
    mesh
        The section on its mesh.
    solid
        Conductivity [S/m] of each solid conductor, by its region's name.
    stranded
        The other conductors by a name of their own.
    reluctivity
        Of each element [m/H]; that of air throughout if None. See `region_reluctivity`.
    fixed
        Where on the boundary A = 0 (see `build_space`); everywhere if None.

    Raises
    ------
    ValueError
        If a name is no region of the section or a stranded region has no sense.
    """
    where = {r.name: np.flatnonzero(mesh.region == k) for k, r in enumerate(mesh.section.regions)}
    senses = {r.name: r.sense for r in mesh.section.regions}
    asked = [*solid, *(name for group in stranded.values() for name in group.regions)]
    if unknown := [name for name in asked if name not in where]:
        msg = f"no region called {unknown}"
        raise ValueError(msg)
    if idle := [name for group in stranded.values() for name in group.regions if senses[name] == 0]:
        msg = f"stranded regions without a sense: {idle}"
        raise ValueError(msg)
    space = build_space(mesh.points, mesh.triangles, fixed)
    return HarmonicProblem(
        space=space,
        geometry=build_geometry(mesh.points, space.triangles),
        reluctivity=np.full(space.elements, 1 / MU0) if reluctivity is None else reluctivity,
        solid={name: Solid(elements=where[name], conductivity=value) for name, value in solid.items()},
        stranded={
            name: Stranded(
                parts=tuple((where[part], senses[part]) for part in group.regions), conductivity=group.conductivity
            )
            for name, group in stranded.items()
        },
        copies=2 if mesh.section.halved else 1,
    )


def region_reluctivity(mesh: SectionMesh, mu_r: float, *, shunt_mu_r: float | None = None) -> Floats:
    """Return the reluctivity of each element [m/H].

    Parameters
    ----------
    mesh
        The section on its mesh.
    mu_r
        Relative permeability of iron and joints [-].
    shunt_mu_r
        That of shunts [-]; as the iron's if None.
    """
    relative = {Role.IRON: mu_r, Role.JOINT: mu_r, Role.SHUNT: mu_r if shunt_mu_r is None else shunt_mu_r}
    of_region = np.array([*(relative.get(r.role, 1.0) for r in mesh.section.regions), 1.0])  # -1 is air
    return np.asarray(1 / (MU0 * of_region[mesh.region]))
