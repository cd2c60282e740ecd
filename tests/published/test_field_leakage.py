"""Leakage per metre of windings between iron walls: the m.m.f. rule, Rogowski's factor, a printed sandwich winding."""

import numpy as np
import pytest
from skfem import MeshTri

from fem.constants import MU0
from fem.field.static.model import build_model, solve_model
from fem.field.static.newton import solve
from fem.materials.mixture import Reluctivity
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.fields import problem_on
from tests.support.meshes import graded, midpoints, tensor_mesh, tensor_section_mesh
from tests.support.sections import shell
from tests.support.values import published, published_keys

MM = 1e-3
IRON = Reluctivity.linear(1e6)


def iron(region: Region) -> Reluctivity | None:
    return IRON if region.role is Role.IRON else None


@pytest.mark.parametrize(
    ("key", "coils", "expected"),
    [
        # window 20 x 60 mm, from x = 20 to 40 mm
        ("rule_side_by_side", ((20, 40, 0, 32), (20, 40, 36, 60)), (32 / 3 + 4 + 24 / 3) / 20),
        ("rule_side_by_side", ((20, 40, 0, 10), (20, 40, 30, 60)), (10 / 3 + 20 + 30 / 3) / 20),
        ("rule_concentric", ((20, 28, 0, 60), (30, 40, 0, 60)), (8 / 3 + 2 + 10 / 3) / 60),
        ("rule_concentric", ((20, 32, 0, 60), (32, 40, 0, 60)), (12 / 3 + 8 / 3) / 60),
    ],
)
def test_windings_that_fill_the_window(key: str, coils: tuple[tuple[float, ...], ...], expected: float) -> None:
    """2 W / (N I)^2 with opposite ampere-turns; twice the rule, for the section has two windows."""
    row = published(key)
    places = {name: tuple(v * MM for v in c) for name, c in zip(("primary", "secondary"), coils, strict=True)}
    section = shell(places).half()
    fine = solve_model(build_model(mesh_section(section), iron), {"primary": 1.0, "secondary": -1.0}).fine
    assert row.relative_error(fine.problem.energy_per_m(fine.A), MU0 * expected) < row.tolerance


def columns(key: str) -> tuple[float, float, float, float]:
    """Return builds, distance and height [m] from a key that ends in b1_a_b2_h in mm."""
    b1, a, b2, h = (float(v) for v in key.split("_")[-4:])
    return b1 * MM, a * MM, b2 * MM, h * MM


def factor(key: str, left_wall: bool, right_wall: bool) -> float:
    """Return the leakage of two windings as a factor on the rule; a side without a wall has air up to a far line."""
    b1, a, b2, h = columns(key)
    width = b1 + a + b2
    far = 40 * (width + h)
    fine = min(b1, b2) / 8
    # Upper half: by symmetry flux crosses y = 0 at right angles, a natural boundary like the walls.
    x = [0.0, b1, b1 + a, width]
    sizes = [fine, fine / 2, fine / 2, fine]
    x, sizes = ([*x, far] if not right_wall else x), ([*sizes, far / 3] if not right_wall else sizes)
    x, sizes = ([-far, *x] if not left_wall else x), ([far / 3, *sizes] if not left_wall else sizes)
    top = (
        h / 2 + 5 * width if left_wall and right_wall else far
    )  # between two walls the field falls by exp(-pi) a width
    mesh = tensor_mesh(graded(x, sizes, 1.3), graded([0.0, h / 2, top], [fine, fine / 4, far / 3], 1.3))
    mx, my = midpoints(mesh.p, mesh.t)
    inside = my < h / 2
    problem = problem_on(
        mesh,
        windings={
            "inner": [(np.flatnonzero(inside & (mx > 0) & (mx < b1)), 1)],
            "outer": [(np.flatnonzero(inside & (mx > b1 + a) & (mx < width)), 1)],
        },
        fixed=lambda m: (m[1] > top - 1e-9) | (m[0] > far - 1e-9) | (m[0] < -far + 1e-9),
    )
    # Half a winding carries half an ampere-turn; the other half of the section holds the other half of the energy.
    A = solve(problem, {"inner": 0.5, "outer": -0.5}).A
    return 2 * 2 * problem.energy_per_m(A) / (MU0 * (b1 / 3 + a + b2 / 3) / h)


@pytest.mark.parametrize("key", published_keys("rogowski_"))
def test_windings_between_two_walls(key: str) -> None:
    row = published(key)
    assert abs(factor(key, left_wall=True, right_wall=True) - row.number) < row.tolerance


@pytest.mark.parametrize("key", published_keys("one_wall_"))
def test_windings_beside_one_wall(key: str) -> None:
    row = published(key)
    assert abs(factor(key, left_wall=True, right_wall=False) - row.number) < row.tolerance


@pytest.mark.parametrize("key", published_keys("no_wall_"))
def test_windings_in_free_air(key: str) -> None:
    row = published(key)
    assert abs(factor(key, left_wall=False, right_wall=False) - row.number) < row.tolerance


def test_sandwich_winding() -> None:
    """The stack half l.v., h.v., l.v., h.v., half l.v. across its window: a field in one dimension."""
    heights = (("low 1", 18.0), ("", 16.0), ("high 1", 40.0), ("", 16.0), ("low 2", 36.0), ("", 16.0), ("high 2", 40.0),
               ("", 16.0), ("low 3", 18.0))  # fmt: skip
    width, mean_turn, turns, base = 0.12, 1.5, 200, 2000**2 / 100e3
    y, regions = 0.0, []
    for name, height in heights:
        if name:
            regions.append(
                Region(
                    name=name, role=Role.CONDUCTOR, winding=name, sense=1, x0=0.0, x1=width, y0=y, y1=y + height * MM
                )
            )
        y += height * MM
    section = Section(regions=tuple(regions), outline=(0.0, 0.0, width, y))
    mesh = tensor_section_mesh(section, corner=20 * MM, inner=20 * MM, far=20 * MM)
    assert y == pytest.approx(0.216)
    problem = problem_on(
        MeshTri(mesh.points, mesh.triangles),
        windings={r.name: [(np.flatnonzero(mesh.region == k), 1)] for k, r in enumerate(section.regions)},
        fixed=lambda m: m[1] > y - 1e-9,
    )
    shares = {"low 1": -0.25, "high 1": 0.5, "low 2": -0.5, "high 2": 0.5, "low 3": -0.25}
    A = solve(problem, shares).A
    inductance = 2 * problem.energy_per_m(A) * mean_turn * turns**2
    row, printed = published("sandwich_100kVA_inductance"), published("sandwich_100kVA")
    assert row.relative_error(inductance) < row.tolerance
    assert printed.met_by(2 * np.pi * 50 * inductance / base)
