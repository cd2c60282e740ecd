"""The field against an independent finite-element library, on our triangles and on its own."""

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.support.needed import needed

needed("ngsolve")

from fem.field.elements import QUADRATURE
from fem.field.static.model import build_model, solve_model
from fem.field.static.newton import FieldSolution
from fem.field.static.problem import Law
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.fields import flux_density_at, potential_at
from tests.support.laws import SmoothIron
from tests.support.meshes import midpoints
from tests.support.ngsolve_twin import Twin, on_arrays, on_own_mesh, solve_twin
from tests.support.sections import SIDE_BY_SIDE, shell
from tests.support.seeds import FRESH

MM = 1e-3
IRON = SmoothIron()
STATES = [
    {"primary": 5.0},
    {"primary": 800.0, "secondary": -600.0},
    {"primary": 20e3, "secondary": 2e3},
    {"primary": 120e3},
]
"""Linear, moderate, saturated and about 2.6 T in the leg (ampere-turns)."""


def filling(iron: SmoothIron):
    def fill(region: Region) -> Law | None:
        return iron if region.role is Role.IRON else None

    return fill


def compare(
    ours: FieldSolution,
    twin: Twin,
    points: NDArray[np.float64],
    *,
    flux: float,
    energy: float,
    field: float,
    potential: float | None = None,
) -> None:
    """Assert that linkages, A, energy and B at points agree to these fractions of the largest of their kind.

    A is to agree as well as the linkages do, unless another fraction is given.
    """
    problem = ours.problem
    linkages = np.array([[problem.sources[w] @ ours.A, twin.linkage_per_m(w)] for w in ("primary", "secondary")])
    assert np.all(np.abs(linkages[:, 0] - linkages[:, 1]) < flux * np.abs(linkages).max()), linkages
    apart = np.abs(potential_at(problem, ours.A, points.T) - twin.potential(points)).max()
    assert apart < (potential or flux) * np.abs(ours.A).max()
    assert problem.energy_per_m(ours.A) / problem.copies == pytest.approx(twin.energy_per_m(), rel=energy)
    B = flux_density_at(problem, ours.A, points), twin.flux_density(points)
    largest = np.hypot(*B[0]).max()
    assert np.abs(B[0] - B[1]).max() < field * largest, (B, largest)


@pytest.fixture(scope="module")
def mesh() -> SectionMesh:
    return mesh_section(shell(SIDE_BY_SIDE, gap=0.2 * MM).half())


@pytest.mark.parametrize("ampere_turns", [STATES[0], *STATES[2:]])
def test_on_our_triangles_and_quadrature(mesh: SectionMesh, ampere_turns: dict[str, float]) -> None:
    """The same discrete problem, assembled and solved by other hands."""
    ours = solve_model(build_model(mesh, filling(IRON)), ampere_turns).coarse
    twin = solve_twin(on_arrays(mesh), mesh.section, ampere_turns, IRON, order=2, points=QUADRATURE)
    points = midpoints(mesh.points, mesh.triangles)[:, ::60]
    # Residuals of 1e-8 on both sides; a field's own error is larger by the condition of the tangent at saturation.
    compare(ours, twin, points, flux=1e-6, energy=1e-6, field=1e-5)


def test_on_our_triangles_with_finer_quadrature(mesh: SectionMesh) -> None:
    """What three points for the law cost: no more than the elements themselves do at this level, some 3e-4."""
    ours = solve_model(build_model(mesh, filling(IRON)), STATES[2]).coarse
    twin = solve_twin(on_arrays(mesh), mesh.section, STATES[2], IRON, order=2)
    for winding in ("primary", "secondary"):
        assert ours.problem.sources[winding] @ ours.A == pytest.approx(twin.linkage_per_m(winding), rel=3e-4)


