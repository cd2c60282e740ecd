"""Leakage in three dimensions from both sides: edge elements of another library below, the tool's 3-D field above."""

import json
from pathlib import Path
from typing import Any

import pytest

from fem import example_design
from fem.characteristics.leakage.permeance import MODEL_BAND
from fem.characteristics.leakage.whole import solve_end_region
from geometries.shapes.blocks import Block, single_blocks
from geometries.windings.arrangement import place
from tests.support.core_shape import CoreShape
from tests.support.needed import needed

needed("ngsolve")
from tests.support.ngsolve_edges import edge_mesh, solve_edges

pytestmark = pytest.mark.slow
MM = 1e-3
# 3-D reference fields, own computation with the two dual formulations: the file says how.
CASES: dict[str, dict[str, Any]] = {
    case["name"]: case
    for case in json.loads((Path(__file__).parent / "data" / "leakage3d.json").read_text(encoding="utf-8"))["cases"]
}


def arrangement(case: dict[str, Any]) -> tuple[CoreShape, tuple[Block, Block]]:
    core = CoreShape(
        leg_width=case["centre_leg_width"] * MM,
        outer_leg_widths=(case["outer_leg_width"] * MM, case["outer_leg_width"] * MM),
        yoke_height=case["yoke_height"] * MM,
        window_width=case["window_width"] * MM,
        window_height=case["window_height"] * MM,
        stack_depth=case["stack_depth"] * MM,
    )
    first, second = (
        Block(
            winding=name,
            leg_clearance=coil["clear_to_leg"] * MM,
            end_clearance=coil["clear_to_leg_end"] * MM,
            build=coil["build"] * MM,
            bottom=coil["y_bottom"] * MM + core.window_height / 2,
            height=(coil["y_top"] - coil["y_bottom"]) * MM,
        )
        for name, coil in (("first", case["coil1"]), ("second", case["coil2"]))
    )
    return core, (first, second)


@pytest.mark.parametrize("name", ["S1_small_square", "C1_equal_height"])
def test_leakage_is_bracketed(name: str) -> None:
    """Lower bound <= true value <= tool's value, so the tool is high by no more than their distance."""
    core, blocks = arrangement(CASES[name])
    mesh = edge_mesh(core, blocks, size=6 * MM, corner=3 * MM, margin=100 * MM)
    below = solve_edges(mesh, core, blocks, {"first": 1.0, "second": -1.0})
    # The solver's residual and the gauge: what they take from the bound is below their product with the field's energy.
    assert below.closure < 1e-3
    above = solve_end_region(core, blocks)
    # A bound from below cannot exceed one from above, nor that of the finer reference field.
    assert below.permeance < above.permeance
    assert below.permeance < CASES[name]["bounds_H_per_turn2"][1]
    # The reference's own bracket is 0.03 to 0.1 %; with second-order elements this coarse mesh adds about as much.
    assert above.permeance / below.permeance - 1 < MODEL_BAND


@pytest.mark.parametrize("keys", [{"turns": 1}, {"lay": "along"}])
def test_single_conductors_are_bracketed(keys: dict[str, Any]) -> None:
    """A cable or three as they lie: within 1 % over the bound from below, where an even block is 8 and 2 % under it."""
    design = example_design().vary("windings.secondary.wires_in_hand", 1)
    for key, value in keys.items():
        design = design.vary(f"windings.secondary.{key}", value)
    core, even = design.core.frame.closed, place(design.core, design.windings)
    blocks = single_blocks(even)
    mesh = edge_mesh(core, blocks, size=7 * MM, corner=3.5 * MM, margin=100 * MM)
    below = solve_edges(mesh, core, blocks, {"primary": 1.0, "secondary": -1.0})
    assert below.closure < 1e-3
    above = solve_end_region(core, blocks)
    assert below.permeance < above.permeance < 1.01 * below.permeance
    assert solve_end_region(core, even).permeance < 0.985 * below.permeance
