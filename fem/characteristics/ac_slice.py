"""Alternating-current resistance and leakage of two windings from a time-harmonic slice with single conductors."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import pi

import numpy as np

from fem.characteristics.ac_thin import WireLoss, field_excess, wire_loss
from fem.characteristics.iron import LINEAR_MU_R
from fem.field.elements import QUADRATURE
from fem.field.force import flux_density_components
from fem.field.harmonic import HarmonicField, HarmonicProblem
from fem.field.harmonic_model import StrandedRegions, harmonic_problem, region_reluctivity, skin_sizes
from fem.field.harmonic_paths import Joined, Path, join
from fem.field.harmonic_solve import respond
from geometries.blocks import Block
from geometries.conductor_layout import MOST_PLACED, PlacedConductor, conductor_layout, conductor_section
from geometries.cores import ShellCore
from geometries.mesh import SectionMesh, mesh_section
from geometries.section import Section
from geometries.windings import Winding

EVEN = 1e-3
"""Frequency of the comparison with evenly spread currents, as a share of the frequency asked for: what is left of the
skin effect falls with its square."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class AcSlice:
    """Two windings with equal and opposite ampere-turns, in the plane of the sheets.

    Parameters
    ----------
    resistance_ratios
        A.c. against d.c. resistance in the window, by winding [-].
    permeance_per_m
        Leakage inductance per turn squared and metre of depth, of both windows [H/m].
    even_permeance_per_m
        The same with evenly spread currents [H/m].
    shares
        By winding, the share of its current in each wire in hand, as phasors; one where they are transposed or not
        placed singly.
    mesh
        The section on its mesh.
    field
        At one ampere-turn r.m.s. in the primary and minus one in the secondary; its `loss_density` is the loss map.
    """

    resistance_ratios: Mapping[str, float]
    permeance_per_m: float
    even_permeance_per_m: float
    shares: Mapping[str, tuple[complex, ...]]
    mesh: SectionMesh
    field: HarmonicField


@dataclass(frozen=True, kw_only=True, slots=True)
class _Part:
    """One winding in the slice; `placed` is empty where it stays a block."""

    winding: Winding
    block: Block
    wire: WireLoss
    placed: tuple[PlacedConductor, ...]

    @property
    def solid(self) -> bool:
        """Whether eddy currents flow in its conductors."""
        return bool(self.placed) and self.winding.conductor.cable is None


def ac_slice(
    core: ShellCore,
    windings: tuple[Winding, Winding],
    blocks: tuple[Block, Block],
    *,
    frequency: float,
    temperature: float,
    transposed: bool = False,
    mu_r: float = LINEAR_MU_R,
) -> AcSlice:
    """Solve the slice of two windings.

    Windings of up to `MOST_PLACED` conductors are placed one by one: solid ones with their eddy currents, cables in
    hand with evenly spread current each. A larger winding stays a block; its wires' loss is added from the field found.

    Parameters
    ----------
    core
        The core.
    windings, blocks
        Primary, secondary.
    frequency
        [Hz].
    temperature
        Of the conductors [K].
    transposed
        Whether wires in hand change places so that they share the current evenly; else they are joined at their ends
        only.
    mu_r
        Relative permeability of the iron [-].

    Raises
    ------
    ValueError
        If a conductor does not go into its cell or would take too fine a mesh.

    Notes
    -----
    The end turns are taken to look like the slice as regards the sharing between wires in hand.
    """
    parts = tuple(_part(core, w, b, frequency, temperature, transposed) for w, b in zip(windings, blocks, strict=True))
    whole = conductor_section(core, blocks, {p.block.winding: p.placed for p in parts if p.placed})
    section = whole.half() if whole.mirror_symmetric else whole
    mesh = _mesh(section, parts, frequency)
    problem = _problem(mesh, parts, mu_r)
    joined_as = {p.block.winding: _paths(p, section, transposed) for p in parts}
    response = respond(problem, frequency)
    joined = join(response, joined_as)
    unit = np.array([1 / parts[0].winding.turns, -1 / parts[1].winding.turns])
    field = response.at(joined.currents @ unit)
    even = respond(problem, EVEN * frequency)
    even_joined = join(even, {p.block.winding: _paths(p, section, True) for p in parts})
    return AcSlice(
        resistance_ratios={p.block.winding: _ratio(p, field, mesh, core) for p in parts},
        permeance_per_m=_permeance(joined, unit, response.angular_frequency),
        even_permeance_per_m=_permeance(even_joined, unit, even.angular_frequency),
        shares={
            p.block.winding: _shares(joined_as[p.block.winding], joined.currents[:, k], problem.names)
            for k, p in enumerate(parts)
        },
        mesh=mesh,
        field=field,
    )


