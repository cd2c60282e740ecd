"""Nonlinear magnetostatics in unbounded air by edge elements of another finite-element library: bounds from below.

The vector potential minimises energy less F (T0, curl A), T0 being the field of one ampere-turn; the negative of the
minimum is the coenergy, and that of any discrete A lies below it, where scalar potentials lie above. Mesh, sheet's law
and T0 are those of `open_fields`; elements, unknowns, matrices and solver are the other library's.

Import this module only after `needed("ngsolve")`.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from ngsolve import (
    BND,
    CF,
    BilinearForm,
    BitArray,
    CGSolver,
    CoefficientFunction,
    GridFunction,
    HCurl,
    Id,
    IfPos,
    InnerProduct,
    LinearForm,
    OuterProduct,
    Preconditioner,
    Region,
    curl,
    dx,
    sqrt,
    x,
    y,
    z,
)
from ngsolve.comp import IntegrationRuleSpace
from numpy.typing import NDArray

from fem.constants import MU0
from tests.support.open_laws import Law
from tests.support.open_mesh import OpenMesh

Floats = NDArray[np.float64]
PER_MM = 1e3
"""A/mm in A/m."""
AREA = 1e-6
"""T mm2 in Wb."""
GAUGE = 1e-8
"""Weight of |A|^2 beside |curl A|^2 [1/mm2] in the steps' matrix alone: it moves the steps, not what they lead to."""


@dataclass(frozen=True, kw_only=True, slots=True)
class EdgePoint:
    """What a state carries.

    Parameters
    ----------
    flux
        Mean flux per turn of the winding [Wb].
    coenergy
        F times the flux less the energy [J], below the true one.
    steps
        Newton's.
    """

    flux: float
    coenergy: float
    steps: int


class _Samples:
    """A law's elements at their points of integration: fields there are plain arrays."""

    def __init__(self, opened: OpenMesh, material: str, order: int) -> None:
        self.where = opened.mesh.Materials(material)
        space = IntegrationRuleSpace(opened.mesh, order=order, definedon=self.where)
        self.dx = dx(intrules=space.GetIntegrationRules(), definedon=self.where)
        self.scalar, self.vector = GridFunction(space), GridFunction(space**3)
        self.slope, self.along = GridFunction(space), GridFunction(space**3)
        weight = LinearForm(space)
        weight += space.TestFunction() * self.dx
        weight.Assemble()
        self.weights = weight.vec.FV().NumPy().copy()

    def read(self, field: CoefficientFunction) -> Floats:
        """Return a field at the points, (3, n)."""
        self.vector.Interpolate(field, definedon=self.where)
        return np.reshape(self.vector.vec.FV().NumPy(), (3, -1)).copy()

    @staticmethod
    def write(function: GridFunction, values: Floats) -> None:
        function.vec.FV().NumPy()[:] = values.ravel()


def _stretched(opened: OpenMesh) -> CoefficientFunction:
    """Return the shell's reluctivity over that of air, the inverse of `OpenMesh.stretched_at`."""
    away = CF((x - opened.centre[0], y - opened.centre[1], z - opened.centre[2]))
    r = sqrt(InnerProduct(away, away))
    scale = opened.inner * (opened.outer - opened.inner)
    chord = opened.inner - r
    along, across = IfPos(chord, 1.0, r * r / scale), IfPos(chord, 1.0, (opened.outer - r) ** 2 / scale)
    return across * Id(3) + (along - across) / (r * r) * OuterProduct(away, away)


