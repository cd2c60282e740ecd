"""What was measured, and how unlikely a prediction makes it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from math import log, pi

import numpy as np

from fem.arrays import Floats, Integers

Model = Callable[[Floats], Floats]
"""Standard normal scores of all that is unknown (n, k) to what meters would show (n, m); nan without a state."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Measured:
    """Readings as plain numbers.

    Parameters
    ----------
    values
        (m,) [SI].
    covariance
        (m, m) of what they are off by.
    left_out
        Those of them that are not believed.
    """

    values: Floats
    covariance: Floats
    left_out: tuple[int, ...] = ()

    @cached_property
    def kept(self) -> Integers:
        """Places of the others (r,)."""
        return np.delete(np.arange(len(self.values)), list(self.left_out))

    @cached_property
    def lower(self) -> Floats:
        """Cholesky's factor of the covariance of those that are kept (r, r)."""
        return np.asarray(np.linalg.cholesky(self.covariance[np.ix_(self.kept, self.kept)]))

    @cached_property
    def _whitener(self) -> Floats:
        return np.asarray(np.linalg.inv(self.lower), dtype=np.float64)

    @property
    def uncertainties(self) -> Floats:
        """Standard uncertainties (m,) [SI]."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))

    def whitened(self, off: Floats) -> Floats:
        """Return differences (..., m), of those that are kept, as independent ones of variance 1, (..., r)."""
        return np.asarray(off[..., self.kept] @ self._whitener.T)

    def log_likelihood(self, predicted: Floats) -> Floats:
        """Return the logarithm of the density of the readings (...,) at predictions (..., m); -inf where one is nan."""
        squares = np.sum(self.whitened(predicted - self.values) ** 2, axis=-1)
        spread = float(np.log(np.diag(self._whitener)).sum())
        return np.where(np.isnan(squares), -np.inf, spread - 0.5 * squares - 0.5 * len(self.kept) * log(2 * pi))

    def without(self, place: int) -> Measured:
        """Return it with one more left out."""
        return replace(self, left_out=(*self.left_out, place))
