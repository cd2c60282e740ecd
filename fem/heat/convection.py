"""Free convection from bars and wires in air."""

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, positive
from fem.materials.air import conductivity, density, heat_capacity, viscosity

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s^2]."""

THIN_WIRE = 2e-3
"""Diameter [m] below which `free_film` takes the law for wires; a choice of ours, the two differ by up to 20 %."""

_MORGAN_RAYLEIGH = np.array([1e-2, 1e2, 1e4, 1e7])
_MORGAN_FACTOR = np.array([0.675, 1.02, 0.850, 0.480, 0.125])
_MORGAN_EXPONENT = np.array([0.058, 0.148, 0.188, 0.250, 0.333])


class Correlation(Enum):
    """Which measured law gives the Nusselt number of a horizontal cylinder."""

    CHURCHILL_CHU = "Churchill and Chu"
    MORGAN = "Morgan"


def cylinder_nusselt(rayleigh: ArrayLike, prandtl: ArrayLike, correlation: Correlation) -> Floats:
    """Return the mean Nusselt number of an isothermal horizontal cylinder.

    Parameters
    ----------
    rayleigh
        (...,) Ra = g (T - Ta) D^3/(Ta' nu kappa), on the diameter, properties at the mean temperature Ta' of the film
        [-], not negative.
    prandtl
        (...,) [-]; plays no part after Morgan, who is for air.
    correlation
        Which of the two.

    Returns
    -------
    (...,) array
        Nu = alpha D/k [-].

    Raises
    ------
    ValueError
        If a Rayleigh number is negative, or above 1e12, where both laws end.

    Notes
    -----
    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049, stated for 1e-5 < Ra < 1e12:

        Nu = (0.60 + 0.387 Ra^(1/6)/(1 + (0.559/Pr)^(9/16))^(8/27))^2.

    It is followed down to Ra = 0, where it tends to 0.36, because a bar at the temperature of the air has no Rayleigh
    number to speak of and loses nothing whatever the Nusselt number. V. T. Morgan, Advances in Heat Transfer 11 (1975)
    199: Nu = C Ra^n from 1e-10 on; steps of less than 1 % where its ranges meet.
    """
    ra = np.asarray(rayleigh, dtype=np.float64)
    if not np.all((ra >= 0) & (ra <= 1e12)):
        wrong = float(ra.flat[int(np.argmin((ra >= 0) & (ra <= 1e12)))])
        msg = f"rayleigh must lie from 0 to 1e12, got {wrong:g}"
        raise ValueError(msg)
    if correlation is Correlation.CHURCHILL_CHU:
        pr = np.asarray(prandtl, dtype=np.float64)
        return np.asarray((0.60 + 0.387 * ra ** (1 / 6) / (1 + (0.559 / pr) ** (9 / 16)) ** (8 / 27)) ** 2)
    part = np.searchsorted(_MORGAN_RAYLEIGH, ra, side="right")
    return np.asarray(_MORGAN_FACTOR[part] * ra ** _MORGAN_EXPONENT[part])


def free_film(surface: ArrayLike, air: ArrayLike, diameter: ArrayLike) -> Floats:
    """Return the film coefficient of free convection from a horizontal bar in still air.

    Parameters
    ----------
    surface
        (...,) surface temperature [K].
    air
        (...,) temperature of the air [K].
    diameter
        (...,) of a round bar; perimeter over pi for another section [m].

    Returns
    -------
    (...,) array
        alpha = Nu k/D [W/(m^2 K)].

    Raises
    ------
    ValueError
        If diameter or air temperature are not above 0.

    Notes
    -----
    Air at the mean of surface and air temperature. Morgan below a diameter of 2 mm, else Churchill and Chu.
    A strip is taken as the round bar of its perimeter: the flow's path along the surface is the same (after
    J. H. Lienhard, Int. J. Heat Mass Transfer 16 (1973) 2121, from memory), good to some 15 %.
    """
    positive(diameter=diameter, air=air)
    air, diameter = np.asarray(air, dtype=np.float64), np.asarray(diameter, dtype=np.float64)
    film = 0.5 * (np.asarray(surface, dtype=np.float64) + air)
    rho, mu, k = density(film), viscosity(film), conductivity(film)
    prandtl = mu * heat_capacity(film) / k
    grashof = GRAVITY * np.abs(2 * (film - air)) / film * diameter**3 * (rho / mu) ** 2
    rayleigh, thin = grashof * prandtl, diameter < THIN_WIRE
    nusselt = cylinder_nusselt(rayleigh, prandtl, Correlation.MORGAN if thin.all() else Correlation.CHURCHILL_CHU)
    if thin.any() and not thin.all():
        nusselt = np.where(thin, cylinder_nusselt(rayleigh, prandtl, Correlation.MORGAN), nusselt)
    return np.asarray(nusselt * k / diameter)
