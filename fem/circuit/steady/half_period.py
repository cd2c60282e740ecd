"""Waves whose second half period is the first one upside down, sampled at equal steps of the first.

Such a wave is a sum of odd harmonics: n samples at the angles x_j = pi j/n fix those of the orders 1, 3 ... n - 1. All
that acts along the last axis takes leading ones.
"""

from functools import cache
from typing import Any

import numpy as np

from fem.arrays import Complexes, Floats, Integers, of_each


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


@cache
def orders(points: int) -> Integers:
    """Return the orders that n samples fix, (n/2,)."""
    return np.arange(1, points, 2)


def modes(half: Floats) -> Complexes:
    """Return the complex amplitudes of the orders 1, 3 ... n - 1, (..., n/2), of samples (..., n)."""
    return np.asarray(np.fft.rfft(both_halves(half))[..., 1::2])


def samples(amplitudes: Complexes) -> Floats:
    """Return the samples (..., n) of what `modes` makes of them, (..., n/2)."""
    points = 2 * amplitudes.shape[-1]
    spectrum = np.zeros((*amplitudes.shape[:-1], points + 1), dtype=np.complex128)
    spectrum[..., 1::2] = amplitudes
    return first_half(np.fft.irfft(spectrum, 2 * points))


def rms(half: Floats) -> Any:
    """Return the root of the mean square, (...,), of samples (..., n)."""
    return of_each(np.sqrt(np.mean(half**2, axis=-1)))


def both_halves(half: Floats) -> Floats:
    """Return the whole period, (..., 2 n), of samples (..., n)."""
    return np.concatenate([half, -half], axis=-1)


def first_half(period: Floats) -> Floats:
    """Return the first half, (..., n), of a whole period (..., 2 n)."""
    return period[..., : period.shape[-1] // 2]


def vertex(half: Floats) -> Any:
    """Return the largest size, (...,), of samples (..., n), by a parabola through the largest."""
    at = np.abs(half).argmax(axis=-1)[..., None]
    around = np.concatenate([-half[..., -1:], half, -half[..., :1]], axis=-1)
    before, middle, after = np.moveaxis(np.take_along_axis(around, at + np.arange(3), axis=-1), -1, 0)
    sign = np.where(middle < 0, -1.0, 1.0)
    before, size, after = sign * before, np.abs(middle), sign * after
    bend = before - 2 * size + after
    bent = bend < 0
    return of_each(size - np.where(bent, (after - before) ** 2 / np.where(bent, 8 * bend, 1.0), 0.0))


def fundamental(half: Floats) -> Any:
    """Return the r.m.s. phasor of the fundamental, (...,), of samples (..., n); a sine is real and positive."""
    angle = np.pi * np.arange(half.shape[-1]) / half.shape[-1]
    return of_each(np.sqrt(2) * 1j * np.mean(half * np.exp(-1j * angle), axis=-1))
