"""Draws at given points: what is in doubt after readings said something about it, all that hangs together kept so."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import erfc, sqrt
from typing import Any

import numpy as np

from fem.trust.doubt import Doubt
from fem.trust.draws import LOGARITHMIC, Column, Draws, strata
from fem.trust.sobol import axis

_LEAST = 1e-12
"""Of the shares of a distribution: no draw lies at its very end, where a factor may be 0."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Scored(Draws):
    """Draws of doubts at given standard normal scores: `scores` (m, k), of which the first `n` are meant.

    A score of 0 is a doubt's median, scores that are independent and normal give the doubts as they are.
    """

    scores: Any

    def first(self, n: int) -> Scored:
        """Return the first n of the same draws."""
        return self if n == self.n else Scored(self.doubts, n, scores=self.scores)

    @cached_property
    def more(self) -> Scored:
        """All draws there are, these among them."""
        return self.first(len(self.scores))

    def _column(self, name: str) -> Column:
        if name not in self._columns:
            place = self._axes[name]
            doubt, scores = self.doubts[place], self.scores[:, place]
            raw = raw_at(doubt, scores)
            plain = np.log(raw) if doubt.kind in LOGARITHMIC else raw
            score = (plain - plain.mean()) / (plain.std() or 1.0)
            self._columns[name] = Column(drawn=doubt.as_drawn(raw)[: self.n], score=score[: self.n])
        return self._columns[name]


def scored(doubts: Sequence[Doubt], scores: Any) -> Scored:
    """Return draws of doubts at standard normal scores (n, k)."""
    return Scored(tuple(doubts), len(scores), scores=np.asarray(scores, dtype=np.float64))


def raw_at(doubt: Doubt, scores: Any) -> Any:
    """Return the quantity itself [SI] at standard normal scores (...,)."""
    shares = scores
    if doubt.kind not in ("normal", "lognormal"):
        below = np.frompyfunc(lambda z: erfc(-z / sqrt(2)) / 2, 1, 1)
        shares = np.clip(np.asarray(below(scores), dtype=np.float64), _LEAST, 1 - _LEAST)
    return doubt.raw(shares, scores)


def balanced(n: int, axes: int, first: int = 0) -> Any:
    """Return independent standard normal scores (n, axes), balanced as draws are, of so many axes from a first one on.

    Parameters
    ----------
    n
        At most 4096.
    """
    _, table = strata()
    return np.array([table[axis(first + place)[:n]] for place in range(axes)]).reshape(axes, n).T
