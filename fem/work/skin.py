"""A.c. resistance of round bars and strips, and the permeability that steel shows at a strong field."""

from math import pi

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Real
from fem.bessel import round_quotient
from fem.constants import MU0

STEP_LOSS_RATIO = 16 / (3 * pi)
"""Loss in a half-space with a step-like B(H) over that of the straight B(H) through the same peak point [-]."""

STEP_SHARE = 0.75
"""Height of the step over the flux density at the surface that fits real, rounded curves [-]: Agarwal."""


def round_ac_factor(ratio: ArrayLike) -> Floats:
    """Return the a.c. over d.c. resistance of a round bar by itself.

    Parameters
    ----------
    ratio
        (...,) radius over skin depth [-], not negative.

    Returns
    -------
    (...,) array
        [-], at least 1.

    Notes
    -----
    Diffusion, (1/r) d/dr(r dJ/dr) = j omega mu sigma J, gives J(r) ~ I0((1 + j) r/delta) and

        F = Re(z I0(z)/(2 I1(z))),   z = (1 + j) a/delta,   delta = sqrt(2 rho/(omega mu)):

    1 + x^4/48 for a thin bar, x/2 + 1/4 for a thick one, x = a/delta. W. R. Smythe, Static and Dynamic Electricity,
    3rd ed. (1968), chapter 10, from memory.
    """
    x = np.asarray(ratio, dtype=np.float64)
    z = (1 + 1j) * np.maximum(x, 1e-3)
    return np.asarray(np.where(x < 1e-3, 1.0, 0.5 * round_quotient(z).real))


def strip_ac_factor(ratio: ArrayLike) -> Floats:
    """Return the a.c. over d.c. resistance of a strip much wider than thick, by itself.

    Parameters
    ----------
    ratio
        (...,) half the thickness over skin depth [-], not negative.

    Returns
    -------
    (...,) array
        [-], at least 1.

    Notes
    -----
    d2J/dx2 = j omega mu sigma J between two faces gives J(x) ~ cosh((1 + j) x/delta) and

        F = x (sinh 2x + sin 2x)/(cosh 2x - cos 2x),   x = half the thickness/delta.

    The field is taken equal on both wide faces, and the crowding of current at the narrow edges is left out. P. L.
    Dowell, Proc. IEE 113 (1966) 1387: his one layer, from memory.
    """
    x = np.asarray(ratio, dtype=np.float64)
    # Written with exp(-2 y), so that nothing overflows.
    y = np.maximum(x, 1e-2)
    e = np.exp(-2 * y)
    whole = y * (1 - e**2 + 2 * e * np.sin(2 * y)) / (1 + e**2 - 2 * e * np.cos(2 * y))
    return np.asarray(np.where(x < 1e-2, 1.0, whole))


def effective_permeability(
    surface_field: Real, saturation_polarisation: float, half_polarisation_field: Real
) -> tuple[Real, Real]:
    """Return the relative permeability with which linear theory gives saturating steel's loss, and its slope.

    Parameters
    ----------
    surface_field
        Peak field at the surface [A/m].
    saturation_polarisation
        At the local temperature [T].
    half_polarisation_field
        Field of half the saturation polarisation [A/m], > 0.

    Returns
    -------
    permeability, slope
        [-], and its derivative to the surface field [m/A].

    Notes
    -----
    The secant of J = Js H / (H + h) at the surface gives J / (mu0 H) = Js / (mu0 (H + h)). Where the field is far above
    h, B(H) is nearly a step, a front walks into the bar each half period, and the loss per area is 8/(3 pi) H^2/(s d)
    instead of 1/2 H^2/(s d), d = sqrt(2 H/(w s B)): W. MacLean, J. Appl. Phys. 25 (1954) 1267, from memory. P. D.
    Agarwal, Trans. AIEE 78 (1959) 169, from memory, takes 0.75 of B for rounded curves. As loss goes with the root of
    permeability, the secant is raised by 0.75 (16/(3 pi))^2, in step with the share H / (H + h) of saturation. Within
    11 % of the a.c. factor that marching the diffusion through the section gives (see the tests).
    """
    h = half_polarisation_field
    total = surface_field + h
    extra = STEP_SHARE * STEP_LOSS_RATIO**2 - 1
    secant = saturation_polarisation / (MU0 * total)
    rise = 1 + extra * surface_field / total
    slope = secant * (extra * h / total**2 - rise / total)
    return 1 + secant * rise, slope
