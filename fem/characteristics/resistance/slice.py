"""Alternating-current resistance and leakage of two windings from a time-harmonic slice with single conductors.

With 1 A turn r.m.s. in the primary and -1 in the secondary, per metre of depth of the whole section:

    resistance ratio = loss / loss_dc,    loss_dc = 2 N / (sigma a) / N^2 for N turns of conducting area a, both sides,
    permeance        = Im(v^T Z v) / omega,    v = (1 / N_1, -1 / N_2),

Z the windings' impedances after joining conductors to paths. The fields of single conductors are never kept: that of
all currents at once is one more solution with the factor that is there (`field/harmonic/solve.py`). A winding that
stays in blocks has no eddy currents in the field; what its own field and all others' add to its evenly spread loss is

    loss = loss_dc k_own + 2 N_c (k_x mean |Bx|^2 + k_y mean |By|^2),

k_own the resistance ratio of one wire alone, k_x and k_y its loss in a squared field, N_c its conductors (`wire`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.characteristics.laws import LINEAR_MU_R
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.parts import Part, parts_of, paths_of, problem_on, regions_of, solids
from fem.field.elements import QUADRATURE
from fem.field.harmonic.model import StrandedRegions, harmonic_problem, region_reluctivity, skin_sizes
from fem.field.harmonic.paths import Joined, Path, join
from fem.field.harmonic.problem import HarmonicField
from fem.field.harmonic.solve import respond
from fem.field.static.force import flux_density_components
from geometries.assembly.conductors import conductor_section
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.blocks import winding_names


@dataclass(frozen=True, kw_only=True, slots=True)
class SliceRatios:
    """What a circuit takes of a slice.

    Parameters
    ----------
    resistance_ratios, own_ratios
        As in `AcSlice`.
    permeance_ratio
        Leakage inductance against the one with evenly spread currents [-].
    """

    resistance_ratios: Mapping[str, float]
    own_ratios: Mapping[str, float]
    permeance_ratio: float


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AcSlice:
    """Two windings with equal and opposite ampere-turns, in the plane of the sheets.

    Parameters
    ----------
    resistance_ratios
        A.c. against d.c. resistance of the straight sides, by winding [-].
    own_ratios
        The same without the field of other turns [-].
    permeance_per_m
        Leakage inductance per turn squared and metre of depth, of the whole section [H/m].
    even_permeance_per_m
        The same with evenly spread currents [H/m].
    shares
        By winding, the share of its current in each wire in hand, as phasors; one where they are transposed or not
        placed singly. A wire in hand runs through all coils of its winding, extra turns are in series with all of them.
    mesh
        The section on its mesh.
    field
        At one ampere-turn r.m.s. in the primary and minus one in the secondary; its `loss_density` is the loss map.
    """

    resistance_ratios: Mapping[str, float]
    own_ratios: Mapping[str, float]
    permeance_per_m: float
    even_permeance_per_m: float
    shares: Mapping[str, tuple[complex, ...]]
    mesh: SectionMesh
    field: HarmonicField

    @property
    def ratios(self) -> SliceRatios:
        """What a circuit takes of it."""
        return SliceRatios(
            resistance_ratios=self.resistance_ratios,
            own_ratios=self.own_ratios,
            permeance_ratio=self.permeance_per_m / self.even_permeance_per_m,
        )


def ac_slice(state: AcState, *, mu_r: float = LINEAR_MU_R, shunt_mu_r: float | None = None) -> AcSlice:
    """Solve the slice of two windings, of one coil each or more.

    Windings of up to `MOST_PLACED` conductors are placed one by one: solid ones with their eddy currents, cables in
    hand with evenly spread current each. A larger winding stays in blocks; its wires' loss is added from the field
    found. Extra turns count by themselves.

    Parameters
    ----------
    state
        Of the windings.
    mu_r
        Relative permeability of the iron [-].
    shunt_mu_r
        That of the shunts [-]; as the iron's if None. Near saturation it is lower.

    Raises
    ------
    OutOfRange
        If the conductors would take too fine a mesh.
    ValueError
        If a conductor does not go into its cell.

    Notes
    -----
    The end turns are taken to look like the slice as regards the sharing between wires in hand.
    """
    blocks, frequency = state.blocks, state.frequency
    parts = parts_of(state)
    whole = conductor_section(state.core, blocks, {p.name: p.placed for p in parts if p.placed}, shunt=state.shunt)
    section = whole.half() if whole.mirror_symmetric else whole
    mesh = mesh_section(section, sizes=skin_sizes(section, solids(section, parts), frequency))
    reluctivity = region_reluctivity(mesh, mu_r, shunt_mu_r=shunt_mu_r)
    problem = problem_on(mesh, parts, reluctivity)
    groups = {p.group: p for p in parts}  # one part of each tells winding and turns
    joined_as = {group: paths_of([p for p in parts if p.group == group], section, state.transposed) for group in groups}
    first, second = winding_names(blocks)
    unit = np.array(
        [(1 if p.coil.block.winding == first else -1) / p.winding_turns for p in groups.values()], dtype=np.float64
    )
    even = _even_permeance(mesh, parts, reluctivity, frequency, unit)  # first: one factor in memory at a time
    response = respond(problem, frequency)
    joined = join(response, joined_as)
    field = response.at(joined.currents @ unit)
    losses = {
        name: _losses([p for p in parts if p.coil.block.winding == name], field, mesh) for name in (first, second)
    }
    return AcSlice(
        resistance_ratios={name: loss / direct for name, (loss, _, direct) in losses.items()},
        own_ratios={name: own / direct for name, (_, own, direct) in losses.items()},
        permeance_per_m=_permeance(joined, unit, response.angular_frequency),
        even_permeance_per_m=even,
        shares={
            group: _shares(joined_as[group], joined.currents[:, k], problem.names)
            for k, group in enumerate(groups)
            if group in (first, second)
        },
        mesh=mesh,
        field=field,
    )


def _even_permeance(
    mesh: SectionMesh, parts: tuple[Part, ...], reluctivity: Floats, frequency: float, unit: Floats
) -> float:
    """Return the permeance [H/m] with each coil's current spread evenly over all its conductors: a few fields tell."""
    stranded = {p.name: StrandedRegions(regions=regions_of(mesh.section, p), conductivity=1.0) for p in parts}
    response = respond(harmonic_problem(mesh, solid={}, stranded=stranded, reluctivity=reluctivity), frequency)
    groups = dict.fromkeys(p.group for p in parts)
    evenly = {g: ({p.name: p.sign * p.turns_per_region for p in parts if p.group == g},) for g in groups}
    return _permeance(join(response, evenly), unit, response.angular_frequency)


