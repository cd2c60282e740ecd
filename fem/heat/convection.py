"""Free convection from bars and wires in air."""

from enum import Enum
from math import isfinite

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
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
    rayleigh : array of any shape
        On the diameter, properties of the film [-], not negative.
    prandtl : array of the same shape
        [-]; plays no part after Morgan, who is for air.
    correlation : Correlation

    Returns
    -------
    array, same shape
        [-].

    Raises
    ------
    ValueError
        If a Rayleigh number is negative, or above 1e12, where both laws end.

    Notes
    -----
    S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1049: stated for 1e-5 < Ra < 1e12. It is
    followed down to Ra = 0, where it tends to 0.36, because a bar at the temperature of the air has no Rayleigh number
    to speak of and loses nothing whatever the Nusselt number. V. T. Morgan, Advances in Heat Transfer 11 (1975) 199:
    C Ra^n from 1e-10 on; steps of less than 1 % where its ranges meet.
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


def free_film(surface: ArrayLike, air: float, diameter: float) -> Floats:
    """Return the film coefficient of free convection from a horizontal bar in still air.

    Parameters
    ----------
    surface : array of any shape
        Surface temperature [K].
    air : float
        Temperature of the air [K].
    diameter : float
        Of a round bar; perimeter over pi for another section [m].

    Returns
    -------
    array, same shape
        [W/(m^2 K)].

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
    for name, value in (("diameter", diameter), ("air", air)):
        if not (isfinite(value) and value > 0):
            msg = f"{name} must be above 0, got {value!r}"
            raise ValueError(msg)
    film = 0.5 * (np.asarray(surface, dtype=np.float64) + air)
    rho, mu, k = density(film), viscosity(film), conductivity(film)
    prandtl = mu * heat_capacity(film) / k
    grashof = GRAVITY * np.abs(2 * (film - air)) / film * diameter**3 * (rho / mu) ** 2
    correlation = Correlation.MORGAN if diameter < THIN_WIRE else Correlation.CHURCHILL_CHU
    return np.asarray(cylinder_nusselt(grashof * prandtl, prandtl, correlation) * k / diameter)
