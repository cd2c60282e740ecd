"""A second way to the same field: tensor grids, made without gmsh, graded by hand to the section's lines."""

import numpy as np
import pytest

from fem.field.static.model import build_model, solve_both
from fem.field.static.problem import Law
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role
from tests.support.meshes import tensor_section_mesh
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
SHEET = Reluctivity.of_lamination(steel("M400-50A").curve, 0.96)
STATES = [
    {"primary": 3000.0},
    {"primary": 3000.0, "secondary": -2900.0},
    {"primary": 300.0},
    {"primary": 30.0},
]
"""Saturated, nearly shorted, idle, weak (ampere-turns)."""


def sheet(region: Region) -> Law | None:
    return SHEET if region.role is Role.IRON else None


@pytest.mark.parametrize("gap", [0.0, 0.2 * MM])
def test_tensor_grid_agrees(gap: float) -> None:
    section = shell(SIDE_BY_SIDE, gap=gap).half()
    ways = []
    for mesh in (
        mesh_section(section, level=1),
        tensor_section_mesh(section, corner=0.5 * MM, inner=4 * MM, far=30 * MM, growth=2.0),
    ):
        model = build_model(mesh, sheet)
        rows = []
        for solved in solve_both(model, STATES, [None] * len(STATES)):
            problem, A = solved.fine.problem, solved.fine.A
            linkages = [2 * float(problem.sources[w] @ A) for w in ("primary", "secondary")]
            cuts = [float(model.fine.cuts[name] @ A) for name in ("leg", "right", "upper yoke right")]
            rows.append([*linkages, *cuts, problem.energy_per_m(A)])
        ways.append(np.array(rows))
    # Corner elements of 0.5 mm (then halved) leave some 3e-4 in the joint's fringing and 1e-4 without one; the graded
    # mesh a fifth of that. 5e-4 of a state's largest flux is what a change of either mesh may move.
    apart = np.abs(ways[1] - ways[0])
    fluxes, energy = slice(0, 5), 5
    assert np.all(apart[:, fluxes] < 5e-4 * np.abs(ways[0][:, fluxes]).max(axis=1, keepdims=True))
    assert np.all(apart[:, energy] < 5e-4 * ways[0][:, energy])
