"""Slots, pole edges and gaps between iron of infinite permeability: such a wall is a natural boundary."""

import numpy as np
import pytest

from fem.constants import MU0
from fem.field.static.model import build_model, solve_model
from fem.field.static.problem import Problem
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.fields import flux_density_at, locations, potential_at, problem_on, solve_imposed
from tests.support.meshes import graded, tensor_mesh
from tests.support.values import published, published_keys

MM = 1e-3


def layer(name: str, y0: float, y1: float) -> Region:
    return Region(name=name, role=Role.CONDUCTOR, winding=name, sense=1, x0=0.0, x1=10 * MM, y0=y0 * MM, y1=y1 * MM)


@pytest.mark.parametrize(("key", "free"), [("slot_filled", 0.0), ("slot_free_height", 5.0)])
def test_open_slot(key: str, free: float) -> None:
    """A = 0 at the mouth, which is a line of flux; bottom and sides are iron."""
    row = published(key)
    mouth = (30 + free) * MM
    slot = Section(regions=(layer("bar", 0, 30),), outline=(0.0, 0.0, 10 * MM, mouth))
    solved = solve_model(
        build_model(mesh_section(slot), lambda r: None, fixed=lambda m: m[1] > mouth - 1e-9), {"bar": 1.0}
    )
    for grid in (solved.coarse, solved.fine):
        assert row.relative_error(float(grid.problem.sources["bar"] @ grid.A)) < row.tolerance
        # 2 W = L I^2
        assert row.relative_error(2 * grid.problem.energy_per_m(grid.A)) < row.tolerance


def test_two_layers_in_one_slot() -> None:
    slot = Section(regions=(layer("lower", 0, 12), layer("upper", 15, 27)), outline=(0.0, 0.0, 10 * MM, 27 * MM))
    model = build_model(mesh_section(slot), lambda r: None, fixed=lambda m: m[1] > 27 * MM - 1e-9)
    for driven, read, key in (
        ("lower", "lower", "lower"),
        ("upper", "upper", "upper"),
        ("lower", "upper", "mutual"),
        ("upper", "lower", "mutual"),
    ):
        row = published(f"slot_layers_{key}")
        fine = solve_model(model, {driven: 1.0}).fine
        assert row.relative_error(float(fine.problem.sources[read] @ fine.A) / MU0) < row.tolerance


@pytest.fixture(scope="module")
def pole_edge() -> tuple[Problem, np.ndarray]:
    """A pole of x < 0, y > 1 over the plane y = 0; unit flux between the line x = -5 in the gap and a far square.

    Gap 1. The far square stands at 400 gaps. It is not a line of flux, but symmetric about the bisector of the corner,
    so what it changes falls off with the fourth power: (20/400)^4 at the highest point read. At x = -5 the field
    is uniform to exp(-5 pi).
    """
    edge, far = 1e-4, 400.0
    xs = graded([-5.0, 0.0, far], [0.5, edge, far / 4], 1.35)
    ys = graded([0.0, 1.0, far], [0.2, edge, far / 4], 1.35)
    mesh = tensor_mesh(xs, ys, keep=lambda m: (m[0] > 0) | (m[1] < 1))
    problem = problem_on(mesh, fixed=lambda m: (m[0] < -5 + 1e-9) | (m[0] > far - 1e-9) | (m[1] > far - 1e-9))
    x, y = locations(problem)
    return problem, solve_imposed(problem, np.where((x > far - 1e-9) | (y > far - 1e-9), 1.0, 0.0)).A


@pytest.mark.parametrize("key", published_keys("gap_corner_"))
def test_flux_round_a_pole_edge(pole_edge: tuple[Problem, np.ndarray], key: str) -> None:
    """Flux from the face and the side up to a height, over the m.m.f., less that of a uniform field under the face."""
    row = published(key)
    problem, A = pole_edge
    # The m.m.f. twice: H x gap where the field is uniform, and 2 W / flux.
    H = abs(flux_density_at(problem, A, np.array([[-4.9], [0.5]]))[1, 0]) / MU0
    by_energy = 2 * problem.energy_per_m(A)
    assert pytest.approx(by_energy, rel=1e-3) == H * 1.0
    height = float(key.removeprefix("gap_corner_"))
    flux = float(potential_at(problem, A, [(0.0, 1.0 + height)])[0])
    assert row.relative_error(flux / (MU0 * by_energy) - 5.0) < row.tolerance


@pytest.mark.parametrize("key", published_keys("carter_"))
def test_carter_coefficient(key: str) -> None:
    """Half a pitch: x = 0 in the middle of the slot, x = t/2 in the middle of the tooth, both lines of flux."""
    row = published(key)
    slot, gap, pitch = (float(v) for v in key.removeprefix("carter_").split("_"))
    edge, deep = 1e-4 * gap, 4 * slot  # the field falls by exp(-pi) for each slot width of depth
    xs = graded([0.0, slot / 2, pitch / 2], [slot / 12, edge, gap / 4], 1.35)
    ys = graded([0.0, gap, gap + deep], [gap / 5, edge, slot], 1.35)
    mesh = tensor_mesh(xs, ys, keep=lambda m: (m[0] < slot / 2) | (m[1] < gap))
    problem = problem_on(mesh, fixed=lambda m: (m[0] < 1e-9) | (m[0] > pitch / 2 - 1e-9))
    x, _ = locations(problem)
    A = solve_imposed(problem, np.where(x > pitch / 2 - 1e-9, 1.0, 0.0)).A
    permeance = 1.0 / (2 * problem.energy_per_m(A))  # flux^2 / 2W
    assert row.relative_error(MU0 * (pitch / 2) / gap / permeance) < row.tolerance
