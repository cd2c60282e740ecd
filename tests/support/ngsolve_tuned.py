"""Another finite-element library made as fast as we know how, for timings side by side.

The same start, line search and tolerance as ours; three quadrature points like ours; its own sparse Cholesky factor,
its symbolic part kept between steps; compiled coefficient functions, no form set up twice. Import it only after
`needed("ngsolve")`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from netgen.occ import Glue, MoveTo, OCCGeometry
from ngsolve import (
    CF,
    ET,
    H1,
    BilinearForm,
    BSpline,
    GridFunction,
    IntegrationRule,
    LinearForm,
    Mesh,
    SetNumThreads,
    dx,
    grad,
    sqrt,
)

from fem.constants import MU0
from fem.field.elements import QUADRATURE
from geometries.shapes.section import GRID, Role, Section
from tests.support.laws import SmoothIron
from tests.support.ngsolve_twin import nu_of

SetNumThreads(1)
TOLERANCE = 1e-8
START_MU_R = 4000.0


@dataclass(eq=False)
class Tuned:
    """A section on one mesh, ready to be solved again and again.

    Parameters
    ----------
    mesh, section, iron
        What is solved.
    inverse
        Name of the library's sparse solver.
    few_points
        Three quadrature points instead of the library's own choice.
    """

    mesh: Mesh
    section: Section
    iron: SmoothIron
    inverse: str = "sparsecholesky"
    few_points: bool = True
    steps: int = 0
    A: GridFunction = field(init=False)

    def __post_init__(self) -> None:
        measure = dx
        if self.few_points:
            points, weights = QUADRATURE
            rule = IntegrationRule([tuple(map(float, p)) for p in points.T], list(map(float, weights)))
            measure = dx(intrules={ET.TRIG: rule})
        self.space = space = H1(self.mesh, order=2, dirichlet="outer")
        u, v = space.TnT()
        in_iron = [f"r{k}" for k, r in enumerate(self.section.regions) if r.role is Role.IRON]
        air = CF(1 / MU0)

        def form(nu: CF) -> BilinearForm:
            found = BilinearForm(space, symmetric=True)
            found += (self.mesh.MaterialCF(dict.fromkeys(in_iron, nu), default=air) * grad(u) * grad(v)) * measure
            return found

        self.form = form(nu_of(self.iron, grad(u) * grad(u)).Compile())
        self.linear = form(CF(1 / (MU0 * START_MU_R)))
        self.A = GridFunction(space)
        b = np.geomspace(1e-4, 10.0, 200)
        H = b * self.iron.nu_dnu(b**2)[0]
        carrying = BSpline(2, [0.0, 0.0, *H, 1e9], [float(v) for v in (b[0] / H[0], *(b / H), b[-1] / H[-1])])
        size = sqrt(grad(self.A) * grad(self.A))
        self.second = form(1 / carrying(size / (MU0 * START_MU_R)))
        self.free = space.FreeDofs()
        self.held = ~np.array(list(self.free))
        self.sources = {}
        for winding in {r.winding for r in self.section.regions if r.winding is not None}:
            density = {f"r{k}": r.sense / r.area for k, r in enumerate(self.section.regions) if r.winding == winding}
            self.sources[winding] = LinearForm(self.mesh.MaterialCF(density, default=0.0) * v * dx).Assemble().vec
        self.factor = None

    @property
    def unknowns(self) -> int:
        """Unknowns."""
        return int(np.sum(~self.held))

    def linkage_per_m(self, winding: str) -> float:
        """Return the flux linkage per turn and metre of depth, of what is meshed [Wb/m]."""
        return float(np.dot(self.sources[winding].FV().NumPy(), self.A.vec.FV().NumPy()))

    def solve(self, ampere_turns: Mapping[str, float], *, start: bool = True) -> float:
        """Solve; from the last field where `start` is False. Return the relative residual."""
        f = self.A.vec.CreateVector()
        f[:] = 0.0
        for winding, value in ampere_turns.items():
            f.data += value * self.sources[winding]
        scale = self._norm(f)
        if start:
            for stage in (self.linear, self.second):
                stage.Assemble()
                self.A.vec.data = stage.mat.Inverse(self.free, inverse=self.inverse) * f
        self.steps = 0
        r = self._residual(f)
        before = self._norm(r)
        while before > TOLERANCE * scale:
            self.form.AssembleLinearization(self.A.vec)
            if self.factor is None:
                self.factor = self.form.mat.Inverse(self.free, inverse=self.inverse)
            else:
                self.factor.Update()
            step = self.A.vec.CreateVector()
            step.data = -(self.factor * r)
            slope = float(np.dot(r.FV().NumPy(), step.FV().NumPy()))
            origin, length, low, low_slope, high, high_slope = self.A.vec.Copy(), 1.0, 0.0, slope, None, 0.0
            for _ in range(30):
                self.A.vec.data = origin + length * step
                trial = self._residual(f)
                now = self._norm(trial)
                along = float(np.dot(trial.FV().NumPy(), step.FV().NumPy()))
                if abs(along) <= 0.7 * abs(slope) or now <= 0.7 * before:
                    break
                if along < 0:
                    low, low_slope = length, along
                else:
                    high, high_slope = length, along
                if high is None:
                    length *= 2
                else:
                    share = -low_slope / (high_slope - low_slope)
                    length = low + (high - low) * min(max(share, 0.1), 0.9)
            r, before = trial, now
            self.steps += 1
            assert self.steps < 60
        return before / scale

    def _residual(self, f):
        r = self.A.vec.CreateVector()
        self.form.Apply(self.A.vec, r)
        r.data -= f
        r.FV().NumPy()[self.held] = 0.0
        return r

    def _norm(self, v) -> float:
        return float(np.linalg.norm(np.where(self.held, 0.0, v.FV().NumPy())))


def own_mesh(section: Section, *, largest: float, corner: float) -> Mesh:
    """Mesh a section by the library's own mesher, graded towards the corners of iron."""
    x0, y0, x1, y1 = section.outline
    box = MoveTo(x0, y0).Rectangle(x1 - x0, y1 - y0).Face()
    faces = []
    for k, r in enumerate(section.regions):
        face = MoveTo(r.x0, r.y0).Rectangle(r.x1 - r.x0, r.y1 - r.y0).Face()
        box = box - face
        face.faces.name, face.faces.maxh = f"r{k}", largest
        faces.append(face)
    box.faces.name = "air"
    shape = Glue([box, *faces])
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
    }
    for vertex in shape.vertices:
        if (round(vertex.p.x / GRID), round(vertex.p.y / GRID)) in corners:
            vertex.maxh = corner
    return Mesh(OCCGeometry(shape, dim=2).GenerateMesh(maxh=6 * largest, grading=0.5))
