"""Sparse symmetric positive definite systems of one pattern: analysed once, factored for each set of numbers."""

from __future__ import annotations

import numpy as np
from cvxopt import cholmod, matrix, spmatrix
from numpy.typing import NDArray


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
    """

    def __init__(self, *, rows: NDArray[np.int64], columns: NDArray[np.int64], size: int) -> None:
        self.entries = int(rows.size)
        self.size = size
        self._matrix = spmatrix(1.0, matrix(rows), matrix(columns), (size, size), "d")
        if len(self._matrix) != self.entries or not np.array_equal(np.array(self._matrix.I).ravel(), rows):
            msg = "pattern entries must be unique and sorted by column, then row"
            raise ValueError(msg)
        self._factor = cholmod.symbolic(self._matrix, uplo="L")
        self._values: NDArray[np.float64] | None = None
        self._rows, self._columns = rows, columns

    def factor(self, values: NDArray[np.float64]) -> None:
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
        self._values = values

    def solve(self, rhs: NDArray[np.float64]) -> NDArray[np.float64]:
        """Solve for one right-hand side (size,) or several (size, n) with the numbers last factored."""
        x = matrix(np.asfortranarray(rhs))
        cholmod.solve(self._factor, x)
        return np.array(x).reshape(rhs.shape)

    def multiply(self, x: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the product of the matrix last factored with a vector (size,): to check a solution's residual."""
        if self._values is None:
            msg = "nothing has been factored yet"
            raise RuntimeError(msg)
        off = self._rows != self._columns
        y = np.zeros(self.size)
        y += np.bincount(self._rows, weights=self._values * x[self._columns], minlength=self.size)
        y += np.bincount(self._columns[off], weights=self._values[off] * x[self._rows[off]], minlength=self.size)
        return y
