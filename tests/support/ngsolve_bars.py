"""Solid bars in a box by NGSolve: complex, fourth order, one unknown voltage drop per bar."""

from collections.abc import Sequence

import numpy as np
from netgen.geom2d import SplineGeometry
from ngsolve import (
    H1,
    BilinearForm,
    CoefficientFunction,
    GridFunction,
    Integrate,
    LinearForm,
    Mesh,
    NumberSpace,
    TaskManager,
    dx,
    grad,
)

from fem.constants import MU0


def bar_impedance(
    bars: Sequence[tuple[float, float, float, float]], far: float, conductivity: float, omega: float
) -> np.ndarray:
    """Return the impedance matrix per metre [ohm/m] of bars (x0, y0, x1, y1) in a square of A = 0."""
    geometry = SplineGeometry()
    geometry.AddRectangle((-far, -far), (far, far), leftdomain=1, rightdomain=0, bc="far")
    geometry.SetMaterial(1, "air")
    for k, (x0, y0, x1, y1) in enumerate(bars):
        geometry.AddRectangle((x0, y0), (x1, y1), leftdomain=k + 2, rightdomain=1)
        geometry.SetMaterial(k + 2, f"bar{k}")
        geometry.SetDomainMaxH(k + 2, 2.5e-3)
    mesh = Mesh(geometry.GenerateMesh(maxh=far / 6))
    space = H1(mesh, order=4, complex=True, dirichlet="far")
    for _ in bars:
        space = space * NumberSpace(mesh, complex=True)
    (A, *drops), (v, *tests) = space.TnT()
    form = BilinearForm(space)
    form += 1 / MU0 * grad(A) * grad(v) * dx
    areas = []
    for k, (e, w) in enumerate(zip(drops, tests, strict=True)):
        here = dx(f"bar{k}")
        # Row of the field, and the total current divided by -j omega so that the system is symmetric.
        form += conductivity * (1j * omega * A - e) * v * here
        form += conductivity * (-A + e / (1j * omega)) * w * here
        areas.append(Integrate(CoefficientFunction(1.0), mesh, definedon=mesh.Materials(f"bar{k}")))
    Z = np.empty((len(bars), len(bars)), dtype=complex)
    with TaskManager():
        form.Assemble()
        inverse = form.mat.Inverse(space.FreeDofs(), inverse="umfpack")
        for k, area in enumerate(areas):
            load = LinearForm(space)
            load += 1 / (1j * omega * area) * tests[k] * dx(f"bar{k}")
            load.Assemble()
            solution = GridFunction(space)
            solution.vec.data = inverse * load.vec
            Z[:, k] = [solution.components[1 + i].vec[0] for i in range(len(bars))]
    return Z
