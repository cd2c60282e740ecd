"""Waves whose second half period is the first one upside down, sampled at equal steps of the first."""

from functools import cache

import numpy as np

from fem.arrays import Floats


@cache
def derivative(points: int) -> Floats:
    """Return the matrix of d/d(angle) on odd harmonics sampled at `points` equal steps of half a period."""
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
    """Return the inverse of `derivative`: such waves have no mean; `points` even."""
    matrix: Floats = np.asarray(np.linalg.inv(derivative(points)), dtype=np.float64)
    matrix.setflags(write=False)
    return matrix


def rms(half: Floats) -> float:
    """Return the root of the mean square."""
    return float(np.sqrt(np.mean(half**2)))


def both_halves(half: Floats) -> Floats:
    """Return the whole period."""
    return np.concatenate([half, -half])


def vertex(half: Floats) -> float:
    """Return the largest size, by a parabola through the largest sample."""
    size = np.abs(half)
    at = int(np.argmax(size))
    sign = np.sign(half[at]) or 1.0
    before = sign * (half[at - 1] if at else -half[-1])
    after = sign * (half[at + 1] if at + 1 < half.size else -half[0])
    bend = before - 2 * size[at] + after
    return float(size[at] - (after - before) ** 2 / (8 * bend)) if bend < 0 else float(size[at])


def fundamental(half: Floats) -> complex:
    """Return the r.m.s. phasor of the fundamental; a sine from the first sample on is real and positive."""
    angle = np.pi * np.arange(half.size) / half.size
    return complex(np.sqrt(2) * 1j * np.mean(half * np.exp(-1j * angle)))
