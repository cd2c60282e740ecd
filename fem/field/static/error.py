"""The discretisation error of a field quantity, from the difference between a mesh and its refinement.

Two nested spaces, one hierarchy: if refinement divides a quantity's error by c, the finer mesh keeps 1 / (c - 1) of the
difference between the two. Energy, and flux linkage, which is its derivative, err by h^4 where the field is smooth
(quadratic elements, c = 2^4), but by h^(4/3) in the elements that touch a re-entrant iron corner, where the field goes
as r^(-1/3) (c = 2^(4/3)). So the difference d of the two solutions tells the error that is left once it is known where
d's energy sits:

    error = |q_fine - q_coarse| * sum_e w_e k_e / sum_e w_e,   w_e = int nu |grad d|^2 over element e

with k = 1/(2^(4/3) - 1) = 0.66 in elements at corners and 1/4 elsewhere.

References
----------
R. E. Bank and R. K. Smith, SIAM J. Numer. Anal. 30 (1993) 921: hierarchical bases. G. Strang and G. J. Fix, An Analysis
of the Finite Element Method, Prentice-Hall 1973, chapter 8: singularities.
"""

from __future__ import annotations

import numpy as np

from fem.arrays import Floats, Integers
from fem.field.elements import QUADRATURE
from fem.field.static.model import SolvedField
from geometries.shapes.section import GRID, Role

_AT_CORNER = 1 / (2 ** (4 / 3) - 1)
_SMOOTH = 1 / 4
"""Between second and third order rather than the fourth of smooth fields: coarse meshes and the kink of a saturating
law have not reached it (measured in tests/physics/test_field_error.py)."""


def remaining_share(solved: SolvedField) -> float:
    """Return which share of the difference between the two meshes is still in error on the finer one [-]."""
    grid = solved.model.fine
    difference = solved.fine.A - solved.model.refine(solved.coarse.A)
    _, _, squared = grid.problem.reference_gradient(difference)
    _, _, b2 = grid.problem.reference_gradient(solved.fine.A)
    nu, _ = grid.problem.reluctivity(b2)
    weight = (QUADRATURE[1] @ (nu * squared)) * grid.problem.geometry.determinant
    total = float(weight.sum())
    if total == 0:
        return _SMOOTH
    at_corner = float(weight[_corner_elements(solved)].sum())
    return (at_corner * _AT_CORNER + (total - at_corner) * _SMOOTH) / total


def relative_error(coarse: float | Floats, fine: float | Floats, share: float | Floats) -> Floats:
    """Return the estimated relative discretisation error of a quantity read on both meshes.

    Parameters
    ----------
    coarse, fine
        The quantity on the two meshes.
    share
        From `remaining_share`.
    """
    c, f = np.asarray(coarse, dtype=np.float64), np.asarray(fine, dtype=np.float64)
    return np.abs(f - c) * share / np.maximum(np.abs(f), np.finfo(float).tiny)


def _corner_elements(solved: SolvedField) -> Integers:
    """Return the fine elements whose coarse parent touches a corner of iron."""
    mesh = solved.model.mesh
    corners = {
        (round(x / GRID), round(y / GRID))
        for r in mesh.section.regions
        if r.role in (Role.IRON, Role.JOINT, Role.SHUNT)
        for x in (r.x0, r.x1)
        for y in (r.y0, r.y1)
    }
    keys = np.round(mesh.points / GRID).astype(np.int64)
    singular = np.array([(x, y) in corners for x, y in keys.T])
    touched = np.flatnonzero(singular[mesh.triangles].any(axis=0))
    return np.concatenate([touched + k * mesh.triangles.shape[1] for k in range(4)])