def _permeance(joined: Joined, unit: np.ndarray, omega: float) -> float:
    return float((unit @ joined.impedance_per_m @ unit).imag) / omega


def _shares(paths: tuple[Path, ...], currents: np.ndarray, names: tuple[str, ...]) -> tuple[complex, ...]:
    if len(paths) == 1:
        return (1.0 + 0.0j,)
    found = []
    for path in paths:
        name, share = next(iter(path.items()))
        found.append(complex(currents[names.index(name)]) / share)
    return tuple(found)


def _losses(parts: Sequence[Part], field: HarmonicField, mesh: SectionMesh) -> tuple[float, float, float]:
    """Return the loss of one winding's straight sides, that without other turns' field and that with direct current.

    Per metre and for one ampere-turn [W/m].
    """
    problem = field.problem
    density, whole, alone, steady = field.loss_density(), 0.0, 0.0, 0.0
    names = [r.name for r in mesh.section.regions]
    for p in parts:
        own = [names.index(side) for side in regions_of(mesh.section, p)]
        elements = np.flatnonzero(np.isin(mesh.region, own))
        det = problem.geometry.determinant[elements]
        conductor = p.coil.conductor
        area = p.coil.wires_in_hand * conductor.conducting_area
        direct = 2 * p.coil.turns / (p.wire.conductivity * area) / p.winding_turns**2  # both sides
        whole += problem.copies * 0.5 * float(density[elements] @ det)
        alone += direct * p.wire.own_ratio
        steady += direct
        if not p.solid:
            squares = np.abs(flux_density_components(problem.space, problem.geometry, field.A, elements)) ** 2
            x, y = (float((QUADRATURE[1] @ B2) @ det) / (0.5 * float(det.sum())) for B2 in squares)
            whole += direct * (p.wire.own_ratio - 1)
            whole += 2 * p.coil.conductors * (p.wire.along_x * x + p.wire.along_y * y)
    return whole, alone, steady