def _part(
    core: ShellCore, winding: Winding, block: Block, frequency: float, temperature: float, transposed: bool
) -> _Part:
    cable = winding.conductor.cable is not None
    single = winding.conductors <= MOST_PLACED and not (cable and (transposed or winding.wires_in_hand == 1))
    return _Part(
        winding=winding,
        block=block,
        wire=wire_loss(winding, frequency, temperature),
        placed=conductor_layout(core, winding, block) if single else (),
    )


def _mesh(section: Section, parts: tuple[_Part, ...], frequency: float) -> SectionMesh:
    return mesh_section(section, sizes=skin_sizes(section, _solids(section, parts), frequency))


def _solids(section: Section, parts: tuple[_Part, ...]) -> dict[str, float]:
    """Return the conductivity of each solid conductor's region, with the conductance of the conductor itself."""
    by_winding = {p.block.winding: p.wire.conductivity * p.winding.conductor.conducting_area for p in parts if p.solid}
    return {r.name: by_winding[r.winding] / r.area for r in section.regions if r.winding in by_winding}


def _problem(mesh: SectionMesh, parts: tuple[_Part, ...], mu_r: float) -> HarmonicProblem:
    section, stranded = mesh.section, {}
    for p in parts:
        if p.solid:
            continue
        conductor, sigma = p.winding.conductor, p.wire.conductivity
        if p.placed:
            for c in p.placed:
                share = conductor.conducting_area / (pi / 4 * c.width**2)
                stranded[c.name] = StrandedRegions(regions=_sides(section, c.name), conductivity=share * sigma)
        else:
            share = p.winding.conductors * conductor.conducting_area / p.block.area
            stranded[p.block.winding] = StrandedRegions(
                regions=_sides(section, p.block.winding), conductivity=share * sigma
            )
    return harmonic_problem(
        mesh, solid=_solids(section, parts), stranded=stranded, reluctivity=region_reluctivity(mesh, mu_r)
    )


def _sides(section: Section, name: str) -> tuple[str, ...]:
    """Return the regions of a block or conductor that lie in the section: right and left, or right alone."""
    return tuple(r.name for r in section.regions if r.name in (f"{name} right", f"{name} left"))


def _paths(part: _Part, section: Section, transposed: bool) -> tuple[Path, ...]:
    """Return the paths in parallel of a winding, one for each wire in hand unless they share evenly."""
    winding = part.winding
    if not part.placed:
        return ({part.block.winding: float(winding.turns)},)
    wires: list[dict[str, float]] = [{} for _ in range(winding.wires_in_hand)]
    for c in part.placed:
        if part.solid:
            wires[c.wire] |= {side: 1.0 if side.endswith("right") else -1.0 for side in _sides(section, c.name)}
        else:
            wires[c.wire][c.name] = 1.0
    if transposed:
        return ({name: share / len(wires) for wire in wires for name, share in wire.items()},)
    return tuple(wires)


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


def _ratio(part: _Part, field: HarmonicField, mesh: SectionMesh, core: ShellCore) -> float:
    """Return the a.c. against the d.c. resistance of one winding."""
    name, winding = part.block.winding, part.winding
    own = [k for k, r in enumerate(mesh.section.regions) if r.winding == name]
    elements = np.flatnonzero(np.isin(mesh.region, own))
    problem = field.response.problem
    det = problem.geometry.determinant[elements]
    loss = problem.copies * 0.5 * float(field.loss_density()[elements] @ det)
    area = winding.wires_in_hand * winding.conductor.conducting_area
    direct = 2 * winding.turns / (part.wire.conductivity * area) / winding.turns**2  # both windows, one ampere-turn
    ratio = loss / direct
    if part.solid:
        return ratio
    squares = np.abs(flux_density_components(problem.space, problem.geometry, field.A)[:, :, elements]) ** 2
    x, y = (float((QUADRATURE[1] @ B2) @ det) / (0.5 * float(det.sum())) for B2 in squares)
    return ratio + part.wire.own_ratio - 1 + field_excess(winding, part.wire, x, y)
