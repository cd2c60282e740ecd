"""A contact of two metals resolved in two dimensions: spot, film and pressed faces as a layer between round bodies."""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import splu
from skfem import Basis, BilinearForm, ElementQuad1, LinearForm, MeshQuad, condense
from skfem.helpers import dot, grad

from fem.work.bodies import Properties

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, eq=False)
class ContactField:
    """A jaw below and a bar above that touch in one round spot, their far ends held cold, their sides insulated.

    Lengths [m]; near, far: metals of jaw and bar, whatever they conduct; film [ohm m2], 0 for none; film_k its
    conductivity for heat [W/(m K)], layer its thickness [m]; faces [W/(m2 K)]; fine divides every element.
    """

    radius: float
    spot: float
    jaw: float
    bar: float
    near: Properties
    far: Properties
    film: float
    film_k: float
    layer: float
    faces: float
    fine: int = 1
    basis: Basis = field(init=False)

    def __post_init__(self) -> None:
        near = self.spot * np.geomspace(0.02, 1.0, 14)
        r = np.unique(np.r_[0.0, self.spot - near[::-1], self.spot, self.spot + near])
        r = np.r_[r[r <= 1.9 * self.spot], np.geomspace(2 * self.spot, self.radius, 16)]
        up = np.r_[np.geomspace(self.spot / 40, self.bar / 12, 34), self.bar * np.linspace(1, 12, 24)[1:] / 12]
        down = np.geomspace(self.spot / 40, self.jaw, 26)
        z = np.r_[-down[::-1], 0.0, self.layer / 2, self.layer, self.layer + up]
        r, z = (np.interp(np.arange(0, p.size - 1 + 1e-9, 1 / self.fine), np.arange(p.size), p) for p in (r, z))
        mesh = MeshQuad.init_tensor(r, z)
        basis = Basis(mesh, ElementQuad1(), intorder=4)
        middle = mesh.p[:, mesh.t].mean(axis=1)
        x, height = basis.doflocs
        level = np.searchsorted(z, height - 1e-12)
        ring = np.interp(x, r, np.r_[0.0, np.diff(r)]), np.interp(x, r, np.r_[np.diff(r), 0.0])
        # hat functions times r over a ring
        weight = ring[0] * (3 * x - ring[0]) / 6 + ring[1] * (3 * x + ring[1]) / 6
        self.__dict__.update(
            basis=basis,
            z=z,
            in_layer=(middle[1] > 0) & (middle[1] < self.layer),
            in_spot=middle[0] < self.spot,
            in_jaw=middle[1] < 0,
            low=basis.get_dofs(lambda x: x[1] < z[0] + 1e-12).all(),
            high=basis.get_dofs(lambda x: x[1] > z[-1] - 1e-12).all(),
            level=level,
            ring=weight,
            metal=((height <= 1e-12) | (height >= self.layer - 1e-12)) & (np.abs(height) < 3 * self.spot),
            faced=[(x <= self.spot + 1e-12) & (np.abs(height - face) < 1e-12) for face in (0.0, self.layer)],
        )

    def _stiff(self, coefficient: Floats):
        return self._assembled(lambda u, v, w: 2 * np.pi * w.x[0] * dot(grad(u), grad(v)), coefficient)

    def _assembled(self, form: Callable[..., Floats], coefficient: Floats):
        @BilinearForm
        def whole(u, v, w):
            return coefficient[:, None] * form(u, v, w)

        return whole.assemble(self.basis)

    def _laws(self, t: Floats) -> tuple[Floats, Floats, Floats]:
        """Return conductivity for current and for heat, and heat capacity, by element."""
        mean = t[self.basis.element_dofs].mean(axis=0)
        found = []
        for metal in (self.near, self.far):
            capacity = np.diff(metal.enthalpy) / np.maximum(np.diff(metal.temperature), 1e-3)
            at = np.clip(np.searchsorted(metal.temperature, mean) - 1, 0, capacity.size - 1)
            rho = np.interp(mean, metal.temperature, metal.resistivity)
            found.append((1 / rho, np.interp(mean, metal.temperature, metal.thermal_conductivity), capacity[at]))
        sigma, k, capacity = np.where(self.in_jaw, *np.array(found))
        if self.film:
            sigma = np.where(self.in_layer, self.layer / self.film, sigma)
            k = np.where(self.in_layer, self.film_k, k)
        outside = self.in_layer & ~self.in_spot
        return np.where(outside, 1e-6, sigma), np.where(outside, self.faces * self.layer, k), capacity

    def _potential(self, sigma: Floats, current: float) -> tuple[Floats, float]:
        """Return the potential with a current, and the resistance between the ends."""
        stiff = self._stiff(sigma)
        phi = np.zeros(self.basis.N)
        phi[self.high] = 1.0
        a, b, x, free = condense(stiff, np.zeros_like(phi), x=phi, D=np.r_[self.low, self.high])
        x[free] = splu(a.tocsc()).solve(b)
        resistance = 1 / float(x @ (stiff @ x))
        return x * current * resistance, resistance

    def cold_resistance(self, temperature: float) -> float:
        """Return the resistance between the ends with everything at one temperature [K]."""
        return self._potential(self._laws(np.full(self.basis.N, temperature))[0], 1.0)[1]

    def run(self, current: float, cold: float, times: Floats) -> dict[str, Floats]:
        """March by the two-step backward difference from one time to the next, from 0 on, laws extrapolated.

        Returns times, resistance, temperatures at z as means over the section, and of the spot: the hottest of its
        metal and the mean over either of its two faces.
        """
        t = before = np.full(self.basis.N, cold)
        out: dict[str, list] = {"resistance": [self.cold_resistance(cold)], "mean": [], "hottest": [], "spot": []}
        section = np.bincount(self.level, self.ring)
        steps = np.diff(times)
        for step in range(times.size):
            out["mean"].append(np.bincount(self.level, self.ring * t) / section)
            out["hottest"].append(t[self.metal].max())
            out["spot"].append([np.average(t[at], weights=self.ring[at]) for at in self.faced])
            if step == steps.size:
                break
            ratio = steps[step] / steps[step - 1] if step else 0.0
            sigma, k, capacity = self._laws(t + ratio * (t - before))
            phi, resistance = self._potential(sigma, current)
            out["resistance"].append(resistance)
            joule = self.basis.interpolate(phi)

            @LinearForm
            def heat(v, w, sigma=sigma):
                return 2 * np.pi * w.x[0] * sigma[:, None] * dot(grad(w.phi), grad(w.phi)) * v

            mass = self._assembled(lambda u, v, w: 2 * np.pi * w.x[0] * u * v, capacity / steps[step])
            known = mass @ ((1 + ratio) * t - ratio**2 / (1 + ratio) * before)
            stiff = self._stiff(k) + (1 + 2 * ratio) / (1 + ratio) * mass
            held = np.full(self.basis.N, cold)
            right = heat.assemble(self.basis, phi=joule) + known
            a, b, solved, free = condense(stiff, right, x=held, D=np.r_[self.low, self.high])
            solved[free] = splu(a.tocsc()).solve(b)
            t, before = solved, t
        return {name: np.array(values) for name, values in out.items()} | {"time": times, "z": self.z}
