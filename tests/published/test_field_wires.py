"""Wires and bars in air: inductances and fields known in closed form."""

import numpy as np
import pytest
from scipy.spatial import Delaunay
from skfem import MeshTri

from fem.field.static.newton import solve
from fem.field.static.problem import Problem
from geometries.shapes.section import Region, Role, Section
from tests.support.fields import energy_in, flux_density_at, problem_on
from tests.support.meshes import graded, midpoints, rings, tensor_mesh, tensor_section_mesh
from tests.support.values import published, published_keys

MM = 1e-3


def radius_of(mesh: MeshTri) -> np.ndarray:
    return np.hypot(*midpoints(mesh.p, mesh.t))


def coaxial(radii: list[float]) -> tuple[Problem, np.ndarray]:
    """Wire in a shell, A = 0 on the outermost circle; of three radii the last ring carries the return current."""
    sizes = [radii[0] / 12] * len(radii)
    mesh = rings(graded([0.0, *radii], [radii[0] / 12, *sizes], 1.2), 120)
    r = radius_of(mesh)
    wire = np.flatnonzero(r < radii[0])
    parts = [(wire, 1)]
    if len(radii) == 3:
        parts.append((np.flatnonzero(r > radii[1]), -1))
    return problem_on(mesh, windings={"loop": parts}), wire


def inductance(problem: Problem) -> tuple[float, np.ndarray]:
    solved = solve(problem, {"loop": 1.0})
    return float(problem.sources["loop"] @ solved.A), solved.A


def test_internal_inductance_of_a_wire() -> None:
    row = published("wire_internal")
    problem, wire = coaxial([2 * MM, 6 * MM])
    _, A = inductance(problem)
    assert row.relative_error(2 * energy_in(problem, A, wire)) < row.tolerance


@pytest.mark.parametrize(("key", "radii"), [("coax_thin_shell", [2.0, 6.0]), ("coax_finite_shell", [2.0, 6.0, 7.0])])
def test_coaxial_pair(key: str, radii: list[float]) -> None:
    row = published(key)
    problem, _ = coaxial([r * MM for r in radii])
    assert row.relative_error(inductance(problem)[0]) < row.tolerance


def test_two_parallel_wires() -> None:
    """One wire and the plane half-way, on which A = 0 by symmetry: half the loop's linkage."""
    row = published("two_wires")
    radius, centre = 2 * MM, 10 * MM
    mesh = wire_beside_plane(radius, centre, far=200 * centre, around=96)
    wire = np.flatnonzero(np.hypot(midpoints(mesh.p, mesh.t)[0] - centre, midpoints(mesh.p, mesh.t)[1]) < radius)
    problem = problem_on(mesh, windings={"loop": [(wire, 1)]})
    # The triangles must follow the wire: their area is that of the circle.
    assert problem.geometry.determinant[wire].sum() / 2 == pytest.approx(np.pi * radius**2, rel=1e-9)
    assert row.relative_error(2 * inductance(problem)[0]) < row.tolerance


def wire_beside_plane(radius: float, centre: float, *, far: float, around: int) -> MeshTri:
    """Triangulate rings of points round (centre, 0) and points along x = 0, spaced as the distance from the wire."""
    angle = 2 * np.pi / around
    outside = radius * np.exp(np.arange(0, np.log(far / radius), angle))
    radii = np.concatenate([np.linspace(0, radius, 13)[1:-1], outside]) * np.sqrt(angle / np.sin(angle))
    phi = np.arange(around) * angle
    x, y = (np.outer(radii, f(phi)).ravel() for f in (np.cos, np.sin))
    near_plane = x + centre < 0.5 * angle * np.hypot(x, y)
    along = centre * np.sinh(np.arange(-200, 201) * angle)  # spacing angle x sqrt(centre^2 + y^2)
    along = along[abs(along) < far]
    p = np.stack(
        [
            np.concatenate([[centre], x[~near_plane] + centre, 0 * along]),
            np.concatenate([[0.0], y[~near_plane], along]),
        ]
    )
    t = Delaunay(p.T).simplices.T
    q = p[:, t]
    u, v = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
    # On the outline Delaunay's triangulation may leave triangles of points in one line.
    solid = np.abs(u[0] * v[1] - u[1] * v[0]) > 1e-6 * ((u**2).sum(axis=0) + (v**2).sum(axis=0))
    return MeshTri(p, t[:, solid].astype(np.int64).copy())


@pytest.mark.parametrize("key", published_keys("bars_"))
def test_two_bars_in_free_air(key: str) -> None:
    row = published(key)
    size, apart = key.removeprefix("bars_").split("_")
    width, height = (float(v) * MM for v in size.split("x"))
    centre, far = float(apart) / 2 * MM, 150 * max(height, float(apart) * MM)
    bars = [
        Region(
            name=f"bar {sense}", role=Role.CONDUCTOR, winding="loop", sense=sense,
            x0=sense * centre - width / 2, x1=sense * centre + width / 2, y0=-height / 2, y1=height / 2,
        )
        for sense in (1, -1)
    ]  # fmt: skip
    half = Section(regions=tuple(bars), outline=(-far, -far, far, far)).half()
    mesh = tensor_section_mesh(half, corner=width / 4, inner=width / 4, far=far / 3, growth=1.4)
    bar = np.flatnonzero(mesh.region == 0)
    problem = problem_on(MeshTri(mesh.points, mesh.triangles), windings={"loop": [(bar, 1)]})
    assert row.relative_error(2 * inductance(problem)[0]) < row.tolerance


@pytest.mark.parametrize(("place", "at"), [("near_corner", (20.0, 5.1)), ("above", (12.0, 30.0))])
def test_field_of_a_bar(place: str, at: tuple[float, float]) -> None:
    """The far line is a square round the bar: its image field at the centre vanishes by symmetry."""
    fine, far = 0.5 * MM, 10.0
    x_breaks, y_breaks = [-far, -5 * MM, 5 * MM, at[0] * MM, far], [-far, -20 * MM, at[1] * MM, 20 * MM, far]
    mesh = tensor_mesh(
        graded(x_breaks, [far / 3, fine, fine, fine, far / 3], 1.3),
        graded(sorted(y_breaks), [far / 3, fine, fine, fine, far / 3], 1.3),
    )
    x, y = midpoints(mesh.p, mesh.t)
    bar = np.flatnonzero((abs(x) < 5 * MM) & (abs(y) < 20 * MM))
    problem = problem_on(mesh, windings={"loop": [(bar, 1)]})
    B = flux_density_at(problem, 1000.0 * inductance(problem)[1], np.array(at)[:, None] * MM)[:, 0]
    rows = published(f"bar_field_{place}_x"), published(f"bar_field_{place}_y")
    wanted = np.array([row.number for row in rows])
    assert np.linalg.norm(B - wanted) < rows[0].tolerance * np.linalg.norm(wanted)
