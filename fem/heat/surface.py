"""Heat that leaves a surface into still air and to the walls of a room."""

from dataclasses import dataclass
from enum import Enum, auto

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, not_negative, positive
from fem.constants import STEFAN_BOLTZMANN
from fem.heat.convection import (
    GRAVITY,
    Correlation,
    cylinder_nusselt,
)
from fem.materials.air import conductivity, density, heat_capacity, viscosity
from fem.roots import roots


class Lie(Enum):
    """How a surface lies in the air."""

    VERTICAL = auto()
    FACING_UP = auto()
    FACING_DOWN = auto()
    HORIZONTAL_CYLINDER = auto()


@dataclass(frozen=True, kw_only=True, slots=True)
class Surface:
    """Describe a surface that gives off heat, or one of each of many designs: shapes (...,) that broadcast.

    Parameters
    ----------
    area
        (...,) that the air and the room see: the envelope, no inner faces [m^2].
    length
        (...,) height of a vertical surface, area over perimeter of a horizontal one, diameter of a cylinder [m].
    lie
        In the air.
    emissivity
        (...,) [-], within 0 and 1.
    coat
        (...,) thermal resistance of what covers the metal, times area [K m^2/W], >= 0; see `jacket_coat`.
    convection
        (...,) free convection over that of the laws in `nusselt` [-].

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    area: float | Floats
    length: float | Floats
    lie: Lie
    emissivity: float | Floats
    coat: float | Floats = 0.0
    convection: float | Floats = 1.0

    def __post_init__(self) -> None:
        """Refuse numbers that no surface can have."""
        positive(area=self.area, length=self.length, convection=self.convection)
        not_negative(coat=self.coat)
        if not np.all((np.asarray(self.emissivity) >= 0) & (np.asarray(self.emissivity) <= 1)):
            msg = f"emissivity must lie within 0 and 1, got {self.emissivity!r}"
            raise ValueError(msg)


def jacket_coat(bare_diameter: ArrayLike, outside_diameter: ArrayLike, conductivity: ArrayLike) -> Floats:
    """Return the resistance of a cable's jacket, times its outer area, (...,) [K m^2/W].

    Parameters
    ----------
    bare_diameter, outside_diameter
        (...,) d and D [m].
    conductivity
        k of the jacket [W/(m K)].

    Raises
    ------
    ValueError
        If the diameters do not rise from above 0 or the conductivity is not above 0.

    Notes
    -----
    (D/2) ln(D/d)/k: steady conduction through a tube, any textbook on heat transfer.
    """
    positive(bare_diameter=bare_diameter, conductivity=conductivity)
    inside, outside = np.asarray(bare_diameter, dtype=np.float64), np.asarray(outside_diameter, dtype=np.float64)
    if not np.all(inside <= outside):
        msg = f"a jacket lies outside its wire, got {bare_diameter!r} m in {outside_diameter!r} m"
        raise ValueError(msg)
    return np.asarray(0.5 * outside * np.log(outside / inside) / np.asarray(conductivity, dtype=np.float64))


def nusselt(lie: Lie, rayleigh: ArrayLike, prandtl: ArrayLike) -> Floats:
    """Return the mean Nusselt number of free convection, (...,) [-].

    Parameters
    ----------
    lie
        Which law.
    rayleigh, prandtl
        (...,) with the surface's length [-].

    Notes
    -----
    Vertical plate: S. W. Churchill and H. H. S. Chu, Int. J. Heat Mass Transfer 18 (1975) 1323, any Ra up to 1e12,

        Nu = (0.825 + 0.387 Ra^(1/6)/(1 + (0.492/Pr)^(9/16))^(8/27))^2.

    Horizontal cylinder: `cylinder_nusselt`. Horizontal plates: W. H. McAdams, Heat Transmission, 3rd ed. (1954), from
    memory: up 0.54 Ra^(1/4) from 1e4 to 1e7, 0.15 Ra^(1/3) to 1e11 (joined where they cross), down 0.27 Ra^(1/4), 1e5
    to 1e10. Below their range these two read low, so less heat leaves than in truth.
    """
    ra, pr = np.asarray(rayleigh, dtype=np.float64), np.asarray(prandtl, dtype=np.float64)
    if lie is Lie.VERTICAL:
        return np.asarray((0.825 + 0.387 * ra ** (1 / 6) / (1 + (0.492 / pr) ** (9 / 16)) ** (8 / 27)) ** 2)
    if lie is Lie.HORIZONTAL_CYLINDER:
        return cylinder_nusselt(ra, pr, Correlation.CHURCHILL_CHU)
    if lie is Lie.FACING_UP:
        return np.asarray(np.maximum(0.54 * ra**0.25, 0.15 * ra ** (1 / 3)))
    return np.asarray(0.27 * ra**0.25)


def heat_flux(surface: Surface, temperature: ArrayLike, ambient: float | Floats) -> Floats:
    """Return what leaves per area of an outer surface by convection and radiation, (...,) [W/m^2].

    Parameters
    ----------
    surface
        Its coat plays no part here: the temperature is that of the outside.
    temperature
        (...,) [K].
    ambient
        (...,) of air and walls alike [K].

    Notes
    -----
    q = Nu(Ra, Pr) k/length (T - Ta) + emissivity sigma (T^4 - Ta^4), Ra = g |T - Ta| length^3 Pr/(Tm nu^2), air at the
    mean Tm of both temperatures: a small body in a large room. A surface colder than the air is treated like a warmer
    one.
    """
    t = np.asarray(temperature, dtype=np.float64)
    film = 0.5 * (t + ambient)
    k, mu = conductivity(film), viscosity(film)
    kinematic, prandtl = mu / density(film), mu * heat_capacity(film) / k
    rise = t - ambient
    rayleigh = GRAVITY * np.abs(rise) * surface.length**3 * prandtl / (film * kinematic**2)
    convection = surface.convection * nusselt(surface.lie, rayleigh, prandtl) * k / surface.length * rise
    return np.asarray(convection + surface.emissivity * STEFAN_BOLTZMANN * (t**4 - ambient**4))


def heat_flow(surface: Surface, temperature: ArrayLike, ambient: float | Floats) -> Floats:
    """Return what leaves a surface whose metal, beneath the coat, has a given temperature, (...,) [W].

    Parameters
    ----------
    surface
        Outside the coat.
    temperature
        (...,) of the metal [K].
    ambient
        (...,) of air and walls alike [K].

    Notes
    -----
    area q(To) where To + coat q(To) = T: the left side rises with To, and lies between Ta and T.
    """
    t = np.asarray(temperature, dtype=np.float64)
    outside = t
    if np.any(np.asarray(surface.coat) > 0):
        low, high = np.broadcast_arrays(np.minimum(t, ambient), np.maximum(t, ambient), surface.coat)[:2]
        outside = roots(lambda to: to + surface.coat * heat_flux(surface, to, ambient) - t, low, high)
    return np.asarray(surface.area * heat_flux(surface, outside, ambient))
