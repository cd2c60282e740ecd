"""Rates of convergence with a manufactured solution: nonlinear everywhere, smooth, known to the last digit."""

from dataclasses import replace

import numpy as np
import pytest
from skfem import Basis, ElementTriP2, Functional, LinearForm, MeshTri

from fem.constants import MU0
from fem.field.static.newton import solve
from tests.support.fields import problem_on
from tests.support.laws import Quartic

LAW = Quartic(a=1 / (2000 * MU0), c=1 / (1000 * MU0))
PI = np.pi


def exact(x, y):
    """A [Wb/m] on the unit square, zero on its edge; flux densities up to 1 T."""
    return np.sin(PI * x) * np.sin(PI * y) / PI


def forcing(x, y):
    """J = -div(nu grad A) [A/m2], differentiated by hand: nu = a + c |grad A|^2."""
    sx, cx, sy, cy = np.sin(PI * x), np.cos(PI * x), np.sin(PI * y), np.cos(PI * y)
    A_x, A_y = cx * sy, sx * cy
    A_xx = A_yy = -PI * sx * sy
    A_xy = PI * cx * cy
    nu = LAW.a + LAW.c * (A_x**2 + A_y**2)
    slope = 2 * LAW.c * (A_x * (A_x * A_xx + A_y * A_xy) + A_y * (A_x * A_xy + A_y * A_yy))
    return -(nu * (A_xx + A_yy) + slope)


def exact_energy() -> float:
    """Energy [J/m] by Gauss quadrature with 30 x 30 points: exact to rounding."""
    t, w = np.polynomial.legendre.leggauss(30)
    x, y = np.meshgrid(0.5 * (t + 1), 0.5 * (t + 1))
    b = np.hypot(np.cos(PI * x) * np.sin(PI * y), np.sin(PI * x) * np.cos(PI * y))
    return float(0.25 * w @ LAW.energy_density(b) @ w)


@pytest.fixture(scope="module")
def errors() -> dict[str, list[float]]:
    """L2 error of A, L2 error of grad A and error of the energy on meshes of 8, 16, 32 and 64 cells a side."""
    found: dict[str, list[float]] = {"A": [], "B": [], "energy": []}

    @LinearForm
    def load(v, w):
        return forcing(*w.x) * v

    @Functional
    def difference(w):
        return (w.A - exact(*w.x)) ** 2

    @Functional
    def gradient_difference(w):
        (x, y), (g_x, g_y) = w.x, w.A.grad
        return (g_x - np.cos(PI * x) * np.sin(PI * y)) ** 2 + (g_y - np.sin(PI * x) * np.cos(PI * y)) ** 2

    for cells in (8, 16, 32, 64):
        mesh = MeshTri.init_tensor(*2 * [np.linspace(0, 1, cells + 1)])
        problem = problem_on(mesh)
        basis = Basis(mesh, ElementTriP2(), intorder=6)
        problem = replace(problem, laws=((np.arange(mesh.t.shape[1]), LAW),), sources={"all": load.assemble(basis)})
        # 1e-12: the residual must stay below the smallest discretisation error, about 1e-7.
        A = solve(problem, {"all": 1.0}, tolerance=1e-12).A
        found["A"].append(float(difference.assemble(basis, A=A)) ** 0.5)
        found["B"].append(float(gradient_difference.assemble(basis, A=A)) ** 0.5)
        found["energy"].append(abs(problem.energy_per_m(A) / exact_energy() - 1))
    return found


@pytest.mark.parametrize(("quantity", "order"), [("A", 3.0), ("B", 2.0), ("energy", 4.0)])
def test_order_of_convergence(errors: dict[str, list[float]], quantity: str, order: float) -> None:
    values = np.array(errors[quantity])
    observed = np.log2(values[:-1] / values[1:])
    # The last pair of meshes: the next term of the expansion is smaller by at least a factor h = 1/32 there.
    assert observed[-1] == pytest.approx(order, abs=0.1), f"observed orders {observed}"
