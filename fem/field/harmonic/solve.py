"""The solution of curl (nu curl A) + j omega sigma A = sigma e with a given current in every conductor.

Weak form: A in V (complex) and one drop e_k per solid conductor with, for all v in V and all k,

    int nu grad A . grad v + j omega int sigma A v = sum_k e_k int_k sigma v + int J_stranded v,
    i_k = e_k int_k sigma - j omega int_k sigma A.

With S and M the matrices of the left side, the columns of C the integrals of sigma times the shape functions over each
solid conductor, G the diagonal of their conductances int_k sigma [S m], and s the loads of stranded conductors per
ampere, this is a system bordered by the solid ones' drops,

    | S + j omega M    -C |  | A |     | s i_stranded |
    | -j omega C^T      G |  | e |  =  | i_solid      |,

solved by its Schur complement. With X = (S + j omega M)^-1 [C, s], the columns found once with one factor,

    (G - j omega C^T X_C) e = i_solid + j omega C^T X_s i_stranded,
    u_solid = e,    u_stranded = j omega s^T A + R i_stranded,    A = X [e; i_stranded],

R the resistance of evenly spread current. The drops u per ampere of all conductors are the impedance matrix per metre:
symmetric, as S and M are. The sparse matrix is complex symmetric with a positive definite real part, so that no pivot
of an LU factorisation without exchange of rows can vanish.

References
----------
N. J. Higham, Accuracy and Stability of Numerical Algorithms, SIAM 2002, chapter 10: such matrices without pivoting.
A. Konrad, IEEE Trans. Magn. 18 (1982) 284: integrodifferential form with given currents.
"""

from __future__ import annotations

from math import ceil, pi, sqrt
from typing import TYPE_CHECKING

import numpy as np

from fem.arrays import Complexes, Floats, Integers, positive
from fem.errors import NotConverged
from fem.field.elements import LOWER, MASS_LOWER, POINTS, SHAPE_INTEGRALS, STIFFNESS
from fem.field.harmonic.problem import HarmonicProblem, HarmonicResponse, skin_depth
from fem.field.static.problem import winding_source
from fem.field.static.space import Space
from fem.threads import hold_fields

if TYPE_CHECKING:
    from scipy.sparse import csc_array

RESIDUAL = 1e-12
"""Largest residual of the linear system relative to its terms: rounding leaves some 1e-16."""

AT_ONCE = 16
"""Columns solved in one go; no more of them are in memory at a time."""

COARSEST = 1.0
"""Largest side of an element in a solid conductor, in skin depths: quadratic elements still follow exp(-x)."""


def respond(problem: HarmonicProblem, frequency: float) -> HarmonicResponse:
    """Solve for the field of each conductor.

    Parameters
    ----------
    problem
        Mesh, materials and conductors.
    frequency
        [Hz].

    Raises
    ------
    ValueError
        If the frequency is not positive or the mesh is too coarse for the skin depth in a solid conductor.
    NotConverged
        If the linear system is not solved to its tolerance.
    """
    positive(frequency=frequency)
    _check_resolution(problem, frequency)
    omega, system = 2 * pi * frequency, _System(problem, frequency)
    sources, conductances = _sources(problem)
    n, solids = len(problem.names), len(problem.solid)
    coupling = np.empty((n, n), dtype=np.complex128)  # sources^T X
    for columns in np.array_split(np.arange(n), ceil(n / AT_ONCE)):
        found = system.solve(sources[:, columns].toarray().astype(np.complex128))
        coupling[:, columns] = np.asarray(sources.T @ found)
    admittance = np.diag(conductances) - 1j * omega * coupling[:solids, :solids]
    by_current = np.hstack([np.eye(solids), 1j * omega * coupling[:solids, solids:]])
    drops = np.linalg.solve(admittance, by_current).astype(np.complex128, copy=False)
    weights = np.vstack([drops, np.eye(n)[solids:]])
    impedance = np.vstack([drops, 1j * omega * coupling[solids:] @ weights])
    impedance[range(solids, n), range(solids, n)] += _stranded_resistances(problem)
    return HarmonicResponse(
        problem=problem,
        frequency=frequency,
        impedance_per_m=problem.copies * impedance,
        drops=drops,
        potential=lambda currents: system.solve(np.asarray(sources @ (weights @ currents))),
    )


