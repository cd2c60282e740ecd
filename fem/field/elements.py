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
from skfem import ElementTriP2
from skfem.quadrature import get_quadrature

from fem.arrays import Floats, Integers

_ELEMENT = ElementTriP2()

QUADRATURE: Final[tuple[Floats, Floats]] = get_quadrature(_ELEMENT, 2)
"""Points (2, 3) and weights (3,): exact for the square of a linear field, so for linear iron."""

POINTS: Final[int] = QUADRATURE[1].size

LOWER: Final[tuple[Integers, Integers]] = np.tril_indices(6)
"""Row and column of the 21 distinct entries of a symmetric 6 x 6 element matrix."""

NODES: Final[Floats] = np.array(_ELEMENT.doflocs, dtype=np.float64)
"""Reference coordinates of the six nodes (6, 2): three corners, then the midpoints scikit-fem numbers with them."""


def shape_values(points: Floats) -> Floats:
    """Evaluate the six shape functions at reference points (2, n); returns (6, n)."""
    return np.array([_ELEMENT.lbasis(points, i)[0] * np.ones(points.shape[1]) for i in range(6)])


def shape_gradients(points: Floats) -> Floats:
    """Evaluate the six reference gradients at reference points (2, n); returns (6, 2, n)."""
    return np.array([np.broadcast_to(_ELEMENT.lbasis(points, i)[1], points.shape) for i in range(6)])


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
    points, weights = get_quadrature(_ELEMENT, 4)  # exact for the product of two quadratics
    shapes = shape_values(points)
    return np.asarray((shapes * weights) @ shapes.T)


MASS: Final[Floats] = _mass_matrix()
"""Integrals of products of two shape functions over the reference triangle (6, 6)."""

MASS_LOWER: Final[Floats] = MASS[LOWER]
"""Its 21 distinct entries."""
