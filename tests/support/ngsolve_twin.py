"""The same magnetostatics in another finite-element library: other elements, quadrature, assembly, Newton and mesher.

Import this module only after `needed("ngsolve")`.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import netgen.meshing as nm
import numpy as np
from netgen.occ import Glue, MoveTo, OCCGeometry
from ngsolve import CF, ET, H1, BilinearForm, GridFunction, Integrate, IntegrationRule, LinearForm, Mesh, dx, grad
from ngsolve.comp import DifferentialSymbol
from numpy.typing import NDArray

from fem.constants import MU0
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.section import GRID, Role, Section
from tests.support.laws import SmoothIron

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Twin:
    """A solved field: A as a function on the mesh, the law and the quadrature it was solved with."""

    section: Section
    mesh: Mesh
    A: GridFunction
    iron: SmoothIron
    dx: DifferentialSymbol

    def linkage_per_m(self, winding: str) -> float:
        """Return the flux linkage per turn and metre of depth, of what is meshed [Wb/m]."""
        total = 0.0
        for k, r in enumerate(self.section.regions):
            if r.winding == winding:
                total += r.sense * r.share * Integrate(self.A * dx(f"r{k}"), self.mesh) / r.area
        return float(total)

    def energy_per_m(self) -> float:
        """Return the energy per metre of depth, of what is meshed [J/m].

        Its density is the integral of H over b, here by Gauss quadrature along the way to each point's b.
        """
        b2 = grad(self.A) * grad(self.A)
        t, w = np.polynomial.legendre.leggauss(24)
        shares = 0.5 * (1 + t)
        in_iron = sum(
            0.5 * wi * share * b2 * nu_of(self.iron, b2 * share**2) for share, wi in zip(shares, w, strict=True)
        )
        filled = {f"r{k}": in_iron for k, r in enumerate(self.section.regions) if r.role is Role.IRON}
        density = self.mesh.MaterialCF(filled, default=b2 / (2 * MU0))
        return float(Integrate(density * self.dx, self.mesh))

    def force_per_m(self, region: str, ampere_turns: float) -> Array:
        """Return the force on one region per metre of depth at its winding's ampere-turns [A]: J x B (2,) [N/m]."""
        (k,) = (k for k, r in enumerate(self.section.regions) if r.name == region)
        r, g = self.section.regions[k], grad(self.A)
        J = r.sense * r.share * ampere_turns / r.area
        # Bx = dA/dy, By = -dA/dx; J x B = (-J By, J Bx)
        return J * np.array([Integrate(component * dx(f"r{k}"), self.mesh) for component in (g[0], g[1])])

    def flux_density(self, points: Array) -> Array:
        """Return Bx, By (2, n) [T] at points (2, n) [m]."""
        g = np.array([grad(self.A)(self.mesh(x, y)) for x, y in points.T])
        return np.array([g[:, 1], -g[:, 0]])

    def potential(self, points: Array) -> Array:
        """Return A (n,) [Wb/m] at points (2, n) [m]."""
        return np.array([self.A(self.mesh(x, y)) for x, y in points.T])


def nu_of(law: SmoothIron, b2: CF) -> CF:
    """Return the law's reluctivity [m/H], written out in the other library's own functions."""
    s = CF(1.0)
    for _ in range(law.power):
        s = s * b2 / law.knee**2
    low = 1 / law.mu_r
    return (low + (1 - low) * s / (1 + s)) / MU0


def on_arrays(mesh: SectionMesh) -> Mesh:
    """Hand our points and triangles over."""
    other = nm.Mesh(dim=2)
    numbers = [other.Add(nm.MeshPoint(nm.Pnt(x, y, 0))) for x, y in mesh.points.T]
    for k in range(-1, len(mesh.section.regions)):
        other.Add(nm.FaceDescriptor(surfnr=k + 2, domin=k + 2, domout=0, bc=k + 2))
        other.SetMaterial(k + 2, "air" if k < 0 else f"r{k}")
    for region, triangle in zip(mesh.region, mesh.triangles.T, strict=True):
        other.Add(nm.Element2D(int(region) + 2, [numbers[i] for i in triangle]))
    edges = np.sort(np.hstack([mesh.triangles[[0, 1]], mesh.triangles[[1, 2]], mesh.triangles[[2, 0]]]), axis=0)
    unique, counts = np.unique(edges, axis=1, return_counts=True)
    for a, b in unique[:, counts == 1].T:
        other.Add(nm.Element1D([numbers[a], numbers[b]], index=1))
    other.SetBCName(0, "outer")
    return Mesh(other)