class _System:
    """S + j omega M, factored."""

    def __init__(self, problem: HarmonicProblem, frequency: float) -> None:
        hold_fields()  # before scipy's first factor
        from scipy.sparse.linalg import splu

        self._space = problem.space
        self._matrix = _matrix(problem, 2 * pi * frequency)
        self._sizes = abs(self._matrix)
        self._factor = splu(
            self._matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True}
        )

    def solve(self, right: Complexes) -> Complexes:
        """Return the vector potential of sources (size,) or (size, k); 0 at fixed nodes.

        Raises
        ------
        NotConverged
            If the residual is too large against its terms.
        """
        free = self._space.free
        A = np.zeros_like(right)
        A[free] = X = self._factor.solve(right[free])
        left, terms = np.asarray(self._matrix @ X), np.asarray(self._sizes @ abs(X))
        scale = float(np.linalg.norm(terms + abs(right[free])))
        residual = float(np.linalg.norm(left - right[free])) / scale if scale else 0.0
        if not residual < RESIDUAL:
            what = f"harmonic field of {free.size} unknowns"
            raise NotConverged(what, residual=residual, tolerance=RESIDUAL, tried="one factorisation")
        return A


def _sources(problem: HarmonicProblem) -> tuple[csc_array, Floats]:
    """Return the vectors c of solid and s of stranded conductors (size, n), and the solid ones' G (solid,) [S m]."""
    from scipy.sparse import csc_array, hstack

    space, geometry = problem.space, problem.geometry
    columns, conductances = [], []
    for conductor in problem.solid.values():
        weight = np.zeros(space.elements)
        weight[conductor.elements] = conductor.conductivity * geometry.determinant[conductor.elements]
        columns.append(csc_array(space.node_sum(SHAPE_INTEGRALS[:, None] * weight)[:, None]))
        conductances.append(0.5 * float(weight.sum()))
    columns += [csc_array(winding_source(space, geometry, list(c.parts))[:, None]) for c in problem.stranded.values()]
    return csc_array(hstack(columns)), np.array(conductances)


def _stranded_resistances(problem: HarmonicProblem) -> Floats:
    """Return the resistance per metre of the stranded conductors' blocks in the mesh (stranded,) [ohm/m]."""
    det = problem.geometry.determinant
    return np.array(
        [
            sum(1 / (c.conductivity * 0.5 * float(det[elements].sum())) for elements, _ in c.parts)
            for c in problem.stranded.values()
        ]
    )


def _matrix(problem: HarmonicProblem, omega: float) -> csc_array:
    """Return S + j omega M at the free nodes."""
    from scipy.sparse import csc_array

    space, geometry = problem.space, problem.geometry
    mapped = np.tile(geometry.metric * (problem.reluctivity * geometry.determinant), (POINTS, 1))
    weight = np.zeros(space.elements)
    for conductor in problem.solid.values():
        weight[conductor.elements] = omega * conductor.conductivity * geometry.determinant[conductor.elements]
    values = space.matrix_values(STIFFNESS.T @ mapped) + 1j * space.matrix_values(MASS_LOWER[:, None] * weight)
    row, column = _pattern(space)
    off = row != column
    return csc_array(
        (
            np.concatenate([values, values[off]]),
            (np.concatenate([row, column[off]]), np.concatenate([column, row[off]])),
        ),
        shape=(space.free.size, space.free.size),
    )


def _pattern(space: Space) -> tuple[Integers, Integers]:
    """Return row and column of each entry of the lower triangle's value array."""
    number = np.zeros(space.size, dtype=np.int64)  # entries that touch a fixed node land in the extra place
    number[space.free] = np.arange(space.free.size)
    a, b = number[space.element_dofs[LOWER[0]]].ravel(), number[space.element_dofs[LOWER[1]]].ravel()
    row, column = np.zeros((2, space.factor.entries + 1), dtype=np.int64)
    row[space.slot], column[space.slot] = np.maximum(a, b), np.minimum(a, b)
    return row[:-1], column[:-1]


def _check_resolution(problem: HarmonicProblem, frequency: float) -> None:
    for name, conductor in problem.solid.items():
        depth = skin_depth(conductor.conductivity, frequency)
        # The side of an equilateral triangle of the same area.
        side = sqrt(2 / sqrt(3) * float(problem.geometry.determinant[conductor.elements].max()))
        if side > COARSEST * depth:
            msg = (
                f"{name}: elements of {side * 1e3:.3g} mm cannot follow a skin depth of {depth * 1e3:.3g} mm "
                f"at {frequency:g} Hz"
            )
            raise ValueError(msg)
