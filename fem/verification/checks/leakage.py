"""Leakage, gapped cores and forces: windings in windows and between walls, by the tool's own sections and fields."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import pi, sqrt
from typing import NamedTuple

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.permeance import leakage, leakage_field
from fem.characteristics.leakage.planar import block_forces
from fem.constants import MU0
from fem.field.static.model import LawOf, build_model, solve_model
from fem.field.static.problem import Law
from fem.field.static.quantities import both, cut_fluxes_per_m
from fem.field.static.space import Where
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.cores.stacked import Joint
from geometries.shapes.blocks import Block
from geometries.shapes.section import Cut, Region, Role, Section

MM = 1e-3


class Sizes(NamedTuple):
    """Dimensions of a shell core [mm]: outer legs and yokes are half a leg."""

    leg: float
    stack: float
    window_width: float
    window_height: float


class Coil(NamedTuple):
    """A block [mm]: the same clearance in the window and past the stack."""

    clearance: float
    build: float
    bottom: float
    height: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Arrangement:
    """A core and its primary and secondary."""

    core: Sizes
    primary: Coil
    secondary: Coil


REFERENCE_FIELDS = {
    "S1": Arrangement(core=Sizes(30, 45, 18, 55), primary=Coil(1.5, 15, 2, 24), secondary=Coil(1.5, 15, 29, 24)),
    "S2": Arrangement(core=Sizes(38, 60, 22, 65), primary=Coil(1.5, 18, 2, 36), secondary=Coil(1.5, 18, 43, 20)),
    "S4": Arrangement(core=Sizes(40, 50, 25, 75), primary=Coil(1.5, 14, 3, 48), secondary=Coil(1.5, 22, 55, 17)),
    "C1": Arrangement(core=Sizes(30, 60, 20, 60), primary=Coil(1.5, 8, 3, 54), secondary=Coil(11, 7, 3, 54)),
}
"""Arrangements whose leakage is known from 3-D fields."""


def _core(sizes: Sizes, joint_gap: float = 1e-6) -> ShellCore:
    half = sizes.leg / 2 * MM
    return ShellCore(
        leg_width=sizes.leg * MM,
        outer_leg_width=(half, half),
        yoke_height=half,
        window_width=sizes.window_width * MM,
        window_height=sizes.window_height * MM,
        stack_depth=sizes.stack * MM,
        joint=Joint.BUTT,
        joint_gap=joint_gap,
        steel="M530-50A",
    )


def _block(winding: str, coil: Coil) -> Block:
    return Block(
        winding=winding,
        leg_clearance=coil.clearance * MM,
        end_clearance=coil.clearance * MM,
        build=coil.build * MM,
        bottom=coil.bottom * MM,
        height=coil.height * MM,
    )


def _blocks(arrangement: Arrangement) -> tuple[Block, Block]:
    return _block("primary", arrangement.primary), _block("secondary", arrangement.secondary)


def full_windows() -> dict[str, float]:
    """Compute the leakage per metre of windings that fill a window of 20 x 60 mm, in units of mu0, both windows."""
    core = _core(Sizes(40, 50, 20, 60))
    coils = {
        "fill_side_by_side_32_4_24": (Coil(0, 20, 0, 32), Coil(0, 20, 36, 24)),
        "fill_side_by_side_10_20_30": (Coil(0, 20, 0, 10), Coil(0, 20, 30, 30)),
        "fill_concentric_8_2_10": (Coil(0, 8, 0, 60), Coil(10, 10, 0, 60)),
        "fill_concentric_12_0_8": (Coil(0, 12, 0, 60), Coil(12, 8, 0, 60)),
    }
    found = {}
    for key, (first, second) in coils.items():
        blocks = _block("primary", first), _block("secondary", second)
        section = section_of(core, blocks, joint_regions=False).half()
        field = leakage_field(build_model(mesh_section(section), linear_iron(1e6)), blocks)
        found[key] = (both(field, "primary")[1] - both(field, "secondary")[1]) / MU0
    return found


def between_walls() -> dict[str, float]:
    """Compute the factor on the concentric formula of two windings between two walls of iron.

    The upper half: by symmetry flux crosses y = 0 at right angles, a natural boundary like the walls. The top lies five
    widths above the windings; between the walls the field falls by exp(-pi) in one.
    """
    found = {}
    for b1, a, b2, h in ((10, 5, 10, 60), (10, 2, 10, 40), (8, 1, 12, 75), (10, 5, 10, 25)):
        width, half = (b1 + a + b2) * MM, h / 2 * MM
        inner = Region(name="inner", role=Role.CONDUCTOR, winding="inner", sense=1, x0=0.0, x1=b1 * MM, y0=0.0, y1=half)
        outer = replace(inner, name="outer", winding="outer", x0=(b1 + a) * MM, x1=width)
        section = Section(regions=(inner, outer), outline=(0.0, 0.0, width, half + 5 * width))
        mesh = mesh_section(section, sizes={"inner": b1 * MM / 8, "outer": b2 * MM / 8})
        model = build_model(mesh, lambda _: None, fixed=_above(section.outline[3] - 1e-9))
        # Half a winding carries half an ampere-turn; the other half of the section holds the other half of the energy.
        field = solve_model(model, {"inner": 0.5, "outer": -0.5})
        permeance = both(field, "inner")[1] - both(field, "outer")[1]
        found[f"rogowski_{b1}_{a}_{b2}_{h}"] = permeance / (MU0 * (b1 / 3 + a + b2 / 3) / h)
    return found


def _above(level: float) -> Where:
    return lambda m: m[1] > level


def sandwich() -> dict[str, float]:
    """Compute the leakage of a printed winding of half l.v., h.v., l.v., h.v., half l.v. across its window."""
    heights = (
        ("low 1", 18.0), ("", 16.0), ("high 1", 40.0), ("", 16.0), ("low 2", 36.0), ("", 16.0), ("high 2", 40.0),
        ("", 16.0), ("low 3", 18.0),
    )  # fmt: skip
    width, mean_turn, turns, base = 0.12, 1.5, 200, 2000**2 / 100e3
    y, regions = 0.0, []
    for name, height in heights:
        top = y + height * MM
        if name:
            regions.append(
                Region(name=name, role=Role.CONDUCTOR, winding=name, sense=1, x0=0.0, x1=width, y0=y, y1=top)
            )
        y = top
    section = Section(regions=tuple(regions), outline=(0.0, 0.0, width, y))
    model = build_model(mesh_section(section), lambda _: None, fixed=_above(y - 1e-9))
    field = solve_model(model, {"low 1": -0.25, "high 1": 0.5, "low 2": -0.5, "high 2": 0.5, "low 3": -0.25})
    inductance = 2 * field.fine.problem.energy_per_m(field.fine.A) * mean_turn * turns**2
    return {
        "sandwich_100kVA_inductance": inductance,
        "sandwich_100kVA": 2 * pi * 50 * inductance / base,
    }


def end_turns() -> dict[str, float]:
    """Compute the whole leakage per turn squared [H], by the 3-D end region and by the 2-D recipe.

    The 3-D end region bounds it from above, which the reference's bound from below can tell.
    """
    found = {}
    for name, arrangement in REFERENCE_FIELDS.items():
        core, blocks = _core(arrangement.core), _blocks(arrangement)
        section = section_of(core, blocks, joint_regions=False).half()
        whole, _ = leakage(build_model(mesh_section(section), linear_iron()), core, blocks)
        found[f"leakage_3d_{name}"] = found[f"leakage_bound_{name}"] = whole.permeance
        found[f"leakage_recipe_{name}"] = whole.recipe_permeance or 0.0
    return found


def gapped_cores() -> dict[str, float]:
    """Compute the current of 500 turns [A] for 1 T in the middle of an air gap.

    The examples have one gap and neither fringing nor leakage. Here a shell core of the same area and length of iron
    has two gaps in series, each half as long; turns that fill its windows and a line of flux along its outside make
    both gaps alike, and the flux density is read across the middle half of one, where it is uniform.
    """
    found = {}
    for key, leg, gap, path, window, mu_r in (
        ("gapped_core", 30.0, 0.25, 300.0, 40.0, 70000.0),
        ("gapped_ring", sqrt(600.0), 1.0, 2 * pi * 150.0, 200.0, 1 / (MU0 * 200.0)),
    ):
        # Twice the legs with half of both yokes, and twice the window with half of both legs.
        height = path / 2 - window - leg
        core = _core(Sizes(leg, leg, window, height), gap * MM)
        block = _block("primary", Coil(0.0, window, 0.0, height))
        middle = (height - gap / 2) * MM
        cut = Cut(name="gap", x0=leg / 4 * MM, y0=middle, x1=0.0, y1=middle)
        outline = (core.left_edge, -core.yoke_height, core.right_edge, core.window_height + core.yoke_height)
        section = replace(section_of(core, (block,)), outline=outline, cuts=(cut,)).half()
        model = build_model(mesh_section(section), _iron_without_joints(mu_r))
        flux_density = abs(cut_fluxes_per_m(model.fine, solve_model(model, {"primary": 1.0}).fine)["gap"]) / cut.width
        found[key] = 1.0 / flux_density / 500
    return found


def _iron_without_joints(mu_r: float) -> LawOf:
    law = Reluctivity.linear(mu_r)

    def law_of(region: Region) -> Law | None:
        return law if region.role is Role.IRON else None

    return law_of


def force() -> dict[str, float]:
    """Compute a printed radial force [N]: that per metre in a slice filled to the yokes, times the mean turn."""
    arrangement = Arrangement(core=Sizes(40, 50, 20, 60), primary=Coil(1, 7, 0, 60), secondary=Coil(10, 6, 0, 60))
    blocks = _blocks(arrangement)
    section = section_of(_core(arrangement.core), blocks, joint_regions=False).half()
    field = leakage_field(build_model(mesh_section(section), linear_iron(1e5)), blocks)
    _, outer = block_forces(field, senses=(("primary", 1), ("secondary", -1)))
    turns, current, mean_turn, height = 500, 1000e3 / (3 * 6600), 1.3, 0.6
    per_metre = outer.across_per_m * (arrangement.core.window_height * MM / height)
    return {"radial_force": per_metre * (turns * current) ** 2 * mean_turn}
