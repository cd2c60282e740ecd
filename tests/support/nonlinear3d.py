"""Saturated cores in three dimensions: the states of `tests/physics/data/nonlinear3d.json` and how they were made.

    python -m tests.support.nonlinear3d NAME ...

solves the named cores anew and puts their points into the file. Import only after `needed("ngsolve")`.
"""

import json
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from fem.characteristics.laws import BRIDGED, saturating_iron
from fem.field.static.model import build_model, solve_model
from fem.field.static.quantities import both
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.cores.shunt import Shunt, bar_regions
from geometries.cores.stacked import Joint, StackedCore
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Part
from tests.support.open_fields import OpenField, Point
from tests.support.open_laws import AIR, Law
from tests.support.open_mesh import MM, OpenMesh, Sizes, open_mesh, turns_field

DATA = Path(__file__).parents[1] / "physics" / "data" / "nonlinear3d.json"
LENGTHS = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "leg_gap")
THINNEST = 0.3
"""Height [mm] that lower joints and gaps are stretched to, iron and gap in series."""


def core_of(entry: dict[str, Any]) -> tuple[StackedCore, Frame]:
    """Return a core of the file and its frame, whose joints are closed where their gap is 0."""
    given = {key: entry[key] * MM for key in LENGTHS if key in entry}
    gap = entry["joint_gap"] * MM
    kind = {"shell": ShellCore, "two-leg": TwoLegCore}[entry["type"]]
    second = {"second": {"spacing": entry["spacing"] * MM, "primaries": "series"}} if "spacing" in entry else {}
    core = kind(**given, **second, joint=entry["joint"], joint_gap=gap or 1e-4, steel="of its table")
    return core, core.frame if gap else core.frame.closed


def blocks_of_entry(entry: dict[str, Any]) -> tuple[Block, ...]:
    """Return its windings, the energised one first."""
    return tuple(
        Block(
            winding=b["winding"],
            round_both=b.get("round_both", False),
            leg_axis=b.get("leg_axis", 0.0) * MM,
            **{key: b[key] * MM for key in ("leg_clearance", "end_clearance", "build", "bottom", "height")},
        )
        for b in entry["blocks"]
    )


def shunt_of(entry: dict[str, Any]) -> Shunt | None:
    """Return its shunts, which are of the core's own sheet."""
    return Shunt(**{key: size * MM for key, size in entry["shunt"].items()}) if "shunt" in entry else None


def curve_of(entry: dict[str, Any], tables: dict[str, Any]) -> BHCurve:
    """Return its sheet."""
    table = tables[entry["table"]]
    return BHCurve(
        name=entry["table"],
        H=np.array(table["H_A_per_m"], dtype=float),
        B=np.array(table["B_T"], dtype=float),
        saturation_polarisation=table["saturation_polarisation_T"],
        source="of the file",
    )


def laws_of(entry: dict[str, Any], frame: Frame, curve: BHCurve) -> dict[str, Law]:
    """Return the laws of iron, joints and gap by material of the mesh."""
    stacking = entry["stacking_factor"]
    iron = Law.of(Reluctivity.of_lamination(curve, stacking))
    fill = Law.of(Reluctivity.of_lamination(curve, BRIDGED * stacking)) if entry["joint"] == "interleaved" else AIR
    shares = {box.part: box.gap_share for box in frame.boxes(THINNEST * MM)}
    return {
        "iron": iron,
        "joint": iron.beside(fill, shares.get(Part.JOINT, 1.0)),
        "gap": iron.beside(AIR, shares.get(Part.GAP, 1.0)),
        "shunt": iron,
    }


def planar_flux(entry: dict[str, Any], frame: Frame, blocks: tuple[Block, ...], curve: BHCurve, F: float) -> float:
    """Return the package's planar flux per turn of the energised winding times the depth of the iron [Wb]."""
    law_of, *_ = saturating_iron(curve, entry["stacking_factor"], Joint(entry["joint"]))
    section = section_of(frame, blocks, shunt=shunt_of(entry))
    half = section.half() if entry["type"] == "shell" else section
    model = build_model(mesh_section(half), law_of)
    return float(both(solve_model(model, {blocks[0].winding: F}), blocks[0].winding)[1]) * frame.iron_depth


def fields_of(
    entry: dict[str, Any], tables: dict[str, Any], fineness: float = 1.0, orders: Sequence[int] = (2, 3)
) -> tuple[OpenMesh, list[OpenField]]:
    """Return the mesh of a core and its fields of second and third order."""
    _, frame = core_of(entry)
    blocks = blocks_of_entry(entry)
    size = entry["size"] / fineness
    sizes = Sizes(iron=size, corner=size / 2, joint=min(size / 2, entry["joint_size"] / fineness), air=0.3)
    shunt = shunt_of(entry)
    bars = bar_regions(frame, blocks, shunt) if shunt else ()
    opened = open_mesh(frame, blocks, sizes=sizes, bars=bars, thinnest=THINNEST)
    laws = laws_of(entry, frame, curve_of(entry, tables))
    fields = [OpenField(opened, lambda p: turns_field(frame, blocks, p), laws, order=order) for order in orders]
    return opened, fields


def solve_both(fields: list[OpenField], F: float, scale: float) -> tuple[Point, Point]:
    """Return the state of second order, started from the last one's multiple, and from it that of third order."""
    second, third = fields
    others = (0.0,) * (len(second.driven) - 1)
    coarse = second.solve(F, *others, scale=scale)
    third.u = np.zeros(third.size)
    third.u[: second.size] = second.u
    return coarse, third.solve(F, *others)


def main(names: list[str]) -> None:
    """Solve named cores and write them down."""
    for name in names:
        data = json.loads(DATA.read_text(encoding="utf-8"))
        entry = next(c for c in data["cores"] if c["name"] == name)
        _, frame = core_of(entry)
        blocks, curve = blocks_of_entry(entry), curve_of(entry, data["tables"])
        began = time.time()
        _, fields = fields_of(entry, data["tables"])
        points, last = entry.get("points", [])[::-1], None
        done = {row["ampere_turns"] for row in points}
        for F in sorted(set(entry["levels"]) - done, reverse=True):
            coarse, fine = solve_both(fields, F, 1.0 if last is None else F / last)
            last = F
            planar = planar_flux(entry, frame, blocks, curve, F)
            row = {
                "ampere_turns": F,
                "flux_per_turn_Wb": [coarse.fluxes[0], fine.fluxes[0]],
                "other_flux_per_turn_Wb": [coarse.fluxes[1], fine.fluxes[1]],
                "coenergy_J": [coarse.coenergy, fine.coenergy],
                "planar_flux_Wb": planar,
            }
            points.append(row)
            end = [f - planar for f in row["flux_per_turn_Wb"]]
            sys.stdout.write(
                f"{name} {F:g} A flux {fine.fluxes[0]:.6e} (2nd {coarse.fluxes[0]:.6e}) other {fine.fluxes[1]:.6e} "
                f"planar {planar:.6e} end {end[1]:.4e} (2nd {end[0]:.4e}) "
                f"coenergy {fine.coenergy:.6e} {time.time() - began:.0f} s\n"
            )
            sys.stdout.flush()
            data = json.loads(DATA.read_text(encoding="utf-8"))
            entry = next(c for c in data["cores"] if c["name"] == name)
            entry["points"] = points[::-1]
            entry["elements"], entry["unknowns"] = len(fields[0].corners), [f.size for f in fields]
            DATA.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
