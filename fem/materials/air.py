"""Dry air at 101 325 Pa: what convection asks of it."""

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats

_TEMPERATURE = np.array([250.0, 300, 400, 500, 600, 700, 800, 900, 1000, 1200, 1400, 1600, 1800, 2000])
_HEAT_CAPACITY = np.array([1006.0, 1007, 1014, 1030, 1051, 1075, 1099, 1121, 1141, 1175, 1207, 1248, 1286, 1337])


def conductivity(temperature: ArrayLike) -> Floats:
    """Return the thermal conductivity [W/(m K)] at a temperature [K], any shape.

    Notes
    -----
    2.64638e-3 T^1.5/(T + 245.4 x 10^(-12/T)): US Standard Atmosphere 1976, equation 53. Stated for the atmosphere;
    within 2 % of handbook values at 1000 K.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(2.64638e-3 * t**1.5 / (t + 245.4 * 10.0 ** (-12.0 / t)))


def viscosity(temperature: ArrayLike) -> Floats:
    """Return the dynamic viscosity [Pa s] at a temperature [K], any shape.

    Notes
    -----
    Sutherland's law, 1.458e-6 T^1.5/(T + 110.4): US Standard Atmosphere 1976, equation 51.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(1.458e-6 * t**1.5 / (t + 110.4))


def density(temperature: ArrayLike) -> Floats:
    """Return the density [kg/m^3] at a temperature [K], any shape: p/(R T) with R = 287.05287 J/(kg K)."""
    return np.asarray(101325.0 / (287.05287 * np.asarray(temperature, dtype=np.float64)))


def heat_capacity(temperature: ArrayLike) -> Floats:
    """Return the heat capacity [J/(kg K)] at a temperature [K], any shape.

    Notes
    -----
    Incropera et al., Fundamentals of Heat and Mass Transfer, table A.4; level beyond 250 and 2000 K.
    """
    t = np.asarray(temperature, dtype=np.float64)
    return np.asarray(np.interp(t, _TEMPERATURE, _HEAT_CAPACITY), dtype=np.float64)
