"""The map of copper loss shows all sides of coils that are solved for."""

from dataclasses import replace
from functools import cache

import pytest

from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.slice import AcSlice, ac_slice
from fem.report.figures.loss import has_loss_map, loss_map
from geometries.assembly.section_of import section_of
from geometries.cores.kinds import AnyCore
from geometries.cores.shell import ShellCore
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from geometries.windings.conductors import Conductor
from geometries.windings.turns import Winding

MM = 1e-3
SHELL = ShellCore(lamination="EI 120", stack_depth=0.05, joint="welded", steel="some grade")
TWO_LEG = TwoLegCore(
    leg_width=30 * MM,
    yoke_height=30 * MM,
    window_width=30 * MM,
    window_height=60 * MM,
    stack_depth=45 * MM,
    joint="butt",
    steel="some grade",
)
FIRST = Block(
    winding="primary", leg_clearance=1 * MM, end_clearance=1 * MM, build=10 * MM, bottom=2 * MM, height=20 * MM
)


@cache
def solved(core: AnyCore) -> tuple[tuple[Block, ...], AcSlice]:
    axis = core.frame.legs[1].axis if len(core.frame.legs) == 2 else 0.0
    blocks = (FIRST, replace(FIRST, winding="secondary", bottom=30 * MM, leg_axis=axis))
    windings = (
        Winding(turns=100, conductor=Conductor(round="1 mm")),
        Winding(turns=2, conductor=Conductor(strip="8 mm x 9 mm")),
    )
    return blocks, ac_slice(AcState(core, windings, blocks, frequency=50.0, temperature=293.15))


@pytest.mark.parametrize("core", [SHELL, TWO_LEG], ids=["shell", "two-leg"])
def test_every_conductor_that_was_solved_lies_in_the_picture(hand_made, core: AnyCore) -> None:
    blocks, found = solved(core)
    section = section_of(core, blocks)
    shown = replace(
        hand_made, pictures=replace(hand_made.pictures, core=core, blocks=blocks, section=section, ac_slice=found)
    )
    assert has_loss_map(shown)
    figure = loss_map(shown)
    x0, x1 = figure.axes[0].get_xlim()
    y0, y1 = figure.axes[0].get_ylim()
    for region in found.mesh.section.regions:
        if region.winding is not None:
            assert x0 < region.x0 < region.x1 < x1, region.name
            assert y0 < region.y0 < region.y1 < y1, region.name
    words = " ".join(text.get_text() for text in [*figure.texts, *figure.axes[0].texts, figure.axes[0].title])
    assert ("right-hand window" in words) == (core is SHELL)


def test_without_a_slice_there_is_no_map(hand_made) -> None:
    assert not has_loss_map(hand_made)
    with pytest.raises(ValueError, match="no time-harmonic slice"):
        loss_map(hand_made)
