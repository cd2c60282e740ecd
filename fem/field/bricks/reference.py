"""The quadratic brick on the unit cube: shape functions and the tensors its matrices are made of.

On a tensor grid a cell's map only stretches, x = x_0 + dx xi, so that

    int mu grad N_i . grad N_k dV = mu (dy dz/dx K^x_ik + dx dz/dy K^y_ik + dx dy/dz K^z_ik)

with K^x = int dN_i/dxi dN_k/dxi over the unit cube and likewise K^y, K^z: three constant matrices for all cells. The
20-node (serendipity) brick keeps the full quadratic polynomials with half the unknowns of the 27-node one; its
functions are combinations of the 27 products of quadratics: every integral is a product of one-dimensional ones.

A cell that reaches to infinity along an axis maps x = x_0 + L xi / (1 - xi): its functions, 0 at xi = 1, are
combinations of 1/r and 1/r^2 with r = x - x_0 + L, and with L for dx its integrals have the same form, of polynomials:

    K from dN_i/dxi dN_k/dxi (1 - xi)^2,    M from N_i N_k / (1 - xi)^2.

References
----------
O. C. Zienkiewicz and R. L. Taylor, The Finite Element Method, vol. 1, serendipity elements, mapped infinite elements
(from memory).
"""

from functools import cache
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


def _along(reach: int) -> tuple[Floats, Floats]:
    """Return the 1-D stiffness and mass (3, 3) of a finite cell (0) or of one that goes on for ever below or above."""
    slope, values = quadratic_slope(GAUSS), quadratic(GAUSS)
    if reach:
        # What is 0 at infinity has 1 - xi for a factor; what is not has no unknown.
        slope = slope * (1 - GAUSS)
        values = np.stack([1 - 2 * GAUSS, 4 * GAUSS, np.zeros_like(GAUSS)])
    mass, stiffness = (values * GAUSS_WEIGHTS) @ values.T, (slope * GAUSS_WEIGHTS) @ slope.T
    order = slice(None, None, -1 if reach < 0 else 1)
    return stiffness[order, order], mass[order, order]


def _brick() -> tuple[Integers, Floats]:
    lattice = np.stack(np.meshgrid(*[np.arange(3)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    nodes = lattice[(lattice == 1).sum(axis=1) <= 1]
    at = (lattice - 1).astype(np.float64)
    functions = np.empty((27, 20))
    for column, corner in enumerate(nodes - 1):
        product = np.where(corner == 0, 1 - at**2, 1 + corner * at).prod(axis=1)
        functions[:, column] = product / 4 if (corner == 0).any() else product * (at @ corner - 2) / 8
    return nodes, functions


_TABLES: Final = _brick()

NODES: Final = _TABLES[0]
"""Places of the nodes in the cell's 3 x 3 x 3 lattice (20, 3): its corners and the middles of its edges."""

FUNCTIONS: Final = _TABLES[1]
"""The 20 functions in the 27 products of quadratics (27, 20): their values at the lattice."""


@cache
def stiffness_tensors(reach: tuple[int, int, int]) -> Floats:
    """Return K^x, K^y and K^z (3, 20, 20) of a cell.

    Parameters
    ----------
    reach
        Along each axis 0, or -1 or 1 where it goes on for ever below or above [-].
    """
    tensors = []
    for direction in range(3):
        factors = [_along(reach[axis])[0 if axis == direction else 1] for axis in range(3)]
        full = np.einsum("il,jm,kn->ijklmn", *factors).reshape(27, 27)
        tensors.append(FUNCTIONS.T @ full @ FUNCTIONS)
    return np.stack(tensors)


def gradients(points: int) -> tuple[Floats, Floats]:
    """Return the 20 functions' derivatives at Gauss's points in a cube (points^3, 3, 20), and their weights."""
    t, w = gauss(points)
    values, slope = quadratic(t), quadratic_slope(t)
    found = []
    for direction in range(3):
        factors = [slope if axis == direction else values for axis in range(3)]
        full = np.einsum("ip,jq,kr->pqrijk", *factors).reshape(-1, 27)
        found.append(full @ FUNCTIONS)
    return np.stack(found, axis=1), np.einsum("p,q,r->pqr", w, w, w).ravel()
