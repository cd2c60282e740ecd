"""The coils of a slice: which conductors lie in it one by one, which stay blocks, how they are joined."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import copysign, pi

from fem.arrays import Floats
from fem.characteristics.resistance.coils import AcState, coil_wires, grouped_coils
from fem.characteristics.resistance.thin import WireLoss
from fem.field.harmonic.model import StrandedRegions, harmonic_problem
from fem.field.harmonic.paths import Path
from fem.field.harmonic.problem import HarmonicProblem
from geometries.assembly.conductors import PlacedConductor, conductor_layout
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.blocks import coil_parts, winding_names
from geometries.shapes.section import Section
from geometries.windings.coils import Coil
from geometries.windings.lays import MOST_PLACED


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """One coil in the slice.

    Parameters
    ----------
    coil, wire
        The coil, and what one of its conductors does.
    group
        Name of what it is in series with: its winding, or extra turns of a wire of their own.
    winding_turns
        Net turns of its winding [-].
    placed
        Its conductors, one by one; empty where it stays a block or its cables are known to share evenly.
    regions_each_side
        Blocks that stand for it there: one, or one for each of few cables.
    """

    coil: Coil
    wire: WireLoss
    group: str
    winding_turns: int
    placed: tuple[PlacedConductor, ...]
    regions_each_side: int = 1

    @property
    def name(self) -> str:
        """Of the coil."""
        return self.coil.block.name

    @property
    def solid(self) -> bool:
        """Whether eddy currents flow in its conductors."""
        return bool(self.placed) and self.coil.conductor.cable is None

    @property
    def turns_per_region(self) -> float:
        """Ampere-turns in each conductor, or in the block where it stays one, per ampere of the coil [-]."""
        return 1 / self.coil.wires_in_hand if self.placed else self.coil.turns / self.regions_each_side

    @property
    def sign(self) -> float:
        """-1 where its turns oppose the rest of the winding."""
        return copysign(1.0, self.coil.block.share)


def parts_of(state: AcState) -> tuple[Part, ...]:
    """Return the coils of both windings; where they are few, cables in hand and solid conductors are placed singly."""
    windings, blocks = state.windings, state.blocks
    wires = coil_wires(state)
    turns = {name: winding.net_turns for name, winding in zip(winding_names(blocks), windings, strict=True)}
    each_side = {block: len(found) for block, found in coil_parts(blocks)}
    parts = []
    for group, coils in grouped_coils(state).items():
        cable = coils[0].conductor.cable is not None
        few = sum(coil.conductors for coil in coils) <= MOST_PLACED
        single = few and not (cable and (state.transposed or coils[0].wires_in_hand == 1))
        parts += [
            Part(
                coil=coil,
                wire=wires[coil.block.name],
                group=group,
                winding_turns=turns[coil.block.winding],
                placed=conductor_layout(state.core, coil, coil.block) if single else (),
                regions_each_side=each_side[coil.block],
            )
            for coil in coils
        ]
    return tuple(parts)


def solids(section: Section, parts: tuple[Part, ...]) -> dict[str, float]:
    """Return the conductivity of each solid conductor's region, with the conductance of the conductor itself."""
    areas = {r.name: r.area for r in section.regions}
    return {
        side: p.wire.conductivity * p.coil.conductor.conducting_area / areas[side]
        for p in parts
        if p.solid
        for side in regions_of(section, p)
    }


def problem_on(mesh: SectionMesh, parts: tuple[Part, ...], reluctivity: Floats) -> HarmonicProblem:
    """Return the problem of the coils on a mesh; reluctivity (m,) [m/H]."""
    section, stranded = mesh.section, {}
    for p in parts:
        if p.solid:
            continue
        conductor, sigma = p.coil.conductor, p.wire.conductivity
        if p.placed:
            for c in p.placed:
                share = conductor.conducting_area / (pi / 4 * c.width**2)
                stranded[c.name] = StrandedRegions(regions=sides_of(section, c.name), conductivity=share * sigma)
        else:
            area = sum(r.area for r in section.regions if r.coil == p.name and r.name.endswith(" right"))
            share = p.coil.conductors * conductor.conducting_area / area  # of the copper in all of them
            stranded[p.name] = StrandedRegions(regions=regions_of(section, p), conductivity=share * sigma)
    return harmonic_problem(mesh, solid=solids(section, parts), stranded=stranded, reluctivity=reluctivity)


def sides_of(section: Section, name: str) -> tuple[str, ...]:
    """Return the regions of a conductor that lie in the section: right and left, or right alone."""
    return tuple(r.name for r in section.regions if r.name in (f"{name} right", f"{name} left"))


def regions_of(section: Section, part: Part) -> tuple[str, ...]:
    """Return the regions of a coil: of each of its conductors, or of its block."""
    if not part.placed:  # a block, or its conductors with the same current each
        return tuple(r.name for r in section.regions if r.coil == part.name)
    return tuple(side for c in part.placed for side in sides_of(section, c.name))


def paths_of(parts: Sequence[Part], section: Section, transposed: bool) -> tuple[Path, ...]:
    """Return the paths in parallel of coils in series, one for each wire in hand unless they share evenly."""
    if not parts[0].placed:
        return ({p.name: p.sign * p.turns_per_region for p in parts},)
    senses = {r.name: r.sense for r in section.regions}
    wires: list[dict[str, float]] = [{} for _ in range(parts[0].coil.wires_in_hand)]
    for p in parts:
        for c in p.placed:
            if p.solid:
                wires[c.wire] |= {side: p.sign * senses[side] for side in sides_of(section, c.name)}
            else:
                wires[c.wire][c.name] = p.sign
    if transposed:
        return ({name: share / len(wires) for wire in wires for name, share in wire.items()},)
    return tuple(wires)
