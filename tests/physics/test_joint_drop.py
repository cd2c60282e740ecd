"""Ampere-turns across joints and gaps against the line integral of the field itself, round the whole loop."""

from itertools import pairwise

import numpy as np
import pytest

from fem.arrays import Floats
from fem.characteristics.laws import saturating_iron
from fem.characteristics.magnetising.joint_drop import joint_ampere_turns
from fem.constants import MU0
from fem.field.static.model import build_model
from fem.field.static.newton import solve
from fem.materials.steel import steel
from geometries.assembly.mesh import mesh_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block
from geometries.shapes.section import Role
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
    "wide gaps": shell(joint="butt", joint_gap=1.0 * MM, leg_gap=6.0 * MM),
    "two legs": TwoLegCore(**{**SIZES, "yoke_height": 40 * MM}, joint="butt", joint_gap=0.1 * MM),
}


@pytest.mark.parametrize(("name", "ampere_turns"), [*((name, 450.0) for name in CORES), ("butt", 4000.0)])
def test_line_integral_of_the_field(name: str, ampere_turns: float) -> None:
    """Down the primary's leg and up the right-hand one, along their axes, through the yokes along theirs.

    By Ampere's law all of it is the ampere-turns: to the 2 % that samples of a field which jumps from triangle to
    triangle leave. What of it lies in joints and gaps is the mean over the legs' widths to 4 %: near an axis the field
    is a little higher or lower than near the corners, most in a wide gap.
    """
    core, curve = CORES[name], steel("M530-50A").curve
    law_of, iron, bridge, _ = saturating_iron(curve, core.stacking_factor, core.joint)
    section = section_of(core, (BLOCK,))
    model = build_model(mesh_section(section), law_of)
    field = solve(model.coarse.problem, {"primary": ampere_turns})
    right, height = core.frame.legs[-1], core.frame.window_height
    middle = core.frame.yoke_height / 2
    corners = [(0.0, height + middle), (0.0, -middle), (right.axis, -middle), (right.axis, height + middle)]

    def along(start: tuple[float, float], end: tuple[float, float]) -> tuple[float, float]:
        """Return the whole integral of H along a straight line and what of it lies in joints and gaps [A]."""
        (x0, y0), (x1, y1) = start, end
        marks = sorted({y0, y1, *(y for r in section.regions for y in (r.y0, r.y1) if min(y0, y1) < y < max(y0, y1))})
        pieces = list(pairwise(marks)) if x0 == x1 else [(y0, y1)]
        total = in_gaps = 0.0
        for low, high in pieces:
            t = (np.arange(21) + 0.5) / 21
            # a hair beside the axis, where elements meet
            points = np.array([x0 + (x1 - x0) * t + 0.1 * MM * (x0 == x1), low + (high - low) * t])
            at = (x0 + 0.1 * MM, 0.5 * (low + high)) if x0 == x1 else points[:, 10]
            here = [r for r in section.regions if r.x0 < at[0] < r.x1 and r.y0 < at[1] < r.y1]
            joint = any(r.role is Role.JOINT for r in here)
            gap = any(r.name.endswith("leg gap") for r in here)
            b = flux_density_at(field.problem, field.A, points)
            law = None if gap or (joint and bridge is None) else bridge if joint else iron
            length = abs(high - low) if x0 == x1 else abs(x1 - x0)
            drop = length * abs(float(np.mean(strength(b, law)[1 if x0 == x1 else 0])))
            total += drop
            in_gaps += drop if joint or gap else 0.0
        return total, in_gaps

    found = np.array([along(*pair) for pair in zip(corners, [*corners[1:], corners[0]], strict=True)]).sum(axis=0)
    assert found[0] == pytest.approx(ampere_turns, rel=0.02)
    drop = joint_ampere_turns(model.coarse, field)
    assert drop == pytest.approx(found[1], rel=0.04)
    assert drop < ampere_turns


def strength(b: Floats, law: object) -> Floats:
    """Return H (2, n) [A/m] of B (2, n) [T] in a law, or in air."""
    return b / MU0 if law is None else b * law.nu_dnu((b**2).sum(axis=0))[0]
