"""Waves whose second half period is the first one upside down, sampled at equal steps of the first.

Such a wave is a sum of odd harmonics: n samples at the angles x_j = pi j/n fix those of the orders 1, 3 ... n - 1. All
that acts along the last axis takes leading ones.
"""

from functools import cache

import numpy as np

from fem.arrays import Floats


@cache
def derivative(points: int) -> Floats:
    """Return D, the matrix (n, n) of d/dx on the samples, exact for the harmonics they fix; `points` even.

    Notes
    -----
    D_jk = d((j - k) pi/n), d(x) = -2/n sum_m m sin(m x) over the odd orders m: the slope of the wave that is 1 at one
    sample and 0 at all others.
    """
    angle = np.pi * np.arange(points) / points
    orders = np.arange(1, points, 2)
    column = -(2 / points) * (orders * np.sin(np.outer(angle, orders))).sum(axis=1)
    lag = np.subtract.outer(np.arange(points), np.arange(points))
    # Half a period later the sign turns; the derivative's kernel is odd, so both halves of the matrix follow.
    matrix: Floats = np.sign(lag) * column[np.abs(lag)]
    matrix.setflags(write=False)
    return matrix


@cache
def integral(points: int) -> Floats:
    """Return the inverse of `derivative`, (n, n): such waves have no mean."""
    matrix: Floats = np.asarray(np.linalg.inv(derivative(points)), dtype=np.float64)
    matrix.setflags(write=False)
    return matrix


def rms(half: Floats) -> float:
    """Return the root of the mean square of samples (n,)."""
    return float(np.sqrt(np.mean(half**2)))


def both_halves(half: Floats) -> Floats:
    """Return the whole period, (..., 2 n), of samples (..., n)."""
    return np.concatenate([half, -half], axis=-1)


def first_half(period: Floats) -> Floats:
    """Return the first half, (..., n), of a whole period (..., 2 n)."""
    return period[..., : period.shape[-1] // 2]


def vertex(half: Floats) -> float:
    """Return the largest size of samples (n,), by a parabola through the largest."""
    size = np.abs(half)
    at = int(np.argmax(size))
    sign = np.sign(half[at]) or 1.0
    before = sign * (half[at - 1] if at else -half[-1])
    after = sign * (half[at + 1] if at + 1 < half.size else -half[0])
    bend = before - 2 * size[at] + after
    return float(size[at] - (after - before) ** 2 / (8 * bend)) if bend < 0 else float(size[at])


def fundamental(half: Floats) -> complex:
    """Return the r.m.s. phasor of the fundamental of samples (n,); a sine from the first on is real and positive."""
    angle = np.pi * np.arange(half.size) / half.size
    return complex(np.sqrt(2) * 1j * np.mean(half * np.exp(-1j * angle)))
