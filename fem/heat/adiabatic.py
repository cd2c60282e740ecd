"""Conductors heated by a short current with no heat escaping: a bound to hold the heat network against.

All the heat of the current stays in the conductor: c d(theta)/dt = rho J^2, rho = rho_20 (beta + theta)/(beta + 20),
theta in degC. Parted and integrated from start to end,

    J^2 t = K^2 ln((end + beta)/(start + beta)),   K^2 = c (beta + 20)/rho_20,

c per volume [J/(K m^3)]: IEC 60949:1988, clause 3; the same law is behind k of IEC 60364-5-54, annex A. Meant for up to
some 5 s; what escapes makes the true time longer.
"""

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, positive
from fem.constants import ZERO_CELSIUS
from fem.materials.metals import Metal


def _exponent(metal: Metal, start: ArrayLike, end: ArrayLike) -> Floats:
    """Return ln((end + beta)/(start + beta))."""
    low, high = (np.asarray(t, dtype=np.float64) - ZERO_CELSIUS + metal.beta for t in (start, end))
    low, high = np.broadcast_arrays(low, high)
    fits = (low > 0) & np.isfinite(high) & (high >= low)
    if not fits.all():
        at, zero = int(np.argmin(fits)), ZERO_CELSIUS - metal.beta
        first, last = (float(t.flat[at]) + zero for t in (low, high))
        msg = f"temperatures must rise from above {zero:.4g} K, got {first:g} K to {last:g} K"
        raise ValueError(msg)
    return np.asarray(np.log(high / low))


def adiabatic_time(metal: Metal, current_density: ArrayLike, start: ArrayLike, end: ArrayLike) -> Floats:
    """Return how long a current takes to heat its conductor (...,) [s], t = (K/J)^2 ln(...).

    Parameters
    ----------
    metal
        Of the conductor.
    current_density
        (...,) r.m.s. current over nominal area [A/m^2], > 0.
    start, end
        (...,) temperatures [K], end not below start.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    positive(current_density=current_density)
    density = np.asarray(current_density, dtype=np.float64)
    return np.asarray((metal.short_time_constant / density) ** 2 * _exponent(metal, start, end))


def adiabatic_current(metal: Metal, area: ArrayLike, start: ArrayLike, end: ArrayLike, time: ArrayLike) -> Floats:
    """Return the r.m.s. current (...,) [A] that heats a conductor from start to end, I = K S sqrt(ln(...)/t).

    Parameters
    ----------
    metal
        Of the conductor.
    area
        (...,) nominal cross-section S [m^2], > 0.
    start, end
        (...,) temperatures [K], end not below start.
    time
        (...,) [s], > 0.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    positive(area=area, time=time)
    root = np.sqrt(_exponent(metal, start, end) / np.asarray(time, dtype=np.float64))
    return np.asarray(metal.short_time_constant * np.asarray(area, dtype=np.float64) * root)