def on_own_mesh(section: Section, *, largest: float, corner: float) -> Mesh:
    """Mesh the section anew, elements no larger than `largest` in it and about `corner` at the corners of iron [m]."""

    def rectangle(x0: float, y0: float, x1: float, y1: float):
        return MoveTo(x0, y0).Rectangle(x1 - x0, y1 - y0).Face()

    box = rectangle(*section.outline)
    faces = []
    for k, r in enumerate(section.regions):
        face = rectangle(r.x0, r.y0, r.x1, r.y1)
        box = box - face
        face.faces.name = f"r{k}"
        face.faces.maxh = largest
        faces.append(face)
    box.faces.name = "air"
    shape = Glue([box, *faces])
    x0, y0, x1, y1 = section.outline
    for edge in shape.edges:
        c = edge.center
        on_outline = min(abs(c.x - x0), abs(c.x - x1), abs(c.y - y0), abs(c.y - y1)) < GRID
        edge.name = "outer" if on_outline else "inside"
    corners = {
        (round(x / GRID), round(y / GRID))
        for r in section.regions
        if r.role is Role.IRON
        for x in (r.x0, r.x1)
        for y in (r.y0, r.y1)
        if x > x0 + GRID
    }
    for vertex in shape.vertices:
        if (round(vertex.p.x / GRID), round(vertex.p.y / GRID)) in corners:
            vertex.maxh = corner
    return Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=4 * largest, grading=0.4))


def solve_twin(
    mesh: Mesh,
    section: Section,
    ampere_turns: Mapping[str, float],
    iron: SmoothIron,
    *,
    order: int,
    points: tuple[Array, Array] | None = None,
) -> Twin:
    """Solve by Newton with backtracking, the currents raised in steps.

    Parameters
    ----------
    mesh
        From `on_arrays` or `on_own_mesh`.
    section
        What was meshed: materials are called after the places of its regions.
    ampere_turns
        Per winding [A].
    iron
        Law of all iron.
    order
        Polynomial degree of A.
    points
        Quadrature points (2, n) and weights (n,) on the reference triangle; six orders more than needed if None.
    """
    if points is None:
        measure = dx(bonus_intorder=6)
    else:
        rule = IntegrationRule([tuple(map(float, point)) for point in points[0].T], list(map(float, points[1])))
        measure = dx(intrules={ET.TRIG: rule})
    space = H1(mesh, order=order, dirichlet="outer")
    u, v = space.TnT()
    b2 = grad(u) * grad(u)
    nu = nu_of(iron, b2)
    filled = {f"r{k}": nu for k, r in enumerate(section.regions) if r.role is Role.IRON}
    a = BilinearForm(space, symmetric=True)
    a += (mesh.MaterialCF(filled, default=CF(1 / MU0)) * grad(u) * grad(v)) * measure
    density = mesh.MaterialCF(
        {
            f"r{k}": r.sense * r.share * ampere_turns.get(r.winding, 0.0) / r.area
            for k, r in enumerate(section.regions)
            if r.winding is not None
        },
        default=0.0,
    )
    f = LinearForm(density * v * dx).Assemble()
    A = GridFunction(space)
    free = space.FreeDofs()
    held = ~np.array(list(free))
    r, step = A.vec.CreateVector(), A.vec.CreateVector()

    def residual(share: float) -> float:
        a.Apply(A.vec, r)
        r.data -= share * f.vec
        values = r.FV().NumPy()
        values[held] = 0.0
        return float(np.linalg.norm(values))

    scale = float(np.linalg.norm(np.where(held, 0.0, f.vec.FV().NumPy())))
    for share in np.geomspace(0.05, 1.0, 3):
        now = residual(share)
        for _ in range(40):
            if now <= 1e-9 * scale:
                break
            a.AssembleLinearization(A.vec)
            step.data = a.mat.Inverse(free, inverse="sparsecholesky") * r
            length, before = 1.0, A.vec.Copy()
            while True:
                A.vec.data = before - length * step
                new = residual(share)
                if new < now or length < 1e-3:
                    break
                length /= 2
            now = new
        assert now <= 1e-7 * scale, f"the twin did not converge: {now / scale:.1e}"
    return Twin(section=section, mesh=mesh, A=A, iron=iron, dx=measure)
