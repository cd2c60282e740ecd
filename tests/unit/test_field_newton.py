"""Newton's method: what it accepts, where it stops, what it says when it fails."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from skfem import MeshTri

from fem.errors import NotConverged
from fem.field.static import newton
from fem.field.static.newton import solve
from fem.field.static.problem import Problem
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from tests.support.fields import problem_on
from tests.support.laws import SmoothIron
from tests.support.meshes import midpoints


def block_of(law: object) -> Problem:
    """A square with a coil side on its left and some material on its right."""
    mesh = MeshTri.init_tensor(np.linspace(0, 0.04, 9), np.linspace(0, 0.04, 9))
    x, _ = midpoints(mesh.p, mesh.t)
    return problem_on(
        mesh,
        windings={"coil": [(np.flatnonzero(x < 0.01), 1)]},
        laws=[(np.flatnonzero(x > 0.02), law)],
    )


@pytest.mark.parametrize("ampere_turns", [1e-3, 1.0, 1e3, 1e6])
def test_shipped_law_is_solved(ampere_turns: float) -> None:
    problem = block_of(Reluctivity.of_lamination(steel("M400-50A").curve, 0.96))
    solved = solve(problem, {"coil": ampere_turns})
    load = problem.load({"coil": ampere_turns})[problem.space.free]
    assert np.linalg.norm(problem.residual(solved.A, problem.load({"coil": ampere_turns}))) <= 1e-8 * np.linalg.norm(
        load
    )


def test_linear_law_takes_one_step_from_anywhere() -> None:
    problem = block_of(Reluctivity.linear(300.0))
    near = solve(problem, {"coil": 5.0}, start=np.zeros(problem.space.size))
    anywhere = np.random.default_rng(1).normal(size=problem.space.size) * np.abs(near.A).max()
    anywhere[np.setdiff1d(np.arange(problem.space.size), problem.space.free)] = 0.0
    far = solve(problem, {"coil": 5.0}, start=anywhere)
    assert (far.steps, near.steps) == (1, 1)
    # Both meet a residual of 1e-8; the condition of so small a mesh leaves that of the solution near it.
    assert_allclose(far.A, near.A, rtol=0, atol=1e-6 * np.abs(near.A).max())


def test_own_start_of_a_linear_law_is_its_solution() -> None:
    assert solve(block_of(Reluctivity.linear(300.0)), {"coil": 5.0}).steps == 0


def test_no_current_means_no_field() -> None:
    problem = block_of(SmoothIron())
    for ampere_turns in ({}, {"coil": 0.0}):
        solved = solve(problem, ampere_turns, start=np.ones(problem.space.size))
        assert np.all(solved.A == 0)
        assert (solved.steps, solved.residual) == (0, 0.0)


def test_unknown_winding_is_named() -> None:
    with pytest.raises(ValueError, match=r"no winding called \['other'\]; there are \['coil'\]"):
        solve(block_of(SmoothIron()), {"other": 1.0})


def test_a_law_that_is_not_finite_stops_at_once() -> None:
    class Broken(SmoothIron):
        __slots__ = ()

        def nu_dnu(self, b2: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            return np.full(b2.shape, np.nan), np.zeros(b2.shape)

    with pytest.raises(ArithmeticError):
        solve(block_of(Broken()), {"coil": 1.0}, start=None)


def test_too_many_steps_tell_what_was_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(newton, "MOST_STEPS", 1)
    with pytest.raises(NotConverged, match=r"coil 2e\+05 A: .* instead of 1e-08 after 1 Newton steps"):
        solve(block_of(SmoothIron()), {"coil": 2e5})


def test_rounding_ends_an_iteration_and_is_reported() -> None:
    problem = block_of(SmoothIron())
    solved = solve(problem, {"coil": 100.0}, tolerance=1e-30)
    # 16 digits, less what a mesh of 8 cells across and a permeability ratio of 5000 cost.
    assert 0 < solved.residual < 1e-10
    assert solved.steps < 15
