"""The assembly kernel against scikit-fem's own forms: matrices, residuals, energies, sources, prolongation."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.sparse import coo_matrix, csr_matrix
from skfem import Basis, BilinearForm, ElementTriP2, Functional, LinearForm, MeshTri
from skfem.helpers import dot, grad

from fem.constants import MU0
from fem.field.static.problem import Problem
from fem.field.static.space import build_geometry, build_space, mean_over, node_locations, prolongation
from tests.support.fields import flux_density_at, potential_at, problem_on
from tests.support.laws import SmoothIron
from tests.support.meshes import midpoints

IRON = SmoothIron()
RNG_SEED = 11


def irregular_mesh() -> MeshTri:
    """A tensor grid with its inner points pushed about, so that no symmetry hides a wrong sign."""
    mesh = MeshTri.init_tensor(np.linspace(0, 0.03, 7), np.linspace(0, 0.02, 6))
    p = mesh.p.copy()
    inner = np.setdiff1d(np.arange(p.shape[1]), mesh.boundary_nodes())
    p[:, inner] += np.random.default_rng(RNG_SEED).uniform(-1e-3, 1e-3, (2, inner.size))
    return MeshTri(p, mesh.t)


@pytest.fixture
def problem() -> Problem:
    mesh = irregular_mesh()
    x, y = midpoints(mesh.p, mesh.t)
    return problem_on(
        mesh,
        windings={"coil": [(np.flatnonzero(x < 0.01), 1), (np.flatnonzero(y > 0.015), -1)]},
        laws=[(np.flatnonzero(x > 0.015), IRON)],
        fixed=lambda m: m[0] < 1e-9,
    )


@pytest.fixture
def basis() -> Basis:
    # order 2: the three points the kernel integrates with
    return Basis(irregular_mesh(), ElementTriP2(), intorder=2)


def some_field(problem: Problem) -> np.ndarray:
    """A field of 1 to 3 T: on the flank of the law, where nu and its slope both matter."""
    x, y = node_locations(problem.space, problem.geometry)
    noise = np.random.default_rng(RNG_SEED).normal(size=problem.space.size)
    return 2.0 * x - 0.8 * y + 1e-4 * noise


def split_reluctivity(problem: Problem, b2: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return nu and dnu at scikit-fem's quadrature points (m, points): iron or air, by element."""
    iron = np.zeros(b2.shape[0], dtype=bool)
    iron[problem.laws[0][0]] = True
    nu, dnu = IRON.nu_dnu(b2)
    return np.where(iron[:, None], nu, 1 / MU0), np.where(iron[:, None], dnu, 0.0)


def lower_of(problem: Problem, values: np.ndarray) -> csr_matrix:
    """The kernel's lower triangle as a sparse matrix; its places as told by the factor's product with unit vectors."""
    n = problem.space.free.size
    problem.space.factor.factor(values)
    columns = [problem.space.factor.multiply(row) for row in np.eye(n)]
    return csr_matrix(np.array(columns).T)


def test_tangent_equals_that_of_forms(problem: Problem, basis: Basis) -> None:
    A = some_field(problem)

    @BilinearForm
    def tangent(u, v, w):
        g = grad(w.A)
        nu, dnu = split_reluctivity(problem, dot(g, g))
        return nu * dot(grad(u), grad(v)) + 2 * dnu * dot(g, grad(u)) * dot(g, grad(v))

    free = problem.space.free
    wanted = tangent.assemble(basis, A=A)[free][:, free]
    _, c, b2 = problem.reference_gradient(A)
    got = lower_of(problem, problem.tangent(c, *problem.reluctivity(b2)))
    # Sums of the same few dozen products in another order.
    assert_allclose(got.toarray(), wanted.toarray(), rtol=0, atol=1e-12 * abs(wanted).max())


def test_residual_equals_that_of_forms(problem: Problem, basis: Basis) -> None:
    A, load = some_field(problem), problem.load({"coil": 40.0})
    J = np.zeros(problem.space.elements)
    mesh = irregular_mesh()
    x, y = midpoints(mesh.p, mesh.t)
    p = mesh.p[:, mesh.t]
    area = 0.5 * np.abs((p[0, 1] - p[0, 0]) * (p[1, 2] - p[1, 0]) - (p[0, 2] - p[0, 0]) * (p[1, 1] - p[1, 0]))
    for inside, sense in ((x < 0.01, 1), (y > 0.015, -1)):
        J[inside] += sense * 40.0 / area[inside].sum()

    @LinearForm
    def internal(v, w):
        g = grad(w.A)
        nu, _ = split_reluctivity(problem, dot(g, g))
        return nu * dot(g, grad(v))

    @LinearForm
    def forcing(v, w):
        return J[:, None] * v

    wanted = (internal.assemble(basis, A=A) - forcing.assemble(basis))[problem.space.free]
    assert_allclose(problem.residual(A, load), wanted, rtol=0, atol=1e-12 * np.abs(wanted).max())


def test_energy_equals_that_of_a_functional(problem: Problem, basis: Basis) -> None:
    A = some_field(problem)

    @Functional
    def energy(w):
        g = grad(w.A)
        b2 = dot(g, g)
        iron = np.zeros(b2.shape[0], dtype=bool)
        iron[problem.laws[0][0]] = True
        return np.where(iron[:, None], IRON.energy_density(np.sqrt(b2)), b2 / (2 * MU0))

    assert_allclose(problem.energy_per_m(A), energy.assemble(basis, A=A), rtol=1e-12)


