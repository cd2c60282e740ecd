"""Saturated cores against nonlinear fields in three dimensions and unbounded air, made by another route.

The references (`tests/support/nonlinear3d.py`) are solved on tetrahedra of second and of third order. At the iron's
edges the potential goes as distance^(2/3), so that the coenergy's error falls as the order to the power -8/3 (I.
Babuska and M. Suri, SIAM Rev. 36 (1994) 578, from memory): of the difference between both orders the third keeps
r / (1 - r), r = (2/3)^(8/3). Half a reference's correction counts as its doubt.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import CubicHermiteSpline

from fem.characteristics.laws import saturating_iron
from fem.characteristics.magnetising.curve import magnetising_curve
from fem.characteristics.magnetising.ends import Materials, end_part
from fem.characteristics.magnetising.planar import Energised, planar_curve
from fem.field.static.model import build_model
from fem.materials.bh import BHCurve
from fem.materials.steel import steel
from geometries.assembly.morph import morphed_section
from geometries.assembly.section_of import section_of
from geometries.cores.shell import ShellCore
from geometries.cores.stacked import StackedCore
from geometries.cores.two_leg import TwoLegCore
from geometries.shapes.blocks import Block

MM = 1e-3
DATA = json.loads((Path(__file__).parent / "data" / "nonlinear3d.json").read_text(encoding="utf-8"))
EDGES = json.loads((Path(__file__).parent / "data" / "nonlinear3d_edges.json").read_text(encoding="utf-8"))["cores"]
SOLVED = [entry for entry in DATA["cores"] if "points" in entry]
QUICK = 2
LENGTHS = ("leg_width", "outer_leg_width", "yoke_height", "window_width", "window_height", "stack_depth", "leg_gap")
KEPT = (2 / 3) ** (8 / 3) / (1 - (2 / 3) ** (8 / 3))


def core_of(entry: dict[str, Any]) -> StackedCore:
    given: dict[str, Any] = {key: entry[key] * MM for key in LENGTHS if key in entry}
    kind = {"shell": ShellCore, "two-leg": TwoLegCore}[entry["type"]]
    if "spacing" in entry:
        given["second"] = {"spacing": entry["spacing"] * MM, "primaries": "series"}
    return kind(**given, joint=entry["joint"], joint_gap=entry["joint_gap"] * MM or 1e-4, steel="of its table")


@pytest.mark.parametrize(
    "entry",
    [pytest.param(e, id=e["name"], marks=[pytest.mark.slow] if k >= QUICK else []) for k, e in enumerate(SOLVED)],
)
def test_end_part_and_current_against_the_reference(entry: dict[str, Any]) -> None:
    """End part within 5 %, the current for the reference's flux within 2 %, besides the reference's own doubt.

    Where edge elements solved the state too, the tool's flux lies between both references' or off by no more than the
    error that it states itself.
    """
    core, table = core_of(entry), DATA["tables"][entry["table"]]
    frame = core.frame if entry["joint_gap"] else core.frame.closed
    sizes = ("leg_clearance", "end_clearance", "build", "bottom", "height")
    blocks = tuple(
        Block(
            winding=b["winding"],
            leg_axis=b.get("leg_axis", 0.0) * MM,
            round_both=b.get("round_both", False),
            **{key: b[key] * MM for key in sizes},
        )
        for b in entry["blocks"]
    )
    curve = BHCurve(
        name=entry["table"],
        H=np.array(table["H_A_per_m"], dtype=float),
        B=np.array(table["B_T"], dtype=float),
        saturation_polarisation=table["saturation_polarisation_T"],
        source="of the file",
    )
    law_of, iron, bridge, _ = saturating_iron(curve, entry["stacking_factor"], core.joint)
    section = section_of(frame, blocks)
    section = section.half() if section.mirror_symmetric else section
    sheet = steel("M530-50A")  # its loss plays no part
    energised = Energised(
        winding="primary",
        other="secondary",
        window_height=frame.window_height,
        iron=iron,
        loss=sheet.loss,
        density=sheet.density,
    )
    planar = planar_curve(build_model(morphed_section(section), law_of), energised)
    materials = Materials(iron=iron, bridge=bridge)
    end = end_part(frame, blocks, materials, planar.ampere_turns, planar.flux, section.outline)
    whole = magnetising_curve(planar, depth=frame.iron_depth, iron=iron, end=end)
    along = CubicHermiteSpline(np.log(planar.ampere_turns), end.flux, end.slope * planar.ampere_turns[:, None])
    for point in entry["points"]:
        F, (second, third) = point["ampere_turns"], point["flux_per_turn_Wb"]
        reference = third - KEPT * (second - third)
        doubt = 0.5 * KEPT * abs(second - third)
        expected = reference - point["planar_flux_Wb"]
        assert along(np.log(F))[0] == pytest.approx(expected, abs=0.05 * abs(expected) + doubt), F
        current = whole.excitation(reference)
        assert current == pytest.approx(F, abs=0.02 * F + whole.excitation(reference + doubt) - current), F
        for below in (p["edge_flux_per_turn_Wb"] for p in EDGES.get(entry["name"], []) if p["ampere_turns"] == F):
            low, high = below * (1 - whole.discretisation_error), third * (1 + whole.discretisation_error)
            assert whole.excitation(low) < F < whole.excitation(high), F
        second, third = point["other_flux_per_turn_Wb"]
        linked = float(whole.other_flux(np.array([reference]))[0])
        assert linked == pytest.approx(third - KEPT * (second - third), rel=5e-3), F
