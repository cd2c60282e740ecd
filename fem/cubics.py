"""Piecewise cubics through points: through given slopes, monotone, or as smooth as can be.

A start that needs these alone does not wait for scipy, which takes as long to load as everything else together; tests
hold each against it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Cubics:
    """Cubics between knots, the outermost going on beyond.

    Parameters
    ----------
    x
        (n,) knots, rising.
    c
        (4, n - 1, ...) of the powers of the distance from the knot before, highest first.
    """

    x: Floats
    c: Floats

    @classmethod
    def hermite(cls, x: Floats, y: Floats, slope: Floats) -> Self:
        """Return the cubics through values and slopes (n, ...) at knots (n,)."""
        h = np.diff(x).reshape(-1, *(1,) * (y.ndim - 1))
        chord = np.diff(y, axis=0) / h
        bend = (slope[:-1] + slope[1:] - 2 * chord) / h
        return cls(x, np.stack([bend / h, (chord - slope[:-1]) / h - bend, slope[:-1], y[:-1]]))

    @classmethod
    def monotone(cls, x: Floats, y: Floats) -> Self:
        """Return cubics that rise and fall with the points, (n,) and (n, ...)."""
        return cls.hermite(x, y, monotone_slopes(x, y.T).T)

    @classmethod
    def smooth(cls, x: Floats, y: Floats) -> Self:
        """Return the twice differentiable cubics through (n, ...) values at (n,) knots, n >= 4.

        Notes
        -----
        With h_k the intervals, m_k their chords, s_k the slopes sought: h_k s_(k-1) + 2 (h_(k-1) + h_k) s_k + h_(k-1)
        s_(k+1) = 3 (h_k m_(k-1) + h_(k-1) m_k); the third derivative does not change at the second knot from either
        end ("not a knot"). C. de Boor, A Practical Guide to Splines (1978), chapter IV.
        """
        n, h = len(x), np.diff(x)
        chord = np.diff(y, axis=0) / h.reshape(-1, *(1,) * (y.ndim - 1))
        matrix, right = np.zeros((n, n)), np.empty(y.shape)
        inner = np.arange(1, n - 1)
        matrix[inner, inner - 1], matrix[inner, inner], matrix[inner, inner + 1] = h[1:], 2 * (h[:-1] + h[1:]), h[:-1]
        right[1:-1] = 3 * ((h[1:] * chord[:-1].T).T + (h[:-1] * chord[1:].T).T)
        for end, one, two in ((0, 0, 1), (-1, -1, -2)):
            both = h[one] + h[two]
            matrix[end, [one, two]] = h[two], both
            right[end] = ((h[one] + 2 * both) * h[two] * chord[one] + h[one] ** 2 * chord[two]) / both
        slope: Floats = np.linalg.solve(matrix, right).astype(np.float64, copy=False)
        return cls.hermite(x, y, slope)

    def __call__(self, x: ArrayLike, derivative: int = 0) -> Floats:
        """Return values, or first derivatives, at any places: their shape, then that of a value."""
        at = np.asarray(x, dtype=np.float64)
        piece = np.minimum(np.maximum(self.x.searchsorted(at, side="right") - 1, 0), self.x.size - 2)
        a, b, c, d = self.c[:, piece]
        t = np.reshape(at - self.x[piece], at.shape + (1,) * (self.c.ndim - 2))
        found: Floats = (3 * a * t + 2 * b) * t + c if derivative else ((a * t + b) * t + c) * t + d
        return found


def monotone_slopes(x: Floats, y: Floats) -> Floats:
    """Return slopes (..., n) at points (..., n), n >= 2, with which a cubic is monotone where they are.

    Complex numbers count by their real parts.

    Notes
    -----
    Inside the weighted harmonic mean of both chords, nothing where they differ in sign: F. N. Fritsch and J. Butland,
    SIAM J. Sci. Stat. Comput. 5 (1984) 300. At the ends the parabola through three points, no steeper than three
    chords and never against its chord (D. Kahaner, C. Moler, S. Nash, Numerical Methods and Software, 1989).
    """
    chord = np.diff(y) / np.diff(x)
    if chord.shape[-1] == 1:
        return np.repeat(chord, 2, axis=-1)
    h = np.broadcast_to(np.diff(x), chord.shape)
    slopes = np.zeros((*chord.shape[:-1], chord.shape[-1] + 1), dtype=chord.dtype)
    alike = chord[..., :-1] * chord[..., 1:] > 0
    before, after, first, second = chord[..., :-1][alike], chord[..., 1:][alike], h[..., :-1][alike], h[..., 1:][alike]
    one, two = 2 * second + first, second + 2 * first
    slopes[..., 1:-1][alike] = 1 / ((one / before + two / after) / (one + two))
    for end, at, beside in ((0, 0, 1), (-1, -1, -2)):
        near, far, wide, next_wide = chord[..., at], chord[..., beside], h[..., at], h[..., beside]
        slope = ((2 * wide + next_wide) * near - wide * far) / (wide + next_wide)
        sign = np.sign(near.real)
        steep = (sign != np.sign(far.real)) & (np.abs(slope) > 3 * np.abs(near))
        slopes[..., end] = np.where(np.sign(slope.real) != sign, 0.0, np.where(steep, 3 * near, slope))
    return slopes