def random_section(seed: int) -> tuple[Section, SmoothIron, dict[str, float], NDArray[np.float64]]:
    """Return a shell core with two coils, an iron, ampere-turns for a random flux density, and points to compare at."""
    rng = np.random.default_rng(seed)
    leg, w, h = rng.uniform(30, 45) * MM, rng.uniform(18, 28) * MM, rng.uniform(55, 80) * MM
    gap = float(rng.choice([0.0, 0.1, 0.5]) * MM)
    split, edge = rng.uniform(0.35, 0.65) * h, 2 * MM
    coils = {
        "primary": (leg / 2 + 2 * MM, leg / 2 + w - 3 * MM, edge, split - edge),
        "secondary": (leg / 2 + 2 * MM, leg / 2 + w - rng.uniform(3, 8) * MM, split + edge, h - 2 * edge),
    }
    section = shell(coils, leg=leg, outer_leg=leg / 2, yoke=rng.uniform(0.45, 0.6) * leg, window=(w, h), gap=gap).half()
    iron = SmoothIron(
        mu_r=float(rng.uniform(1000, 8000)), knee=float(rng.uniform(2.1, 2.6)), power=int(rng.integers(4, 8))
    )
    largest = 10 ** rng.uniform(0, np.log10(1e5))
    ampere_turns = {"primary": largest, "secondary": float(rng.uniform(-0.9, 0.9) * largest)}
    # In the legs and the yoke, in the window and outside, away from corners, where B is finite.
    x = np.array([0.25 * leg, 0.25 * leg, leg / 2 + w / 2, leg / 2 + w / 2, leg / 2 + w + leg / 4, leg + w + 20 * MM])
    y = np.array([0.3 * h, 0.7 * h, 0.5 * h, -0.25 * leg, 0.5 * h, 0.4 * h])
    return section, iron, ampere_turns, np.stack([x, y])


@pytest.mark.parametrize("seed", [1, FRESH])
def test_on_its_own_mesh(seed: int) -> None:
    own_mesh(seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", [*range(2, 18), FRESH + 1, FRESH + 2])
def test_on_its_own_mesh_many(seed: int) -> None:
    own_mesh(seed)


def own_mesh(seed: int) -> None:
    section, iron, ampere_turns, points = random_section(seed)
    solved = solve_model(build_model(mesh_section(section), filling(iron)), ampere_turns)
    pair = (solved.coarse, solved.fine)
    coarse, ours = (flux_density_at(grid.problem, grid.A, points) for grid in pair)
    mesh = on_own_mesh(section, largest=6 * MM, corner=0.3 * MM)
    twin = solve_twin(mesh, section, ampere_turns, iron, order=3)
    # Level 0 refined once has flux within 5e-4 and, energy being quadratic in what is near a corner, energy within
    # 1e-3; cubic elements of that grading are within 1e-4. Where the mesh happens to suit a section less, a corner of
    # iron lets flux and energy converge as h^(4/3) at worst: what is left after a halving is at most
    # 1/(2^(4/3) - 1) = 0.66 of what the halving changed, and that stays below 4e-3. At a point
    # between opposite ampere-turns in saturated iron A and B are off by at most what the refinement changed (what is
    # left is no more than that from first order up); B is of one order less than A, elsewhere within 1 %. Theirs is off
    # at a point by no more than what its third order changed.
    flux = [np.array([grid.problem.sources[w] @ grid.A for w in ("primary", "secondary")]) for grid in pair]
    energy = [grid.problem.energy_per_m(grid.A) for grid in pair]
    steps = [float(np.abs(first - second).max() / np.abs(second).max()) for first, second in (flux, energy)]
    assert max(steps) < 4e-3
    left = [0.66 * step + 1e-4 for step in steps]
    lower = solve_twin(mesh, section, ampere_turns, iron, order=2).flux_density(points)
    largest = np.hypot(*ours).max()
    apart = [
        float(np.abs(one - other).max() / largest)
        for one, other in ((coarse, ours), (lower, twin.flux_density(points)))
    ]
    before, after = (potential_at(s.problem, s.A, points.T) for s in (solved.coarse, solved.fine))
    compare(
        solved.fine,
        twin,
        points,
        flux=max(7e-4, left[0]),
        energy=max(1.5e-3, left[1]),
        potential=max(7e-4, float(np.abs(before - after).max() / np.abs(solved.fine.A).max())),
        field=max(1e-2, sum(apart)),
    )
