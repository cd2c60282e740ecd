"""Sparse symmetric positive definite systems of one pattern: analysed once, factored for each set of numbers.

A = L L^T with L lower triangular, rows and columns permuted so that L fills little; a solution is two triangular ones,
L y = b and L^T x = y. The permutation and the places of L's entries follow from A's pattern alone (the symbolic part).

References
----------
T. A. Davis, Direct Methods for Sparse Linear Systems, SIAM 2006, chapters 4 and 7.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from cvxopt import base, cholmod, matrix, spmatrix

from fem.arrays import Floats, Integers

if TYPE_CHECKING:
    from scipy.sparse import csc_matrix

RESIDUAL = 1e-8
"""Largest residual of `solve_in_order` relative to its right-hand side: rounding leaves some 1e-11."""


class NotPositiveDefinite(ArithmeticError):
    """The matrix has no Cholesky factor: a law or a mesh is wrong."""


class Cholesky:
    """CHOLMOD on a fixed lower-triangle pattern.

    CHOLMOD answers wrongly and silently when values do not belong to the analysed pattern, and passes NaN on; so the
    pattern lives here, out of reach, and values are checked.

    Parameters
    ----------
    rows, columns
        Places of the lower triangle's entries (n,), sorted by column, then row; every diagonal entry present.
    size
        Number of unknowns.
    in_order
        Whether unknowns are numbered in the order of elimination; else CHOLMOD looks for one.

    Raises
    ------
    ValueError
        If a place is repeated or out of order.
    """

    def __init__(self, *, rows: Integers, columns: Integers, size: int, in_order: bool = False) -> None:
        self.entries = int(rows.size)
        self.size = size
        self._matrix = spmatrix(1.0, matrix(rows), matrix(columns), (size, size), "d")
        if len(self._matrix) != self.entries or not np.array_equal(np.array(self._matrix.I).ravel(), rows):
            msg = "pattern entries must be unique and sorted by column, then row"
            raise ValueError(msg)
        order = {"p": matrix(np.arange(size))} if in_order else {}
        self._factor = cholmod.symbolic(self._matrix, uplo="L", **order)
        self._factored = False

    def factor(self, values: Floats) -> None:
        """Factor the matrix with these values (entries,).

        Raises
        ------
        NotPositiveDefinite
            If it is not positive definite or not finite.
        """
        if values.shape != (self.entries,) or not np.all(np.isfinite(values)):
            msg = f"expected {self.entries} finite matrix values, got shape {values.shape}"
            raise NotPositiveDefinite(msg)
        self._matrix.V = matrix(values)
        try:
            cholmod.numeric(self._matrix, self._factor)
        except ArithmeticError as error:
            msg = f"the matrix of {self.size} unknowns is not positive definite"
            raise NotPositiveDefinite(msg) from error
        self._factored = True

    def solve(self, rhs: Floats) -> Floats:
        """Solve for one right-hand side (size,) or several (size, n) with the numbers last factored."""
        x = matrix(np.asfortranarray(rhs))
        cholmod.solve(self._factor, x)
        return np.array(x).reshape(rhs.shape)

    def multiply(self, x: Floats) -> Floats:
        """Return the product of the matrix last factored with a vector (size,): to check a solution's residual."""
        if not self._factored:
            msg = "nothing has been factored yet"
            raise RuntimeError(msg)
        y = matrix(0.0, (self.size, 1))
        base.symv(self._matrix, matrix(x), y)
        return np.array(y).ravel()


class Lower:
    """A lower triangle by columns, as scipy's `csc_matrix` has it: enough to be solved with.

    Parameters
    ----------
    values, rows, columns
        (n,) entries; those of one place are summed up.
    size
        Of rows and columns.
    """

    def __init__(self, values: Floats, rows: Integers, columns: Integers, size: int) -> None:
        places, which = np.unique(columns * size + rows, return_inverse=True)
        self.data: Floats = np.bincount(which, weights=values).astype(np.float64, copy=False)
        self.indices, self.shape, self.nnz = places % size, (size, size), places.size
        self.indptr = np.searchsorted(places, np.arange(size + 1) * size)


def solve_in_order(systems: Sequence[csc_matrix | Lower], rights: Sequence[Floats]) -> list[Floats]:
    """Solve systems of one pattern whose unknowns are numbered in the order of elimination.

    Parameters
    ----------
    systems
        Lower triangles (size, size); each factor overwrites the one before.
    rights
        A right-hand side for each (size,).

    Returns
    -------
    A solution for each (size,).

    Raises
    ------
    ArithmeticError
        If patterns differ, a matrix is not positive definite or a residual is not small.
    """
    first, solutions = systems[0], []
    size = first.shape[0]
    columns = np.repeat(np.arange(size), np.diff(first.indptr))
    factor = Cholesky(rows=first.indices.astype(np.int64), columns=columns, size=size, in_order=True)
    for lower, right in zip(systems, rights, strict=True):
        # A changed pattern would be factored wrongly without a word.
        if not (np.array_equal(lower.indptr, first.indptr) and np.array_equal(lower.indices, first.indices)):
            msg = f"a matrix of {lower.nnz} entries does not have the analysed pattern"
            raise ArithmeticError(msg)
        factor.factor(lower.data)
        solution = factor.solve(right)
        relative = float(np.abs(factor.multiply(solution) - right).max() / np.abs(right).max())
        if not relative < RESIDUAL:
            msg = f"linear solve left a relative residual of {relative:.1e}"
            raise ArithmeticError(msg)
        solutions.append(solution)
    return solutions
