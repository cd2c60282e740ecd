"""What measurements would tell, from what meters would show on draws of what may be the case."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from fem.advising.found import Narrowed, Under
from fem.advising.hypothesis import Hypothesis, Matter
from fem.advising.information import after_others, halvings, of_causes, spread_left
from fem.arrays import Floats
from fem.trust.bands import HIGH, LOW
from fem.trust.doubt import Z90

LOST = 0.1
"""Share of the draws without a state from which a measurement is not foretold."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Prospect:
    """What may be, with what some meters would show then, of draws of each: what was read before taken into account.

    Parameters
    ----------
    what, each
        What matters, and what may be the case.
    matters, shows
        Of each: (n, g) and (n, m) logarithms, so that errors that go with a reading are one number.
    noise
        (m, m) covariance of the meters' errors.
    """

    what: Sequence[Matter]
    each: Sequence[Hypothesis]
    matters: Sequence[Floats]
    shows: Sequence[Floats]
    noise: Floats

    @property
    def of_causes(self) -> float:
        """Expected fall of the entropy of what is the case [halvings]."""
        spreads = [np.cov(y, rowvar=False).reshape(self.noise.shape) + self.noise for y in self.shows]
        return of_causes(self._shares, np.array([y.mean(axis=0) for y in self.shows]), np.array(spreads))

    @property
    def of_what_matters(self) -> float:
        """Expected information on what matters, were it known what is the case [halvings]."""
        enough = np.array([one.enough for one in self.what])
        found = 0.0
        for share, v, y in zip(self._shares, self.matters, self.shows, strict=True):
            before = np.cov(v, rowvar=False, ddof=0).reshape(len(enough), -1)
            found += share * halvings(before, spread_left(v, y, self.noise), enough)
        return float(found)

    @property
    def narrows(self) -> tuple[Narrowed, ...]:
        """What matters before and after, whatever is the case."""
        weights = np.repeat(self._shares / [len(v) for v in self.matters], [len(v) for v in self.matters])
        v, y = np.concatenate(self.matters), np.concatenate(self.shows)
        pairs = [np.diag(spread_left(v, shown, self.noise, weights)).clip(0.0) for shown in (0 * y, y)]
        return tuple(
            Narrowed(words=one.words, before=Z90 * sqrt(before), left=Z90 * sqrt(left))
            for one, before, left in zip(self.what, *pairs, strict=True)
        )

    def under(self, place: int) -> tuple[Under, ...]:
        """Return what one meter will show."""
        own, found = Z90 * sqrt(self.noise[place, place]), []
        for one, y in zip(self.each, self.shows, strict=True):
            low, middle, high = np.quantile(y[:, place], (LOW, 0.5, HIGH))
            ends = middle - np.hypot(middle - low, own), middle, middle + np.hypot(high - middle, own)
            least, value, most = (float(end) for end in np.exp(ends))
            found.append(Under(words=one.words, value=value, low=least, high=most))
        return tuple(found)

    @property
    def _shares(self) -> Floats:
        return np.array([one.probability for one in self.each])


@dataclass(frozen=True, kw_only=True, eq=False)
class Bench:
    """What was read and can be, on draws of what may be the case.

    Parameters
    ----------
    shows
        Of each hypothesis, (n, r + m) logarithms, what was read first.
    taken
        (r,) logarithms of what was read.
    errors
        (r + m, r + m) covariance of the meters' relative errors.
    """

    what: Sequence[Matter]
    each: Sequence[Hypothesis]
    shows: Sequence[Floats]
    taken: Floats
    errors: Floats

    def prospect(self, places: Sequence[int], n: int | None = None) -> Prospect | None:
        """Return what some of the new readings would tell by the first n draws; None where too few have a state."""
        taken = len(self.taken)
        kept = [*range(taken), *(taken + place for place in places)]
        matters, shows, noise = [], [], np.empty(0)
        for one, all_of_it in zip(self.each, self.shows, strict=True):
            whole, v = all_of_it[:n, kept], one.matters[:n]
            known = np.isfinite(whole).all(axis=1) & np.isfinite(v).all(axis=1)
            if known.mean() < 1 - LOST:
                return None
            off = self.taken - whole[known, :taken]
            new, noise = after_others(whole[known, taken:], off, self.errors[np.ix_(kept, kept)])
            shows.append(new)
            matters.append(v[known])
        return Prospect(what=self.what, each=self.each, matters=matters, shows=shows, noise=noise)
