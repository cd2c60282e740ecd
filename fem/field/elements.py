"""The quadratic triangle on the reference element: shape functions, quadrature and the tensors assembly is made of.

With straight sides an element's map is affine, so the element matrix of `int D grad u . grad v` is a constant
tensor times the few numbers that D and the map contribute at each quadrature point. The tensors are built here once
from scikit-fem's own element and quadrature.
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
