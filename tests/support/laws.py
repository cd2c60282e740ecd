"""Smooth magnetisation laws with closed formulas, so that two solvers can use the very same one."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.constants import MU0

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True)
class SmoothIron:
    """Iron that goes over to air: nu = nu0 (low + (1 - low) s/(1 + s)) with s = (b2/knee^2)^power.

    The numbers are invented; what matters is that H rises without end and that nu is smooth in b2.

    Parameters
    ----------
    mu_r
        Initial relative permeability [-].
    knee
        Flux density at which nu is half that of air [T].
    power
        How sharp the knee is [-].
    """

    mu_r: float = 5000.0
    knee: float = 2.3
    power: int = 6

    def nu_dnu(self, b2: Array) -> tuple[Array, Array]:
        low, k2 = 1 / self.mu_r, self.knee**2
        s = (b2 / k2) ** self.power
        ds = self.power / k2 * (b2 / k2) ** (self.power - 1)
        return (low + (1 - low) * s / (1 + s)) / MU0, (1 - low) * ds / (1 + s) ** 2 / MU0

    def energy_density(self, b: Array) -> Array:
        # 40 Gauss points on a function this smooth: exact to rounding.
        t, w = np.polynomial.legendre.leggauss(40)
        u = 0.5 * (t + 1) * np.asarray(b)[..., None]
        return np.asarray(0.5 * b * ((u * self.nu_dnu(u**2)[0]) @ w))


@dataclass(frozen=True, kw_only=True, slots=True)
class Quartic:
    """nu = a + c b2: the simplest law that is not linear; its energy is a quartic in b.

    Parameters
    ----------
    a, c
        [m/H] and [m/(H T^2)].
    """

    a: float
    c: float

    def nu_dnu(self, b2: Array) -> tuple[Array, Array]:
        return self.a + self.c * b2, np.full(np.shape(b2), self.c)

    def energy_density(self, b: Array) -> Array:
        return np.asarray(self.a * b**2 / 2 + self.c * b**4 / 4)
