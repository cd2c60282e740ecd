"""The quadratic triangle on the reference element: shape functions, quadrature and the tensors assembly is made of.

Reference triangle: corners (0, 0), (1, 0), (0, 1), area 1/2. With the barycentric coordinates l_1 = 1 - xi - eta,
l_2 = xi, l_3 = eta the six shape functions are l_i (2 l_i - 1) at corners and 4 l_i l_j at the middles of sides: 1 at
their own node, 0 at the others, together all quadratic polynomials. On straight sides the map x = x_1 + T xi is affine,
so grad = T^-T grad^ (grad^ in reference coordinates) and

    int D grad u . grad v dA = sum_q w_q |det T| grad^ u . (T^-1 D T^-T) . grad^ v:

a constant tensor times the three numbers that the symmetric 2 x 2 tensor in brackets has at each quadrature point.
Three points, exact to degree 2, integrate the linear case exactly, as gradients are linear.

References
----------
P. P. Silvester and R. L. Ferrari, Finite Elements for Electrical Engineers, Cambridge 1996, on triangular elements.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from fem.arrays import Floats, Integers

_SIDES: Final = ((0, 1), (1, 2), (0, 2))
"""Corners at the ends of the sides whose middles are the last three nodes."""
_CORNERS: Final[Floats] = np.array([[-1.0, -1.0], [1.0, 0.0], [0.0, 1.0]])
"""Gradients of the barycentric coordinates (3, 2)."""

QUADRATURE: Final[tuple[Floats, Floats]] = (np.array([[1, 4, 1], [1, 1, 4]]) / 6, np.full(3, 1 / 6))
"""Points (2, 3) and weights (3,): exact for the square of a linear field, so for linear iron."""

POINTS: Final[int] = QUADRATURE[1].size

LOWER: Final[tuple[Integers, Integers]] = np.tril_indices(6)
"""Row and column of the 21 distinct entries of a symmetric 6 x 6 element matrix."""

NODES: Final[Floats] = np.array([[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]])
"""Reference coordinates of the six nodes (6, 2): three corners, then the midpoints scikit-fem numbers with them."""


def shape_values(points: Floats) -> Floats:
    """Evaluate the six shape functions at reference points (2, n); returns (6, n)."""
    at = _barycentric(points)
    return np.array([*(one * (2 * one - 1) for one in at), *(4 * at[i] * at[j] for i, j in _SIDES)])


def shape_gradients(points: Floats) -> Floats:
    """Evaluate the six reference gradients at reference points (2, n); returns (6, 2, n)."""
    at, by = _barycentric(points)[:, None], _CORNERS[:, :, None]
    corners, sides = (4 * at - 1) * by, [4 * (at[i] * by[j] + at[j] * by[i]) for i, j in _SIDES]
    return np.array([*corners, *sides])


def _barycentric(points: Floats) -> Floats:
    return np.array([1 - points[0] - points[1], points[0], points[1]])


GRADIENTS: Final[Floats] = shape_gradients(QUADRATURE[0])
"""Reference gradients at the quadrature points (6 shape functions, 2 directions, 3 points)."""


def _stiffness_tensor() -> Floats:
    """Return (3 points x 3 components, 21): weights times products of gradients, for a symmetric 2 x 2 D per point."""
    g, w = GRADIENTS, QUADRATURE[1]
    row, col = LOWER
    xx = g[row, 0] * g[col, 0]
    yy = g[row, 1] * g[col, 1]
    xy = g[row, 0] * g[col, 1] + g[row, 1] * g[col, 0]
    per_point = np.stack([xx, xy, yy], axis=-1) * w[:, None]  # (21, points, 3)
    return np.ascontiguousarray(per_point.reshape(21, -1).T)


STIFFNESS: Final[Floats] = _stiffness_tensor()
"""Maps the components (xx, xy, yy) of the mapped tensor at each point to the 21 entries (9, 21)."""

SHAPE_INTEGRALS: Final[Floats] = shape_values(QUADRATURE[0]) @ QUADRATURE[1]
"""Integral of each shape function over the reference triangle (6,): 0 at corners, 1/6 at midpoints."""


def _mass_matrix() -> Floats:
    # Gauss's three points either way, the triangle as a square with one side drawn together: exact to degree 4.
    at, weight = np.polynomial.legendre.leggauss(3)
    u, v = (part.ravel() for part in np.meshgrid((1 + at) / 2, (1 + at) / 2, indexing="ij"))
    shapes = shape_values(np.array([u, v * (1 - u)]))
    return np.asarray((shapes * (np.outer(weight, weight).ravel() / 4 * (1 - u))) @ shapes.T)


MASS: Final[Floats] = _mass_matrix()
"""Integrals of products of two shape functions over the reference triangle (6, 6)."""

MASS_LOWER: Final[Floats] = MASS[LOWER]
"""Its 21 distinct entries."""
