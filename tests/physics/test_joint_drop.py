"""Ampere-turns across joints and gaps, by their flux densities, against the line integral of the field itself."""

import numpy as np
import pytest

from fem.characteristics.iron import saturating_iron
from fem.characteristics.joint_drop import joint_ampere_turns
from fem.constants import MU0
from fem.field.model import build_model, solve_model
from fem.field.quantities import cut_fluxes_per_m
from fem.materials.steel import steel
from geometries import Block, Role, ShellCore, TwoLegCore
from geometries.mesh import mesh_section
from tests.support.fields import flux_density_at

MM = 1e-3
SIZES = {
    "leg_width": 40 * MM,
    "yoke_height": 22 * MM,
    "window_width": 22 * MM,
    "window_height": 60 * MM,
    "stack_depth": 45 * MM,
    "steel": "M530-50A",
}
BLOCK = Block(
    winding="primary", leg_clearance=2 * MM, end_clearance=2 * MM, build=15 * MM, bottom=3 * MM, height=50 * MM
)


def shell(**changes: object) -> ShellCore:
    return ShellCore(**{**SIZES, "outer_leg_width": (20 * MM, 20 * MM), **changes})


CORES = {
    "butt": shell(joint="butt", joint_gap=0.1 * MM),
    "interleaved": shell(joint="interleaved", joint_gap=0.05 * MM),
    "leg gap": shell(joint="butt", joint_gap=0.05 * MM, leg_gap=0.3 * MM),
    "two legs": TwoLegCore(**{**SIZES, "yoke_height": 40 * MM}, joint="butt", joint_gap=0.1 * MM),
}


@pytest.mark.parametrize("name", CORES)
def test_line_integral_of_the_field(name: str) -> None:
    """Up the primary's leg and down the right-hand one, along their axes.

    On the axis B is not the cut's mean: it differs by what leaves the leg through the window, under 2 %, and the fringe
    takes a few gap lengths of the leg's width, under 2 %.
    """
    core, curve = CORES[name], steel("M530-50A").curve
    law_of, _, bridge = saturating_iron(curve, core.stacking_factor, core.joint)
    section = core.section((BLOCK,))
    model = build_model(mesh_section(section, level=1), law_of)
    field = solve_model(model, {"primary": 450.0}).fine
    right = core.frame.legs[-1]
    drop = 0.0
    for region in section.regions:
        middle = (region.x0 + region.x1) / 2
        joint = region.role is Role.JOINT or region.name.endswith("leg gap")
        if not joint or min(abs(middle), abs(middle - right.axis)) > MM:
            continue
        height = region.y1 - region.y0
        # not in the very middle, where elements meet; B is even over so thin a gap
        at = np.array([np.linspace(-0.3, 0.3, 9) * right.width + middle, np.full(9, region.y0 + 0.4 * height)])
        b = np.abs(flux_density_at(field.problem, field.A, at)[1]).mean()
        filled = bridge is not None and region.role is Role.JOINT
        drop += height * (float(bridge.field_strength(b)) if filled else b / MU0)
    cuts = {cut.name: abs(cut.x1 - cut.x0) for cut in section.cuts}
    fluxes = cut_fluxes_per_m(model.fine, field)
    iron = {k: abs(fluxes[k]) / width / core.stacking_factor for k, width in cuts.items() if width}
    assert 0.5 < iron[core.flux_place] < 1.8
    assert joint_ampere_turns(core, curve, iron) == pytest.approx(drop, rel=0.04)
