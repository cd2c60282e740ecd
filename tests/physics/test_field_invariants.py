"""What must hold for any field: energy, reciprocity, Ampere's law, symmetry, scaling, nested spaces."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri
from skfem.helpers import dot, grad

from fem.constants import MU0
from fem.field.static.model import FieldModel, build_model, solve_both, solve_model
from fem.field.static.newton import FieldSolution, solve
from fem.field.static.problem import Law
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.section import GRID, Region, Role, Section
from tests.support.fields import flux_density_at, problem_on
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
SHEET = Reluctivity.of_lamination(steel("M400-50A").curve, 0.96)
LINEAR = Reluctivity.linear(3000.0)
POINTS = [{"primary": 300.0}, {"primary": 3000.0, "secondary": -500.0}, {"primary": 20e3, "secondary": 8e3}]
"""Below the knee; saturated; far beyond (ampere-turns)."""


def sheet(region: Region) -> Law | None:
    return SHEET if region.role is Role.IRON else None


def linear(region: Region) -> Law | None:
    return LINEAR if region.role is Role.IRON else None


@pytest.fixture(scope="module")
def mesh() -> SectionMesh:
    return mesh_section(shell(SIDE_BY_SIDE, gap=0.2 * MM))


@pytest.fixture(scope="module")
def nonlinear(mesh: SectionMesh) -> FieldModel:
    return build_model(mesh, sheet)


@pytest.fixture(scope="module")
def straight(mesh: SectionMesh) -> FieldModel:
    return build_model(mesh, linear)


def linkage(solution: FieldSolution, winding: str) -> float:
    return float(solution.problem.copies * solution.problem.sources[winding] @ solution.A)


def coenergy(solution: FieldSolution) -> float:
    total = sum(value * linkage(solution, name) for name, value in solution.ampere_turns.items())
    return total - solution.problem.energy_per_m(solution.A)


def test_twice_the_energy_is_current_times_linkage_in_linear_iron(straight: FieldModel) -> None:
    for ampere_turns in POINTS:
        fine = solve_model(straight, ampere_turns).fine
        twice = sum(value * linkage(fine, name) for name, value in ampere_turns.items())
        # The difference is A . residual: 1e-8 of the load, and less of the product, for rough errors carry little flux.
        assert_allclose(2 * fine.problem.energy_per_m(fine.A), twice, rtol=1e-8)


def test_linkages_are_reciprocal_in_linear_iron(straight: FieldModel) -> None:
    problem = straight.fine.problem
    matrix = np.array(
        [
            [linkage(solve(problem, {driven: 1.0}), read) for read in ("primary", "secondary")]
            for driven in ("primary", "secondary")
        ]
    )
    assert_allclose(matrix[0, 1], matrix[1, 0], rtol=1e-8)
    assert np.all(np.linalg.eigvalsh(matrix) > 0)


@pytest.mark.parametrize("ampere_turns", POINTS)
def test_linkage_is_the_slope_of_the_coenergy(nonlinear: FieldModel, ampere_turns: dict[str, float]) -> None:
    problem = nonlinear.coarse.problem
    start = solve(problem, ampere_turns, tolerance=1e-11)
    for winding, value in ampere_turns.items():
        step = 1e-3 * value
        w = {
            k: coenergy(solve(problem, {**ampere_turns, winding: value + k * step}, start=start.A, tolerance=1e-11))
            for k in (-2, -1, 1, 2)
        }
        slope = (8 * (w[1] - w[-1]) - (w[2] - w[-2])) / (12 * step)
        # Fourth-order differences leave some 1e-12; the law's table is smooth but for kinks in the second derivative.
        assert_allclose(slope, linkage(start, winding), rtol=1e-7)


@pytest.mark.parametrize("ampere_turns", POINTS)
def test_residual_by_scikit_fem_forms(nonlinear: FieldModel, ampere_turns: dict[str, float]) -> None:
    solved = solve_model(nonlinear, ampere_turns)
    fine = solved.fine
    mesh = MeshTri(nonlinear.mesh.points, nonlinear.mesh.triangles).refined()
    iron = np.isin(
        nonlinear.fine.region, [k for k, r in enumerate(nonlinear.mesh.section.regions) if r.role is Role.IRON]
    )

    @BilinearForm
    def stiffness(u, v, w):
        g = grad(w.A)
        nu = np.where(iron[:, None], SHEET.nu(dot(g, g)), 1 / MU0)
        return nu * dot(grad(u), grad(v))

    load = fine.problem.load(ampere_turns)
    residual = stiffness.assemble(Basis(mesh, ElementTriP2(), intorder=2), A=fine.A) @ fine.A - load
    free = fine.problem.space.free
    # 1e-8 is the solver's promise; the other order of summation may add its rounding.
    assert np.linalg.norm(residual[free]) <= 1.001e-8 * np.linalg.norm(load[free])
    assert fine.residual <= 1e-8


def test_current_enclosed_by_a_loop_through_iron_and_air() -> None:
    """Circulation of H round the primary: down the window's middle, through yoke, outer leg and back above the coil."""
    model = build_model(mesh_section(shell(SIDE_BY_SIDE), level=1), sheet)
    fine = solve_model(model, {"primary": 1500.0, "secondary": -1200.0}).fine
    x0, x1, y0, y1 = 10 * MM, 50 * MM, -10 * MM, 32 * MM
    n = 200
    t = (np.arange(n) + 0.5) / n
    total = 0.0
    for a, b in (((x0, y0), (x1, y0)), ((x1, y0), (x1, y1)), ((x1, y1), (x0, y1)), ((x0, y1), (x0, y0))):
        a, b = np.array(a)[:, None], np.array(b)[:, None]
        at = a + (b - a) * t
        B = flux_density_at(fine.problem, fine.A, at)
        in_window = (at[0] > 20 * MM) & (at[0] < 40 * MM) & (at[1] > 0)
        nu = np.where(in_window, 1 / MU0, SHEET.nu((B**2).sum(axis=0)))
        total += float((nu * B * (b - a)).sum() / n)
    # H at a point is good to second order: elements of 4 mm in legs of 20 mm leave a few tenths of a per cent of the
    # largest share; the loop's own midpoint rule less.
    assert total == pytest.approx(1500.0, rel=5e-3)


