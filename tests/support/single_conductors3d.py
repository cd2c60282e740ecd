"""Windings of single conductors in three dimensions: `tests/physics/data/single_conductors3d.json` and its making.

    python -m tests.support.single_conductors3d NAME ...

solves the named lays anew. Each conductor is a closed racetrack carried round the leg as the package carries blocks:
what lies `offset` outside the innermost place lies so all round, its corners concentric with the innermost's. A round
conductor is solved as the square of its area and corrected by what their own mean distances differ by. Import only
after `needed("ngsolve")`.
"""

import json
import sys
from math import exp, log, pi, sqrt
from pathlib import Path
from typing import Any

from fem.characteristics.laws import LINEAR_MU_R
from fem.constants import MU0
from fem.materials.mixture import Reluctivity
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame
from tests.support.core_shape import CoreShape
from tests.support.open_fields import OpenField
from tests.support.open_laws import Law
from tests.support.open_mesh import MM, Sizes, open_mesh, turns_field

DATA = Path(__file__).parents[1] / "physics" / "data" / "single_conductors3d.json"
GMR_ROUND = exp(-1 / 4)
"""Geometric mean radius of a disc over its radius: Grover, Inductance Calculations, 1946, ch. 3 (from memory)."""
GMR_SQUARE = 0.44705
"""Of a square over its side: the same."""


def frame_of(core: dict[str, float]) -> Frame:
    """Return the core of the file, its joints closed."""
    mm = {key: value * MM for key, value in core.items()}
    outer = mm.pop("outer_leg_width")
    return CoreShape(**mm, outer_leg_widths=(outer, outer)).frame


def blocks_of_lay(data: dict[str, Any], lay: dict[str, Any]) -> tuple[Block, ...]:
    """Return the primary's block and a block for each conductor: (x, y) of its middle in the section [mm].

    x counts from the leg's face, y from the lower yoke.
    """
    primary = Block(winding="primary", **{key: value * MM for key, value in data["primary"].items()})
    wide, high = lay.get("strip", (lay.get("diameter", 0.0) * sqrt(pi) / 2,) * 2)
    least = data["secondary_clearances"]
    found = [primary]
    for k, (at, along) in enumerate(lay["places"]):
        offset = at - wide / 2 - least["leg_clearance"]
        found.append(
            Block(
                winding="secondary",
                coil=str(k + 1),
                leg_clearance=(least["leg_clearance"] + offset) * MM,
                end_clearance=(least["end_clearance"] + offset) * MM,
                build=wide * MM,
                bottom=(along - high / 2) * MM,
                height=high * MM,
                share=1 / len(lay["places"]),
            )
        )
    return tuple(found)


def roundness(frame: Frame, blocks: tuple[Block, ...], lay: dict[str, Any]) -> float:
    """Return what round conductors have more than squares of their area [H]: mu0 / 2 pi l ln(GMD ratio) / n^2 each."""
    if "strip" in lay:
        return 0.0
    ratio = log(GMR_SQUARE * sqrt(pi) / GMR_ROUND)
    return sum(MU0 / (2 * pi) * b.share**2 * b.mean_turn(*frame.surrounded(b)) * ratio for b in blocks[1:])


def permeances(data: dict[str, Any], lay: dict[str, Any], fineness: float = 1.0) -> tuple[float, float]:
    """Return the leakage permeance by second and by third order [H]; both lie above."""
    frame, blocks = frame_of(data["core"]), blocks_of_lay(data, lay)
    size = data["size"] / fineness
    opened = open_mesh(frame, blocks, sizes=Sizes(iron=size, corner=size / 2, air=0.3))
    law = {"iron": Law.of(Reluctivity.linear(LINEAR_MU_R))}
    found, start = [], None
    for order in (2, 3):
        field = OpenField(opened, lambda p: turns_field(frame, blocks, p), law, order=order)
        if start is not None:
            field.u[: start.size] = start
        found.append(2 * field.solve(1.0, -1.0).coenergy)
        start = field.u
    more = roundness(frame, blocks, lay)
    return found[0] + more, found[1] + more


def main(names: list[str]) -> None:
    """Solve named lays and write them down."""
    for name in names:
        data = json.loads(DATA.read_text(encoding="utf-8"))
        lay = next(v for v in data["lays"] if v["name"] == name)
        lay["permeance_H"] = list(permeances(data, lay))
        sys.stdout.write(f"{name} {lay['permeance_H']}\n")
        sys.stdout.flush()
        DATA.write_text(json.dumps(data, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(sys.argv[1:])
