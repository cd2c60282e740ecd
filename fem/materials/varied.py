"""Derivatives of the law that the field solver evaluates, by the steel's table and the share of iron.

At equal steps of the average flux density b the law holds H with f J(H) + MU0 H = b and dH/db = 1/(f J' + MU0). For a
parameter m of which J depends, or m = f,

    dH/dm = -(f dJ/dm + J df/dm) / (f J' + MU0),
    d(dH/db)/dm = -(dH/db)^2 (f dJ'/dm + J' df/dm + f J'' dH/dm),

J a Hermite cubic between rows, so linear in their ordinates and slopes. The slopes follow from the ordinates by the
rule of Fritsch and Butland, the tail by the law of approach, the table's cubics by a limiter: short formulas without
roots of negative numbers, of which a step along the imaginary axis gives the derivative to all digits,
f'(x) = Im f(x + i s) / s with s as small as one likes.

References
----------
W. Squire and G. Trapp, SIAM Review 40 (1998) 110: the complex step.
"""

from __future__ import annotations

from copy import copy

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.kept import Recent
from fem.materials.bh import BHCurve
from fem.materials.mixture import STEP, Reluctivity, cubics

_IMAGINARY = 1e-100
"""Complex step: nothing is lost by how small it is."""


_KEPT: Recent[Floats] = Recent(2)


def law_slopes(curve: BHCurve, iron_fraction: float) -> Floats:
    """Return the derivatives of the coefficients of `Reluctivity.of_lamination(curve, iron_fraction)`.

    Parameters
    ----------
    curve
        Magnetisation curve of the iron.
    iron_fraction
        Share of the cross-section that is iron [-].

    Returns
    -------
    (rows, 4, n + 1): first by the iron fraction [A/m], then by the flux density of each row of the table but the first,
    which is 0 [A/(m T)]. The last two asked for are kept.
    """
    return _KEPT.get((curve, iron_fraction), lambda: _law_slopes(curve, iron_fraction))


def on_table(law: Reluctivity, b: Floats, by_nu: Floats) -> Floats:
    """Return a reading's derivatives by a law's coefficients (4, n + 1).

    Parameters
    ----------
    law
        The law.
    b
        Flux densities where it was evaluated [T], any shape.
    by_nu
        The reading's derivatives by the reluctivity at each of them.
    """
    size = law.coefficients.shape[1]
    at = np.maximum(b.ravel(), 1e-7)
    u = at / law.step
    i = np.minimum(u, size - 1).astype(np.int64)
    weight = by_nu.ravel() / at
    return np.stack([np.bincount(i, weights=weight * (u - i) ** k, minlength=size) for k in range(4)])


def _law_slopes(curve: BHCurve, f: float) -> Floats:
    law = Reluctivity.of_lamination(curve, f)
    H_end, rows = float(curve.H[-1]), curve.H.size - 1
    H = law.coefficients[0]
    known = STEP * np.arange(H.size) <= law.valid_to
    J, mu = curve.polarisation(H[known]), curve.differential_permeability(H[known]) - MU0
    by_J, by_J_slope, curvature = _polarisation_slopes(curve, H[known])
    dJ = np.vstack((J, f * by_J.T))
    dmu = np.vstack((mu, f * by_J_slope.T))
    dH_db = 1 / (f * mu + MU0)
    change, steeper = np.zeros((rows + 1, H.size)), np.zeros((rows + 1, H.size))
    change[:, known] = -dJ * dH_db
    steeper[:, known] = -(dH_db**2) * (dmu + f * curvature * change[:, known])
    # beyond a table that says nothing further the line of air starts where the rows end
    change[0, ~known], change[-1, ~known] = -(curve.B[-1] - MU0 * H_end) / MU0, -f / MU0
    slope = np.full(H.size, 1 / MU0)
    slope[known] = dH_db
    return np.array(
        [
            cubics(H + _IMAGINARY * 1j * change[k], (slope + _IMAGINARY * 1j * steeper[k]) * STEP).imag / _IMAGINARY
            for k in range(rows + 1)
        ]
    )


def _polarisation_slopes(curve: BHCurve, H: Floats) -> tuple[Floats, Floats, Floats]:
    """Return dJ/dB_k and dJ'/dB_k at field strengths (points, rows - 1), and J'' there (points,)."""
    pairs = [_moved(curve, k).polarisation_and_slope(H) for k in range(1, curve.H.size)]
    by_J, by_slope = (np.stack([pair[part].imag for pair in pairs], axis=1) / _IMAGINARY for part in (0, 1))
    x, c, end = curve.H, curve.spline.c, curve.H[-1]
    piece = np.clip(x.searchsorted(H, side="right") - 1, 0, x.size - 2)
    remaining = (curve.saturation_polarisation or 0.0) - (curve.B[-1] - MU0 * end)
    q = curve.approach / (curve.approach + np.maximum(H - end, 0.0))
    inside, beyond = 6 * c[0, piece] * (H - x[piece]) + 2 * c[1, piece], -6 * remaining * q**4 / curve.approach**2
    return by_J, by_slope, np.where(end < H, beyond, inside)


def _moved(curve: BHCurve, row: int) -> BHCurve:
    """Return the curve with an imaginary step in the flux density of one row; fit for evaluation alone."""
    B = curve.B.astype(complex)
    B[row] += 1j * _IMAGINARY
    found = copy(curve)
    object.__setattr__(found, "B", B)
    found.interpolate()
    return found
