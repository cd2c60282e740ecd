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
        """Return cubics that rise and fall with the points, (n,) each."""
        return cls.hermite(x, y, monotone_slopes(x, y))

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
    """Return slopes (n,) at points (n,), n >= 2, with which a cubic is monotone where they are (by their real parts).

    Notes
    -----
    Inside the weighted harmonic mean of both chords, nothing where they differ in sign: F. N. Fritsch and J. Butland,
    SIAM J. Sci. Stat. Comput. 5 (1984) 300. At the ends the parabola through three points, no steeper than three
    chords and never against its chord (D. Kahaner, C. Moler, S. Nash, Numerical Methods and Software, 1989).
    """
    h = np.diff(x)
    chord = np.diff(y) / h
    if chord.size == 1:
        return np.repeat(chord, 2)
    slopes = np.zeros(len(x), dtype=chord.dtype)
    alike = np.flatnonzero(chord[:-1] * chord[1:] > 0)
    before, after = chord[alike], chord[alike + 1]
    one, two = 2 * h[alike + 1] + h[alike], h[alike + 1] + 2 * h[alike]
    slopes[alike + 1] = 1 / ((one / before + two / after) / (one + two))
    for end, first, second in ((0, 0, 1), (-1, -1, -2)):
        slope = ((2 * h[first] + h[second]) * chord[first] - h[first] * chord[second]) / (h[first] + h[second])
        if np.sign(slope.real) != np.sign(chord[first].real):
            slope = 0.0
        elif np.sign(chord[first].real) != np.sign(chord[second].real) and abs(slope) > 3 * abs(chord[first]):
            slope = 3 * chord[first]
        slopes[end] = slope
    return slopes
