"""Second- and third-order shape functions on straight tetrahedra, and where they are integrated."""

from itertools import combinations

import numpy as np
from ngsolve import TET, IntegrationRule
from numpy.typing import NDArray

Floats = NDArray[np.float64]
EDGES = tuple(combinations(range(4), 2))
FACES = tuple(combinations(range(4), 3))


def rule(order: int) -> tuple[Floats, Floats]:
    """Return barycentric coordinates (points, 4) and weights that sum to 1 of a rule exact to `order`."""
    points = IntegrationRule(TET, order)
    at = np.array([list(p) for p in points.points])
    weights = np.array(points.weights)
    return np.column_stack([1 - at.sum(axis=1), at]), weights / weights.sum()


def slopes(at: Floats, order: int) -> Floats:
    """Return derivatives of the shape functions by each barycentric coordinate, (points, functions, 4).

    Corners, edges l_i l_j and, of third order, l_i l_j (l_i - l_j) and faces l_i l_j l_k; corners of all elements are
    sorted by number, so that neighbours agree on signs.
    """
    found = []
    one, none = np.ones(len(at)), np.zeros(len(at))
    for i in range(4):
        found.append([one if k == i else none for k in range(4)])
    for i, j in EDGES:
        found.append([at[:, j] if k == i else at[:, i] if k == j else none for k in range(4)])
    if order == 3:
        for i, j in EDGES:
            a, b = at[:, i], at[:, j]
            found.append([2 * a * b - b**2 if k == i else a**2 - 2 * a * b if k == j else none for k in range(4)])
        for face in FACES:
            found.append([np.prod([at[:, m] for m in face if m != k], axis=0) if k in face else none for k in range(4)])
    return np.transpose(np.array(found), (2, 0, 1))
