"""Meshes as the field needs them: bounded in number at thin joints, graded to iron corners, refined by level."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fem.constants import MU0
from fem.field.static.model import build_model, solve_model
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.section import Role
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
JOINTS = [1e-6, 1e-5, 1e-4, 3e-4, 1e-3, 3e-3]
"""Joint gaps [m]: from sheets pressed together to several millimetres of card."""


def quality(mesh: SectionMesh) -> np.ndarray:
    """4 sqrt(3) area over the sum of squared sides: 1 for an equilateral triangle."""
    p = mesh.points[:, mesh.triangles]
    u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    sides = (u**2).sum(axis=0) + (v**2).sum(axis=0) + ((u - v) ** 2).sum(axis=0)
    return 2 * np.sqrt(3) * (u[0] * v[1] - u[1] * v[0]) / sides


@pytest.mark.parametrize("gap", [*JOINTS, 5e-3])
def test_thin_joints_cost_few_elements(gap: float) -> None:
    """Measured on this section: 640 triangles at 5 mm, 1000 at 0.3 mm and no more however thin the joint."""
    coils = {"primary": SIDE_BY_SIDE["primary"], "secondary": (22 * MM, 38 * MM, 34 * MM, 54 * MM)}
    section = shell(coils, gap=gap).half()
    mesh = mesh_section(section)
    joints = [k for k, r in enumerate(section.regions) if r.role is Role.JOINT]
    count = int(np.isin(mesh.region, joints).sum())
    assert mesh.triangles.shape[1] < 1300
    # Two rows of triangles across, none longer than the corner element's neighbours allow: both joints in all.
    assert 20 < count < 130
    # Triangles in and beside a joint thinner than its corner element are flat; all others are well shaped.
    assert np.median(quality(mesh)) > 0.85
    assert np.mean(quality(mesh) < 0.3) < 0.12


@pytest.mark.parametrize("gap", [1e-6, 3e-6, 1e-5, 3e-5])
def test_thin_joints_have_the_reluctance_of_their_length(gap: float) -> None:
    """Two crossings add 2 g/(mu0 width) ampere-turns per flux, whatever flat triangles the joint is made of."""
    iron = Reluctivity.linear(5000.0)
    found = []
    for section in (shell(SIDE_BY_SIDE), shell(SIDE_BY_SIDE, gap=gap)):
        model = build_model(mesh_section(section.half()), lambda r: iron if r.role is Role.IRON else None)
        fine = solve_model(model, {"primary": 1.0}).fine
        found.append(1.0 / float(model.fine.cuts["leg"] @ fine.A))
    # The joints add 10 % at 1 um and 130 % at 30 um. They also spread the flux evenly over the ends of legs, where
    # without them it crowds at the corners of the window: some thousandths of the iron's own reluctance.
    assert found[1] == pytest.approx(found[0] + 2 * gap / (MU0 * 40 * MM), rel=1e-2)


def test_levels_halve_elements_and_cut_corner_elements_by_eight() -> None:
    section = shell(SIDE_BY_SIDE).half()
    corner = np.array([[20 * MM], [0.0]])  # where the centre leg meets the yoke in the window
    counts, smallest = [], []
    for level in (0, 1, 2):
        mesh = mesh_section(section, level=level)
        p = mesh.points[:, mesh.triangles]
        side = np.sqrt(((p[:, 0] - p[:, 1]) ** 2).sum(axis=0))
        at_corner = (np.abs(p - corner[:, :, None]).max(axis=0) < 1e-9).any(axis=0)
        counts.append(mesh.triangles.shape[1])
        smallest.append(side[at_corner].mean())
    # A mesher follows sizes to within some tens of per cent.
    assert_allclose(np.array(smallest[:-1]) / smallest[1:], 8.0, rtol=0.4)
    ratio = np.array(counts[1:]) / counts[:-1]
    # Four times the elements, and more rings of them round each corner.
    assert np.all((ratio > 3.5) & (ratio < 6.5)), ratio