def test_residual_is_the_gradient_of_the_energy(problem: Problem) -> None:
    A = some_field(problem)
    direction = np.zeros(problem.space.size)
    direction[problem.space.free] = np.random.default_rng(5).normal(size=problem.space.free.size) * 1e-3
    slope = float(problem.residual(A, problem.load({})) @ direction[problem.space.free])
    # Fourth-order central difference with a step of a thousandth of the field: its own error is some 1e-11.
    e = {k: problem.energy_per_m(A + k * 1e-3 * direction) for k in (-2, -1, 1, 2)}
    assert_allclose((8 * (e[1] - e[-1]) - (e[2] - e[-2])) / 12e-3, slope, rtol=1e-7)


def test_tangent_is_the_derivative_of_the_residual(problem: Problem) -> None:
    """Taylor's test: what the tangent leaves of a step falls with the step's square."""
    A, free = some_field(problem), problem.space.free
    direction = np.zeros(problem.space.size)
    direction[free] = np.random.default_rng(5).normal(size=free.size) * np.abs(A).max()
    _, c, b2 = problem.reference_gradient(A)
    problem.space.factor.factor(problem.tangent(c, *problem.reluctivity(b2)))
    first = problem.space.factor.multiply(direction[free])
    at = problem.residual(A, problem.load({}))
    steps = 1e-4 * 0.5 ** np.arange(5)
    left = [np.linalg.norm(problem.residual(A + h * direction, problem.load({})) - at - h * first) for h in steps]
    orders = np.log2(np.array(left[:-1]) / np.array(left[1:]))
    # Second order but for the next term, which halves with each step; the last pair is nearest.
    assert_allclose(orders[-1], 2.0, atol=0.05)


def test_mean_over_elements(problem: Problem) -> None:
    x, y = node_locations(problem.space, problem.geometry)
    elements = np.arange(5, 20)
    mean = mean_over(problem.space, problem.geometry, elements)
    det = problem.geometry.determinant[elements]
    centroid = midpoints(problem.geometry.points, problem.space.triangles)[:, elements] @ det / det.sum()
    assert_allclose(mean.sum(), 1.0, rtol=1e-14)
    # The mean of a linear function is its value at the centre of area: exact.
    assert_allclose(mean @ (3 * x - 2 * y + 1), 3 * centroid[0] - 2 * centroid[1] + 1, rtol=1e-13)


def test_value_at_a_point_is_exact_for_a_quadratic(problem: Problem) -> None:
    x, y = node_locations(problem.space, problem.geometry)

    def quadratic(x, y):
        return 1 + x - 2 * y + 30 * x * x - 40 * x * y + 50 * y * y

    for at in ((0.0, 0.0), (0.03, 0.02), (0.0123, 0.0077), (0.02, 0.011)):
        value = potential_at(problem, quadratic(x, y), [at])[0]
        assert_allclose(value, quadratic(*at), rtol=1e-12)
    with pytest.raises(ValueError, match=r"\(0.031, 0.01\) m lies outside the mesh"):
        potential_at(problem, x, [(0.031, 0.01)])


def test_prolongation_writes_the_same_field(problem: Problem) -> None:
    mesh = irregular_mesh()
    fine_mesh = mesh.refined()
    fine = problem_on(fine_mesh)
    refine = prolongation(problem.space, problem.geometry, fine.space, fine.geometry)
    A = some_field(problem)
    points = [tuple(p) for p in np.random.default_rng(2).uniform([0.001, 0.001], [0.029, 0.019], (40, 2))]
    assert_allclose(potential_at(fine, refine(A), points), potential_at(problem, A, points), rtol=0, atol=1e-15)


def test_flux_density_of_a_linear_potential(problem: Problem) -> None:
    x, y = node_locations(problem.space, problem.geometry)
    points = np.array([[0.011, 0.02], [0.007, 0.02]])
    # A = 3 x + 4 y: B = (dA/dy, -dA/dx) = (4, -3) everywhere.
    assert_allclose(flux_density_at(problem, 3 * x + 4 * y, points), [[4, 4], [-3, -3]], rtol=1e-12)
    _, _, b2 = problem.reference_gradient(3 * x + 4 * y)
    assert_allclose(b2, 25.0, rtol=1e-12)


def test_edges_that_are_held(problem: Problem) -> None:
    x, _ = node_locations(problem.space, problem.geometry)
    held = np.setdiff1d(np.arange(problem.space.size), problem.space.free)
    assert set(held) == set(np.flatnonzero(x < 1e-12))
    mesh = irregular_mesh()
    all_round = build_space(mesh.p, mesh.t)
    locations = node_locations(all_round, build_geometry(mesh.p, all_round.triangles))
    outline = (np.isclose(locations, 0, atol=1e-12) | np.isclose(locations, [[0.03], [0.02]], atol=1e-12)).any(axis=0)
    assert set(np.setdiff1d(np.arange(all_round.size), all_round.free)) == set(np.flatnonzero(outline))


def test_nothing_held_is_refused() -> None:
    mesh = irregular_mesh()
    with pytest.raises(ValueError, match="fixed somewhere"):
        build_space(mesh.p, mesh.t, lambda m: m[0] > 1.0)


def test_triangle_without_area_is_refused() -> None:
    with pytest.raises(ValueError, match="1 triangles have no area"):
        build_geometry(np.array([[0.0, 1.0, 2.0, 0.0], [0.0, 0.0, 0.0, 1.0]]), np.array([[0, 0], [1, 1], [2, 3]]))


def test_pattern_holds_every_pair_once(problem: Problem) -> None:
    dofs, free = problem.space.element_dofs, problem.space.free
    ones = np.ones(36 * problem.space.elements)
    pairs = coo_matrix((ones, (np.repeat(dofs, 6, axis=0).ravel(), np.tile(dofs, (6, 1)).ravel()))).tocsr()
    inner = pairs[free][:, free]
    assert problem.space.factor.entries == (inner.nnz + free.size) // 2