def test_flux_is_continuous(nonlinear: FieldModel) -> None:
    fine = solve_model(nonlinear, {"primary": 3000.0}).fine
    flux = {name: float(vector @ fine.A) for name, vector in nonlinear.fine.cuts.items()}
    # All of one line from edge to edge: what goes down the leg comes back up in legs, windows and outside.
    back = sum(flux[f"{where}{side}"] for where in ("", "outside ") for side in ("left", "right"))
    windows = flux["left window"] + flux["right window"]
    assert_allclose(flux["leg"], back + windows, rtol=1e-10)
    assert flux["leg"] > 0.9 * back > 0
    # A mesh that is not symmetric leaves the two sides apart by its own error, some 1e-4.
    assert_allclose(flux["left"], flux["right"], rtol=1e-3)


def test_linkage_is_the_flux_the_coil_surrounds(nonlinear: FieldModel) -> None:
    """With the iron unsaturated nearly all flux is in the leg, so linkage and leg flux agree to the leakage."""
    fine = solve_model(nonlinear, {"primary": 300.0}).fine
    assert_allclose(linkage(fine, "primary"), float(nonlinear.fine.cuts["leg"] @ fine.A), rtol=0.02)


def test_mirrored_section_has_the_mirrored_field() -> None:
    """A core whose right leg has no joint, and its mirror image with the same currents."""
    section = shell(SIDE_BY_SIDE, gap=0.2 * MM)
    regions = tuple(replace(r, role=Role.IRON) if r.name == "right leg joint" else r for r in section.regions)
    mesh = mesh_section(replace(section, regions=regions))
    mirrored = replace(mesh, points=mesh.points * np.array([[-1.0], [1.0]]))
    models = [build_model(m, sheet).coarse for m in (mesh, mirrored)]
    a, b = (solve(grid.problem, {"primary": 300.0}, tolerance=1e-11) for grid in models)
    # Same triangles with the same currents: A is the same, node by node, but for rounding in the solution.
    assert_allclose(b.A, a.A, rtol=0, atol=1e-9 * np.abs(a.A).max())
    # The currents keep their direction, so they now go the other way round the leg.
    right, left = models[0].cuts["right"] @ a.A, models[1].cuts["left"] @ b.A
    assert_allclose(left, -right, rtol=1e-9)
    assert right > 1.05 * (models[0].cuts["left"] @ a.A)


def whole_of(half: SectionMesh, section: Section) -> SectionMesh:
    """Complete a half mesh by its mirror image, with the whole section's regions."""
    on_line = half.points[0] < GRID
    n = half.points.shape[1]
    number = np.full(n, -1)
    number[on_line] = np.flatnonzero(on_line)
    number[~on_line] = n + np.arange(np.count_nonzero(~on_line))
    points = np.hstack([half.points, half.points[:, ~on_line] * np.array([[-1.0], [1.0]])])
    triangles = np.hstack([half.triangles, number[half.triangles]])
    x, y = points[:, triangles].mean(axis=1)
    region = np.full(triangles.shape[1], -1, dtype=np.int64)
    for k, r in enumerate(section.regions):
        region[(x > r.x0) & (x < r.x1) & (y > r.y0) & (y < r.y1)] = k
    return SectionMesh(points=points, triangles=triangles, region=region, section=section, level=half.level)


