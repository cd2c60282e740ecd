"""The quadratic triangle's mass matrix on the reference element."""

from typing import Final

import numpy as np
from numpy.typing import NDArray
from skfem.quadrature import get_quadrature
from skfem.refdom import RefTri

from fem.field.elements import LOWER, shape_values

_POINTS, _WEIGHTS = get_quadrature(RefTri, 4)  # exact for the product of two quadratics
_SHAPES = shape_values(_POINTS)

MASS: Final[NDArray[np.float64]] = (_SHAPES * _WEIGHTS) @ _SHAPES.T
"""Integrals of products of two shape functions over the reference triangle (6, 6)."""

MASS_LOWER: Final[NDArray[np.float64]] = MASS[LOWER]
"""Its 21 distinct entries."""
