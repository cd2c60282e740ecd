"""The root of a function of one number between two bounds, and of many at once."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

import numpy as np

from fem.arrays import Floats

_EPSILON = 2.0**-52


def root(
    function: Callable[[float], float], low: float, high: float, *, xtol: float = 2e-12, rtol: float = 4 * _EPSILON
) -> float:
    """Return where a function is zero, within xtol + rtol |root|.

    Parameters
    ----------
    function
        Of one number, continuous.
    low, high
        Where its signs differ.
    xtol, rtol
        How far off the answer may be, absolute and relative.

    Raises
    ------
    ValueError
        If the signs do not differ.

    Notes
    -----
    The secant through the last two tries, or the inverse parabola through the last three, halving the bounds where that
    does not close in: R. P. Brent, Algorithms for Minimization Without Derivatives (1973), chapter 4.
    """
    a, b = float(low), float(high)
    fa, fb = float(function(a)), float(function(b))
    if fa * fb > 0:
        msg = f"no change of sign between {low:g} and {high:g}"
        raise ValueError(msg)
    if fa == 0:
        return a
    c, fc, step, before = a, fa, b - a, b - a
    while fb != 0:
        if fb * fc > 0:
            c, fc, step, before = a, fa, b - a, b - a
        if abs(fc) < abs(fb):
            a, b, c, fa, fb, fc = b, c, b, fb, fc, fb
        close, half = 0.5 * (xtol + rtol * abs(b)), 0.5 * (c - b)
        if abs(half) <= close:
            break
        tried = half
        if abs(before) > close and abs(fa) > abs(fb):
            s = fb / fa
            if a == c:
                p, q = 2 * half * s, 1 - s
            else:
                r, t = fa / fc, fb / fc
                p, q = s * (2 * half * r * (r - t) - (b - a) * (t - 1)), (r - 1) * (t - 1) * (s - 1)
            offered = p / -q if q else inf
            if abs(offered) < min(0.5 * abs(before), 1.5 * abs(half) - 0.5 * close) and offered * half > 0:
                tried = offered
        before, step = (step, tried) if tried is not half else (half, half)
        a, fa = b, fb
        b += step if abs(step) > close else close if half > 0 else -close
        fb = float(function(b))
    return b


def roots(
    function: Callable[[Floats], Floats], low: Floats, high: Floats, *, xtol: float | Floats = 0.0, most: int = 100
) -> Floats:
    """Return where functions (...,) are zero, each within xtol or to the last digit.

    Parameters
    ----------
    function
        Of (...,) numbers, one for each function, continuous.
    low, high
        (...,) where its signs differ.
    xtol
        How far off an answer may be.
    most
        Tries.

    Notes
    -----
    The inverse parabola through three points where it is sure to lie between them, else the middle: T. R. Chandrupatla,
    Advances in Engineering Software 28 (1997) 145, from memory.
    """
    a, b = np.array(high, dtype=np.float64), np.array(low, dtype=np.float64)
    fa, fb = function(a), function(b)
    c, fc = a.copy(), fa.copy()
    share = np.full(a.shape, 0.5)
    for _ in range(most):
        tried = a + share * (b - a)
        ft = function(tried)
        same = np.sign(ft) == np.sign(fa)
        c, fc, b, fb = np.where(same, a, b), np.where(same, fa, fb), np.where(same, b, a), np.where(same, fb, fa)
        a, fa = tried, ft
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        close = 0.5 * xtol + 2 * _EPSILON * np.abs(best)
        wide = np.abs(b - a)
        open_ = (wide > 2 * close) & (fa != 0)
        if not open_.any():
            break
        with np.errstate(divide="ignore", invalid="ignore"):
            xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
            inside = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi)
            parabola = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
            least = np.where(open_, close / wide, 0.0)
        share = np.where(inside, parabola, 0.5)
        # what is found stays where it is
        share = np.where(open_, np.minimum(np.maximum(share, least), 1 - least), 0.0)
    return np.where(np.abs(fa) < np.abs(fb), a, b)