@pytest.mark.parametrize("ampere_turns", POINTS)
def test_half_a_symmetric_section_is_the_whole(ampere_turns: dict[str, float]) -> None:
    section = shell(SIDE_BY_SIDE, gap=0.2 * MM)
    half_mesh = mesh_section(section.half())
    half, whole = build_model(half_mesh, sheet).coarse, build_model(whole_of(half_mesh, section), sheet).coarse
    a, b = (solve(grid.problem, ampere_turns, tolerance=1e-11) for grid in (half, whole))
    for winding in ("primary", "secondary"):
        assert_allclose(linkage(a, winding), linkage(b, winding), rtol=1e-9)
    assert_allclose(a.problem.energy_per_m(a.A), b.problem.energy_per_m(b.A), rtol=1e-9)
    for name, vector in whole.cuts.items():
        if not name.startswith(("left", "outside left")):
            assert_allclose(half.cuts[name] @ a.A, vector @ b.A, rtol=1e-9, atol=1e-12 * np.abs(b.A).max())
    for name in ("left", "left window"):  # read in the mirror half
        assert_allclose(half.cuts[name] @ a.A, whole.cuts[name] @ b.A, rtol=1e-9)


def test_scaling_of_all_lengths(mesh: SectionMesh) -> None:
    """k times the lengths and the ampere-turns: same flux density, k times the flux per metre, k^2 times the energy."""
    k = 2.7
    larger = replace(mesh, points=k * mesh.points, section=scaled(mesh.section, k))
    a = solve(build_model(mesh, sheet).coarse.problem, {"primary": 3000.0}, tolerance=1e-11)
    b = solve(build_model(larger, sheet).coarse.problem, {"primary": k * 3000.0}, tolerance=1e-11)
    assert_allclose(b.A, k * a.A, rtol=0, atol=1e-9 * np.abs(b.A).max())
    assert_allclose(b.problem.energy_per_m(b.A), k**2 * a.problem.energy_per_m(a.A), rtol=1e-9)


def scaled(section: Section, k: float) -> Section:
    sides = ("x0", "y0", "x1", "y1")
    regions = tuple(replace(r, **{s: k * getattr(r, s) for s in sides}) for r in section.regions)
    cuts = tuple(replace(c, **{s: k * getattr(c, s) for s in sides}) for c in section.cuts)
    x0, y0, x1, y1 = (k * v for v in section.outline)
    return replace(section, regions=regions, cuts=cuts, outline=(x0, y0, x1, y1))


def test_reversed_currents_reverse_the_field(nonlinear: FieldModel) -> None:
    a, b = (solve_model(nonlinear, {"primary": s * 3000.0, "secondary": s * 200.0}).fine for s in (1, -1))
    assert_allclose(b.A, -a.A, rtol=0, atol=1e-12 * np.abs(a.A).max())


def refined_coenergies(law: Law, mesh: SectionMesh) -> NDArray[np.float64]:
    """Coenergy on a mesh and three refinements of it; windings as in the section."""
    tri, region, found = MeshTri(mesh.points, mesh.triangles), mesh.region, []
    for _ in range(4):
        parts: dict[str, list[tuple[NDArray[np.int64], int]]] = {}
        iron = [k for k, r in enumerate(mesh.section.regions) if r.role is Role.IRON]
        for k, r in enumerate(mesh.section.regions):
            if r.winding:
                parts.setdefault(r.winding, []).append((np.flatnonzero(region == k), r.sense))
        problem = problem_on(tri, windings=parts, laws=[(np.flatnonzero(np.isin(region, iron)), law)])
        found.append(coenergy(solve(problem, {"primary": 3000.0}, tolerance=1e-9)))
        tri, region = tri.refined(), np.tile(region, 4)
    return np.array(found)


@pytest.mark.parametrize("law", [LINEAR, SHEET], ids=["linear", "sheet"])
def test_coenergy_rises_with_refinement(law: Law) -> None:
    """The finer space contains the coarser, and the field maximises coenergy over its space: it can only rise.

    With linear iron the integrals are exact. With sheet the quadrature of the law is not; its error is of the order of
    the one it hides, but smaller, so the coenergy still rises.
    """
    found = refined_coenergies(law, mesh_section(shell(SIDE_BY_SIDE).half()))
    assert np.all(np.diff(found) > 0), found
    assert np.all(np.diff(found, 2) < 0), found


def test_a_curve_equals_its_points_one_by_one(nonlinear: FieldModel) -> None:
    points = [{"primary": value} for value in (10000.0, 3000.0, 900.0, 300.0)]
    starts = [None, None, *[solve_model(nonlinear, point).coarse.A for point in points[2:]]]
    together = solve_both(nonlinear, points, starts)
    for point, one in zip(points, together, strict=True):
        alone = solve_model(nonlinear, point)
        # Each is within 1e-8 of its own load; the flux that goes with so small a residual is as near.
        assert_allclose(linkage(one.fine, "primary"), linkage(alone.fine, "primary"), rtol=1e-6)
        assert dict(one.fine.ampere_turns) == point
