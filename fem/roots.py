"""The root of a function of one number between two bounds."""

from __future__ import annotations

from collections.abc import Callable
from math import inf

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
