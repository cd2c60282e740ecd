"""The quadratic brick on the unit cube: shape functions and the tensors its matrices are made of.

On a tensor grid a cell's map only stretches, x = x_0 + dx xi, so that

    int mu grad N_i . grad N_k dV = mu (dy dz/dx K^x_ik + dx dz/dy K^y_ik + dx dy/dz K^z_ik)

with K^x = int dN_i/dxi dN_k/dxi over the unit cube and likewise K^y, K^z: three constant matrices for all cells. The
20-node (serendipity) brick keeps the full quadratic polynomials with half the unknowns of the 27-node one; its
functions are combinations of the 27 products of quadratics: every integral is a product of one-dimensional ones.

References
----------
O. C. Zienkiewicz and R. L. Taylor, The Finite Element Method, vol. 1, serendipity elements (from memory).
"""

from typing import Final

import numpy as np

from fem.arrays import Floats, Integers


def gauss(points: int) -> tuple[Floats, Floats]:
    """Return abscissae and weights (points,) of Gauss's rule on [0, 1], exact to degree 2 points - 1."""
    abscissae, weights = np.polynomial.legendre.leggauss(points)
    return (abscissae + 1) / 2, weights / 2


def quadratic(t: Floats) -> Floats:
    """Return the three quadratic shape functions on [0, 1] (3, points), of the nodes 0, 1/2 and 1."""
    return np.stack([(1 - t) * (1 - 2 * t), 4 * t * (1 - t), t * (2 * t - 1)])


def quadratic_slope(t: Floats) -> Floats:
    """Return their derivatives (3, points)."""
    return np.stack([4 * t - 3, 4 - 8 * t, 4 * t - 1])


GAUSS, GAUSS_WEIGHTS = gauss(3)
"""Exact for the product of two quadratics."""


def _brick() -> tuple[Integers, Floats, Floats]:
    slope, values = quadratic_slope(GAUSS), quadratic(GAUSS)
    mass, stiffness = (values * GAUSS_WEIGHTS) @ values.T, (slope * GAUSS_WEIGHTS) @ slope.T
    lattice = np.stack(np.meshgrid(*[np.arange(3)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    nodes = lattice[(lattice == 1).sum(axis=1) <= 1]
    at = (lattice - 1).astype(np.float64)
    functions = np.empty((27, 20))
    for column, corner in enumerate(nodes - 1):
        product = np.where(corner == 0, 1 - at**2, 1 + corner * at).prod(axis=1)
        functions[:, column] = product / 4 if (corner == 0).any() else product * (at @ corner - 2) / 8
    tensors = []
    for direction in range(3):
        factors = [stiffness if axis == direction else mass for axis in range(3)]
        full = np.einsum("il,jm,kn->ijklmn", *factors).reshape(27, 27)
        tensors.append(functions.T @ full @ functions)
    return nodes, functions, np.stack(tensors)


_TABLES: Final = _brick()

NODES: Final = _TABLES[0]
"""Places of the nodes in the cell's 3 x 3 x 3 lattice (20, 3): its corners and the middles of its edges."""

FUNCTIONS: Final = _TABLES[1]
"""The 20 functions in the 27 products of quadratics (27, 20): their values at the lattice."""

STIFFNESS: Final = _TABLES[2]
"""K^x, K^y and K^z (3, 20, 20)."""