class EdgeField:
    """The vector potential of one energised winding on one mesh; `solve` starts from the last state.

    Parameters
    ----------
    opened
        The mesh.
    turns
        From places (..., 3) [mm] to the field of each winding's ampere-turn [1/mm], (windings, ..., 3); the first is
        energised.
    laws
        Of the materials that are not air.
    order
        Of the elements.
    """

    def __init__(
        self, opened: OpenMesh, turns: Callable[[Floats], Floats], laws: Mapping[str, Law], *, order: int = 2
    ) -> None:
        self.opened, mesh = opened, opened.mesh
        # A x n = 0 on mirror planes, which no flux crosses, and at infinity; nothing is asked where the field is odd.
        self.space = HCurl(mesh, order=order, nograds=True, dirichlet=Region(mesh, BND, mask=self._shut()))
        self.free = np.array(list(self.space.FreeDofs()), dtype=bool)
        self.A = GridFunction(self.space)
        u, v = self.space.TnT()
        named = [name for name in laws if name in mesh.GetMaterials()]
        self.parts = [(laws[name], _Samples(opened, name, 2 * order)) for name in named]
        nu = mesh.MaterialCF({"shell": _stretched(opened)}, default=Id(3))
        outside = dx(definedon=mesh.Materials("|".join(set(mesh.GetMaterials()) - set(named))), bonus_intorder=2)
        self.linear = BilinearForm(self.space, symmetric=True)
        self.linear += InnerProduct(nu * curl(u), curl(v)) * outside
        self.linear.Assemble()
        source = _Samples(opened, "|".join({*mesh.GetMaterials()} - {"shell"}), 8)
        places = source.read(CF((x, y, z)))
        source.write(source.vector, turns(places.T)[0].T)
        # The windings' field has kinks inside elements; curl v has no divergence, so whatever it loses stays solvable.
        self.driven = LinearForm(InnerProduct(source.vector, curl(v)) * source.dx).Assemble()
        self.load, self.tangent = LinearForm(self.space), BilinearForm(self.space, symmetric=True)
        self.tangent += InnerProduct(nu * curl(u), curl(v)) * outside + GAUGE * u * v * outside
        for _, part in self.parts:
            self.load += InnerProduct(part.vector, curl(v)) * part.dx
            self.tangent += part.scalar * (InnerProduct(curl(u), curl(v)) + GAUGE * u * v) * part.dx
            self.tangent += part.slope * InnerProduct(part.along, curl(u)) * InnerProduct(part.along, curl(v)) * part.dx
        self.smoother = Preconditioner(self.tangent, "bddc")

    def _shut(self) -> BitArray:
        """Return which boundaries hold A x n = 0."""
        opened, ngmesh = self.opened, self.opened.mesh.ngmesh
        points = np.array([p.p for p in ngmesh.Points()])
        mask = BitArray(len(opened.mesh.GetBoundaries()))
        mask.Clear()
        for element in ngmesh.Elements2D():
            at = points[[v.nr - 1 for v in element.vertices]]
            far = np.linalg.norm(at - opened.centre, axis=1).min() > opened.outer * (1 - 1e-6)
            mirror = min(np.abs(at[:, 0] - opened.centre[0]).max(), np.abs(at[:, 2]).max()) < 1e-6
            mask[element.index - 1] = far or (mirror and not opened.odd)
        return mask

    def _state(self, F: float) -> tuple[float, float]:
        """Return flux and energy less F times flux, times MU0, at A [T mm2, T2 mm3]; leave H and slopes in parts."""
        vec = self.A.vec
        flux = float(self.driven.vec.InnerProduct(vec))
        energy = 0.5 * float((self.linear.mat * vec).Evaluate().InnerProduct(vec)) - MU0 * PER_MM * F * flux
        for law, part in self.parts:
            B = part.read(curl(self.A))
            b = np.maximum(np.linalg.norm(B, axis=0), 1e-9)
            H, slope = law.field(b)
            energy += MU0 * float(part.weights @ law.energy(b))
            part.write(part.vector, MU0 * H / b * B)
            part.write(part.scalar, MU0 * H / b)
            part.write(part.slope, MU0 * (slope - H / b))
            part.write(part.along, B / b)
        return flux, energy

    def solve(self, F: float, *, tolerance: float = 1e-6, most: int = 60) -> EdgePoint:
        """Solve by Newton steps, shortened until the energy falls as it should.

        Parameters
        ----------
        F
            Ampere-turns [A].
        tolerance
            Of the Newton decrement over the coenergy, before the last step.

        Raises
        ------
        ArithmeticError
            If it does not converge.
        """
        flux, energy = self._state(F)
        vec, step, start = self.A.vec, self.A.vec.CreateVector(), self.A.vec.CreateVector()
        for steps in range(1, most + 1):
            self.load.Assemble()
            self.tangent.Assemble()
            residual = (MU0 * PER_MM * F * self.driven.vec - self.linear.mat * vec - self.load.vec).Evaluate()
            residual.FV().NumPy()[~self.free] = 0.0
            step.data = CGSolver(self.tangent.mat, self.smoother.mat, maxiter=400, tol=1e-5) * residual
            slope, share = float(step.InnerProduct(residual)), 1.0
            last = slope <= tolerance * abs(energy)
            start.data = vec
            while True:
                vec.data = start + share * step
                trial = self._state(F)
                if last or trial[1] <= energy - 1e-4 * share * slope or share < 1e-3:
                    break
                share *= 0.4
            flux, energy = trial
            if last:
                copies = self.opened.copies
                return EdgePoint(
                    flux=copies * AREA * flux, coenergy=-copies * AREA / PER_MM * energy / MU0, steps=steps
                )
        msg = f"no field found at {F} A"
        raise ArithmeticError(msg)

    def density_at(self, places: Floats) -> Floats:
        """Return B [T] at places (n, 3) [mm]."""
        return np.asarray(curl(self.A)(self.opened.mesh(*places.T)))
