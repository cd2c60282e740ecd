"""Conjugate gradients for third-order elements, on a Cholesky factor of their second-order part."""

import numpy as np
from cvxopt import cholmod, matrix, spmatrix
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float64]
MOST_ITERATIONS = 14
"""On an old factor; then a new one is cheaper."""


def dissection(graph: sparse.csr_matrix, places: Floats, smallest: int = 80) -> NDArray[np.intp]:
    """Return an elimination order by nested dissection: halves by place, then what parts them."""
    order: list[NDArray[np.intp]] = []
    side = np.zeros(len(places), dtype=np.int8)

    def part(members: NDArray[np.intp]) -> None:
        if members.size <= smallest:
            order.append(members)
            return
        here = places[members]
        axis = int(np.argmax(np.percentile(here, 90, axis=0) - np.percentile(here, 10, axis=0)))
        upper = here[:, axis] > np.median(here[:, axis])
        left, right = members[~upper], members[upper]
        if not left.size or not right.size:
            order.append(members)
            return
        side[right] = 1
        touching = graph[left] @ side > 0
        side[right] = 0
        part(left[~touching])
        part(right)
        order.append(left[touching])

    part(np.arange(len(places)))
    return np.concatenate(order)


class Factored:
    """Solves with one pattern and many values; what is not free stays 0.

    Parameters
    ----------
    free
        Which unknowns are (size,).
    places
        Of the unknowns that are factored, the first ones (n, 3).
    """

    def __init__(self, free: NDArray[np.bool_], places: Floats) -> None:
        self.free, self.coarse, self.places = free, len(places), places
        self.inside = np.flatnonzero(free[: self.coarse])
        self.order: NDArray[np.intp] | None = None
        self.stale = True

    def factor(self, K: sparse.csr_matrix) -> None:
        """Factor the second-order part; what is beyond is scaled by its diagonal."""
        block = K[self.inside][:, self.inside]
        if self.order is None:
            graph = sparse.csr_matrix((np.ones(block.nnz, dtype=np.int32), block.indices, block.indptr), block.shape)
            self.order = dissection(graph, self.places[self.inside])
        A = sparse.tril(block).tocoo()
        S = spmatrix(A.data, A.row.astype(int), A.col.astype(int), size=A.shape)
        self.numbers = cholmod.symbolic(S, p=matrix(self.order.astype(int)))
        cholmod.numeric(S, self.numbers)
        self.diagonal = K.diagonal()[self.coarse :]

    def precondition(self, r: Floats) -> Floats:
        """Return what the factor makes of a residual."""
        z = np.zeros_like(r)
        rhs = matrix(r[self.inside])
        cholmod.solve(self.numbers, rhs)
        z[self.inside] = np.array(rhs).ravel()
        z[self.coarse :] = r[self.coarse :] / self.diagonal * self.free[self.coarse :]
        return z

    def solve(self, K: sparse.csr_matrix, r: Floats, tolerance: float = 0.03, most: int = 200) -> Floats:
        """Return K^-1 r within a tolerance in the preconditioner's norm; an old factor serves while it is good enough.

        Raises
        ------
        ArithmeticError
            If that takes too many iterations.
        """
        if self.stale:
            self.factor(K)
        x = np.zeros_like(r)
        z = self.precondition(r)
        p, rho = z, float(r @ z)
        first = rho
        for used in range(1, most + 1):
            q = np.where(self.free, K @ p, 0.0)
            alpha = rho / float(p @ q)
            x, r = x + alpha * p, r - alpha * q
            z = self.precondition(r)
            new = float(r @ z)
            if new < tolerance**2 * first:
                self.stale = used > MOST_ITERATIONS
                return x
            p, rho = z + new / rho * p, new
        msg = f"conjugate gradients did not converge in {most} iterations"
        raise ArithmeticError(msg)
