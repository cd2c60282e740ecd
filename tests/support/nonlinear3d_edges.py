"""States of `nonlinear3d.json` from below: `tests/physics/data/nonlinear3d_edges.json` and its making.

    python -m tests.support.nonlinear3d_edges NAME AMPERE_TURNS ...

solves states of a named core by edge elements and puts them into the file. Import only after `needed("ngsolve")`.
"""

import json
import sys
from pathlib import Path
from typing import Any

from tests.support import nonlinear3d
from tests.support.ngsolve_saturated import EdgeField, EdgePoint
from tests.support.open_mesh import Sizes, open_mesh, turns_field

DATA = Path(__file__).parents[1] / "physics" / "data" / "nonlinear3d_edges.json"


def core_named(name: str) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return a core's entry and the tables of sheets."""
    data = json.loads(nonlinear3d.DATA.read_text(encoding="utf-8"))
    return next(core for core in data["cores"] if core["name"] == name), data["tables"]


def edges_of(entry: dict[str, Any], tables: dict[str, Any], fineness: float = 1.0) -> EdgeField:
    """Return a core's field of edge elements on a mesh as fine as its scalar potential's."""
    _, frame = nonlinear3d.core_of(entry)
    blocks = nonlinear3d.blocks_of_entry(entry)
    size = entry["size"] / fineness
    sizes = Sizes(iron=size, corner=size / 2, joint=min(size / 2, entry["joint_size"] / fineness), air=0.3)
    opened = open_mesh(frame, blocks, sizes=sizes, thinnest=nonlinear3d.THINNEST)
    laws = nonlinear3d.laws_of(entry, frame, nonlinear3d.curve_of(entry, tables))
    return EdgeField(opened, lambda p: turns_field(frame, blocks, p), laws)


def kept() -> dict[str, list[dict[str, float]]]:
    """Return the file's points by core."""
    return dict(json.loads(DATA.read_text(encoding="utf-8"))["cores"])


def main(name: str, levels: list[float]) -> None:
    """Solve states of a core, the highest first, and write them down."""
    field = edges_of(*core_named(name))
    for F in sorted(levels, reverse=True):
        found: EdgePoint = field.solve(F)
        data = json.loads(DATA.read_text(encoding="utf-8"))
        points = [p for p in data["cores"].get(name, []) if p["ampere_turns"] != F]
        points.append({"ampere_turns": F, "edge_flux_per_turn_Wb": found.flux, "edge_coenergy_J": found.coenergy})
        data["cores"][name] = sorted(points, key=lambda p: p["ampere_turns"])
        DATA.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")
        sys.stdout.write(f"{name} {F:g} A {found} {field.space.ndof} unknowns\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1], [float(v) for v in sys.argv[2:]])
