"""Interleaved coils and windings of several blocks: a printed sandwich winding, exact ramps, invariants of shares."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from fem.characteristics.laws import linear_iron
from fem.characteristics.leakage.whole import solve_end_region
from fem.constants import MU0
from fem.field.bricks.grid import end_region_grid
from fem.field.static.model import build_model, solve_model
from fem.field.static.problem import winding_source
from fem.field.static.quantities import both
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.shapes.blocks import Block
from geometries.windings.arrangement import Windings, place
from tests.support.ends import fluxes_per_turn
from tests.support.values import published

MM = 1e-3
SANDWICH = ShellCore(
    leg_width=120 * MM,
    outer_leg_width=60 * MM,
    yoke_height=60 * MM,
    window_width=120 * MM,
    window_height=216 * MM,
    stack_depth=200 * MM,
    joint="butt",
    steel="some grade",
)


def sandwich(sections: int, primary_height: float, secondary_height: float, spacing: float) -> tuple[Block, ...]:
    """Return coils that reach from leg to leg; heights are those of all coils of a winding together."""
    wire = {"strip": "1 mm x 1 mm", "insulated": "1.1 mm x 1.1 mm"}
    build = 120 * MM
    windings = Windings.model_validate(
        {
            "arrangement": "interleaved",
            "sections": sections,
            "spacing": spacing,
            "leg_clearance": 0.0,
            "yoke_clearance": 0.0,
            "end_clearance": 2 * MM,
            "primary": {"turns": 240, "conductor": wire, "height": primary_height, "build": build},
            "secondary": {"turns": 48, "conductor": wire, "height": secondary_height, "build": build},
        }
    )
    return place(SANDWICH, windings)


def window_per_m(blocks: Sequence[Block]) -> float:
    section = section_of(SANDWICH, blocks, joint_regions=False).half()
    field = solve_model(build_model(mesh_section(section), linear_iron(1e6)), {"primary": 1.0, "secondary": -1.0})
    return (both(field, "primary")[1] - both(field, "secondary")[1]) / 2


def test_printed_sandwich_winding() -> None:
    """Sawhney example 5.14: half l.v. 18, h.v. 40, l.v. 36, h.v. 40, half l.v. 18 mm with 16 mm between them."""
    blocks = sandwich(2, 80 * MM, 72 * MM, 16 * MM)
    order = sorted(blocks, key=lambda block: block.bottom)
    assert [round(block.height / MM) for block in order] == [18, 40, 36, 40, 18]
    assert order[-1].top == pytest.approx(216 * MM)
    mean_turn, turns, base = 1.5, 200, 2000**2 / 100e3
    inductance = window_per_m(blocks) * mean_turn * turns**2
    row, printed = published("sandwich_100kVA_inductance"), published("sandwich_100kVA")
    # The row's own tolerance is for a field in one dimension; iron of 1e6 adds some 1e-5.
    assert row.relative_error(inductance) < row.tolerance + 2e-5
    assert printed.met_by(2 * np.pi * 50 * inductance / base)


@pytest.mark.parametrize("n", [1, 3])
def test_sections_divide_the_leakage(n: int) -> None:
    """mu0 / (2 n W) (a + (bp + bs) / 6) per metre, bp and bs a full coil: Sawhney section 5; exact under ideal iron."""
    spacing = 6 * MM
    primary = 0.5 * (216 * MM - 2 * n * spacing)
    blocks = sandwich(n, primary, primary, spacing)
    expected = MU0 / (2 * n * 120 * MM) * (spacing + 2 * primary / n / 6)
    assert window_per_m(blocks) == pytest.approx(expected, rel=1e-4)


def test_interleaved_coils_of_a_tall_stack_leak_as_the_formula_says() -> None:
    """The same in 3-D: ends drop out of the difference of two stacks."""
    blocks = sandwich(2, 80 * MM, 72 * MM, 16 * MM)
    frame = SANDWICH.frame.closed
    short, tall = (
        solve_end_region(replace(frame, stack_depth=depth), blocks, mu_r=1e6, resolution=0.6).permeance
        for depth in (1.6, 1.7)
    )
    expected = 2 * MU0 / (4 * 120 * MM) * (16 * MM + 76 * MM / 6)
    # A ramp along the leg is a polynomial that the grid holds; the ends' mutual part falls as (height / depth)^2.
    assert (tall - short) / 0.1 == pytest.approx(expected, rel=1e-3)


WHOLE = Block(
    winding="primary", leg_clearance=1.5 * MM, end_clearance=2 * MM, build=15 * MM, bottom=2 * MM, height=24 * MM
)
HALVES = (
    replace(WHOLE, height=10 * MM, share=10 / 24, coil="1"),
    replace(WHOLE, bottom=12 * MM, height=14 * MM, share=14 / 24, coil="2"),
)
OTHER = replace(WHOLE, winding="secondary", bottom=30 * MM, height=20 * MM)
EXTRA = replace(WHOLE, bottom=52 * MM, height=5 * MM, build=10 * MM)
SMALL = ShellCore(
    leg_width=30 * MM,
    outer_leg_width=15 * MM,
    yoke_height=15 * MM,
    window_width=18 * MM,
    window_height=60 * MM,
    stack_depth=45 * MM,
    joint="interleaved",
    steel="some grade",
)


def test_a_block_parted_in_two_is_the_same_source() -> None:
    """On one mesh: as the mean over the whole is that over its parts by their areas, so is the field."""
    model = build_model(mesh_section(section_of(SMALL, (*HALVES, OTHER), joint_regions=False).half()), linear_iron())
    grid = model.fine
    names = [region.name for region in grid.regions]
    parts = [np.flatnonzero(grid.region == names.index(f"primary {k} right")) for k in (1, 2)]
    whole = winding_source(grid.problem.space, grid.problem.geometry, [(np.concatenate(parts), 1.0)])
    np.testing.assert_allclose(grid.problem.sources["primary"], whole, rtol=0, atol=1e-12 * np.abs(whole).max())


def test_a_block_parted_in_two_leaks_the_same_in_three_dimensions() -> None:
    grid = end_region_grid(SMALL.frame.closed, (*HALVES, OTHER), (), mu_r=4000, resolution=0.5)
    one, _ = fluxes_per_turn(grid, SMALL.frame, (WHOLE, OTHER), (1.0, -1.0))
    two, _ = fluxes_per_turn(grid, SMALL.frame, (*HALVES, OTHER), (1.0, -1.0))
    np.testing.assert_allclose(two, one, rtol=1e-9)


@pytest.mark.parametrize("turns", [20, -20])
def test_extra_turns_add_or_take_their_linkage(turns: int) -> None:
    """Superposition: net turns link N times the main coil's flux and n times the extra one's, over N + n."""
    net = 240 + turns
    joined = (replace(WHOLE, share=240 / net), replace(EXTRA, share=turns / net, coil="extra"), OTHER)
    parted = (WHOLE, replace(EXTRA, winding="extra"), OTHER)
    weights = np.array([240 / net, turns / net])
    model, apart = (
        build_model(mesh_section(section_of(SMALL, b, joint_regions=False).half()), linear_iron())
        for b in (joined, parted)
    )
    planar = both(solve_model(model, {"primary": 1.0, "secondary": -1.0}), "primary")[1]
    field = solve_model(apart, {"primary": weights[0], "extra": weights[1], "secondary": -1.0})
    assert planar == pytest.approx(weights @ [both(field, "primary")[1], both(field, "extra")[1]], rel=1e-9)
    grid = end_region_grid(SMALL.frame.closed, joined, (), mu_r=4000, resolution=0.5)
    one, _ = fluxes_per_turn(grid, SMALL.frame, joined, (1.0, -1.0))
    two, _ = fluxes_per_turn(grid, SMALL.frame, parted, (*weights, -1.0))
    assert one[0] == pytest.approx(weights @ two[:2], rel=1e-9)
    assert one[1] == pytest.approx(two[2], rel=1e-9)
