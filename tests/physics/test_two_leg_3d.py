"""Leakage of two-leg cores in three dimensions from both sides: edge elements of another library below, ours above."""

from dataclasses import replace

import pytest

from fem.characteristics.leakage.whole import solve_end_region
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from tests.support.needed import needed

needed("ngsolve")
from tests.support.ngsolve_edges import edge_mesh, solve_edges

pytestmark = pytest.mark.slow
MM = 1e-3
CORE = TwoLegCore(
    leg_width=30 * MM,
    yoke_height=30 * MM,
    window_width=25 * MM,
    window_height=70 * MM,
    stack_depth=45 * MM,
    joint="butt",
    steel="some grade",
)
PRIMARY = Block(
    winding="primary", leg_clearance=1.5 * MM, end_clearance=2 * MM, build=15 * MM, bottom=2 * MM, height=36 * MM
)
ABOVE = replace(PRIMARY, winding="secondary", build=18 * MM, bottom=42 * MM, height=24 * MM)
INNER = replace(PRIMARY, build=8 * MM, height=60 * MM)
OUTSIDE = replace(
    INNER, winding="secondary", leg_clearance=11 * MM, end_clearance=12 * MM, build=9 * MM, height=60 * MM
)
FIRST = replace(PRIMARY, build=8 * MM)
FACING = replace(PRIMARY, winding="secondary", build=9 * MM, leg_axis=CORE.frame.legs[1].axis)


@pytest.mark.parametrize(
    ("blocks", "margin", "apart"),
    [((PRIMARY, ABOVE), 250 * MM, 0.01), ((INNER, OUTSIDE), 100 * MM, 0.005), ((FIRST, FACING), 500 * MM, 0.025)],
    ids=["side by side", "concentric", "each its leg"],
)
def test_leakage_is_bracketed(blocks: tuple[Block, Block], margin: float, apart: float) -> None:
    """Lower bound <= true value <= tool's value: the tool is high by no more than their distance.

    Measured 0.55, 0.23 and 1.8 %. Part of it is the lower bound's own, whose far box shuts in what leaks from yoke to
    yoke: with 100 mm of air the first was 1.3 %, with 200 mm the last 3.9 %.
    """
    frame = CORE.frame.closed
    mesh = edge_mesh(frame, blocks, size=8 * MM, corner=4 * MM, margin=margin)
    below = solve_edges(mesh, frame, blocks, {"primary": 1.0, "secondary": -1.0})
    assert below.closure < 1e-3
    above = solve_end_region(frame, blocks)
    assert below.permeance < above.permeance < (1 + apart) * below.permeance
    # What the tool claims as its excess is of the distance's size, not below a third of it.
    assert above.error > (above.permeance - below.permeance) / 3
