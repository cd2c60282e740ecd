"""A contact of two metals resolved in two dimensions: spot, film and pressed faces as a layer between round bodies."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad1, LinearForm, MeshQuad, condense
from skfem.helpers import dot, grad

Floats = NDArray[np.float64]
LAYER = 4e-6
"""Thickness of the layer between the bodies [m]."""


@dataclass(frozen=True, kw_only=True)
class ContactField:
    """A jaw below and a bar above that touch in one round spot: k rho = lorenz T in both metals.

    Lengths [m]; conductivities of heat [W/(m K)], level; film [ohm m2], 0 for none; faces [W/(m2 K)].
    """

    radius: float
    spot: float
    jaw: float
    bar: float
    jaw_k: float
    bar_k: float
    film: float
    film_k: float
    faces: float
    capacity: float
    lorenz: float

    def __post_init__(self) -> None:
        near = self.spot * np.geomspace(0.02, 1.0, 14)
        r = np.unique(np.r_[0.0, self.spot - near[::-1], self.spot, self.spot + near])
        r = np.r_[r[r <= 1.9 * self.spot], np.geomspace(2 * self.spot, self.radius, 16)]
        up = np.r_[np.geomspace(self.spot / 40, self.bar / 12, 34), self.bar * np.linspace(1, 12, 24)[1:] / 12]
        down = np.geomspace(self.spot / 40, self.jaw, 26)
        z = np.r_[-down[::-1], 0.0, LAYER / 2, LAYER, LAYER + up]
        mesh = MeshQuad.init_tensor(r, z)
        self.__dict__["basis"] = Basis(mesh, ElementQuad1(), intorder=4)
        middle = mesh.p[:, mesh.t].mean(axis=1)
        self.__dict__["in_layer"] = (middle[1] > 0) & (middle[1] < LAYER)
        self.__dict__["in_spot"] = middle[0] < self.spot
        self.__dict__["in_jaw"] = middle[1] < 0
        self.__dict__["low"] = self.basis.get_dofs(lambda x: x[1] < z[0] + 1e-12).all()
        self.__dict__["high"] = self.basis.get_dofs(lambda x: x[1] > z[-1] - 1e-12).all()
        self.__dict__["weight"] = self._assembled(lambda u, v, w: 2 * np.pi * w.x[0] * u * v, self.capacity)

    def _assembled(self, form: Callable[..., Floats], coefficient: Floats | float):
        @BilinearForm
        def whole(u, v, w):
            return (coefficient[:, None] if np.ndim(coefficient) else coefficient) * form(u, v, w)

        return whole.assemble(self.basis)

    def _laws(self, t: Floats) -> tuple[Floats, Floats]:
        """Return conductivity for current and for heat by element."""
        mean = t[self.basis.element_dofs].mean(axis=0)
        k = np.where(self.in_jaw, self.jaw_k, self.bar_k)
        sigma = k / (self.lorenz * mean)
        if self.film:
            sigma = np.where(self.in_layer, LAYER / self.film, sigma)
            k = np.where(self.in_layer, self.film_k, k)
        outside = self.in_layer & ~self.in_spot
        return np.where(outside, 1e-6, sigma), np.where(outside, self.faces * LAYER, k)

    def _potential(self, sigma: Floats, current: float) -> tuple[Floats, float]:
        """Return the potential with a current, and the resistance between the ends."""
        stiff = self._assembled(lambda u, v, w: 2 * np.pi * w.x[0] * dot(grad(u), grad(v)), sigma)
        phi = np.zeros(self.basis.N)
        phi[self.high] = 1.0
        a, b, x, free = condense(stiff, np.zeros_like(phi), x=phi, D=np.r_[self.low, self.high])
        x[free] = splu(a.tocsc()).solve(b)
        resistance = 1 / float(x @ (stiff @ x))
        return x * current * resistance, resistance

    def run(self, current: float, cold: float, duration: float, steps: int) -> dict[str, Floats]:
        """March by the backward difference; return times, resistance, the bar's axis profile, hottest in the spot."""
        t = np.full(self.basis.N, cold)
        x, z = self.basis.doflocs
        axis = np.flatnonzero((x > self.radius - 1e-12) & (z >= LAYER))
        axis = axis[np.argsort(z[axis])]
        near = (z > -3 * self.spot) & (z < 3 * self.spot) & (x < 1.5 * self.spot)
        dt = duration / steps
        out: dict[str, list] = {"time": [], "resistance": [], "profile": [], "hottest": []}
        for step in range(steps + 1):
            sigma, k = self._laws(t)
            phi, resistance = self._potential(sigma, current)
            out["time"].append(step * dt)
            out["resistance"].append(resistance)
            out["profile"].append(t[axis])
            out["hottest"].append(t[near].max())
            field = self.basis.interpolate(phi)

            @LinearForm
            def heat(v, w, sigma=sigma):
                return 2 * np.pi * w.x[0] * sigma[:, None] * dot(grad(w.phi), grad(w.phi)) * v

            stiff = self._assembled(lambda u, v, w: 2 * np.pi * w.x[0] * dot(grad(u), grad(v)), k)
            right = heat.assemble(self.basis, phi=field) + self.weight @ t / dt
            held = np.full(self.basis.N, cold)
            a, b, solved, free = condense(stiff + self.weight / dt, right, x=held, D=np.r_[self.low, self.high])
            solved[free] = splu(a.tocsc()).solve(b)
            t = solved
        return {name: np.array(values) for name, values in out.items()} | {"z": z[axis] - LAYER}
