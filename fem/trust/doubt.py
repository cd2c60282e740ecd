"""One number that is in doubt, with its distribution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

Z90 = 1.6448536269514722
"""95 % quantile of the standard normal distribution."""
Kind = Literal["normal", "rectangular", "triangular", "lognormal", "log-uniform"]
Drawn = Literal["factor", "shift", "value", "place"]


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """One number that is in doubt.

    Parameters
    ----------
    name
        What `Draws` are asked by: a length's is its dotted key, "core.leg_width".
    kind
        "normal", "lognormal": `low` and `high` are the 5 % and 95 % quantiles of two halves, each with a spread of its
        own, that meet at `typical`, the median. "rectangular", "triangular" (with its peak at `typical`),
        "log-uniform": `low` and `high` are the ends.
    low, typical, high
        [SI]; `typical` is what the estimate is made with.
    drawn
        What a draw is: a "factor" on the typical value, a "shift" of it [SI], the "value" itself, or a "place": from -1
        at a low end over 0 where the estimate is to 1 at a high end, ends that others compute (`between`).
    key
        Dotted key of a job whose tolerance replaces this doubt; empty where there is none.
    words
        Short, for "driven by"; doubts of the same words are told as one.
    measure
        What narrows it most, a sentence; empty where nothing does.
    told
        Whether its limits are the user's own.
    """

    name: str
    kind: Kind
    low: float
    typical: float
    high: float
    drawn: Drawn
    key: str = ""
    words: str
    measure: str = ""
    told: bool = False

    def quantile(self, share: Any, scores: Any = None) -> Any:
        """Return draws at shares of the distribution.

        Parameters
        ----------
        share
            (...,) in (0, 1).
        scores
            The standard normal distribution's quantiles there, where they are known already.
        """
        return self.as_drawn(self.raw(np.asarray(share), scores))

    def raw(self, share: Any, scores: Any = None) -> Any:
        """Return the quantity itself [SI] at shares of the distribution; as `quantile`."""
        low, typical, high = self.low, self.typical, self.high
        if self.kind == "rectangular":
            return low + (high - low) * share
        if self.kind == "log-uniform":
            return low * (high / low) ** share
        if self.kind == "triangular":
            peak = (typical - low) / (high - low)
            rising = low + np.sqrt(share * (high - low) * (typical - low))
            falling = high - np.sqrt((1 - share) * (high - low) * (high - typical))
            return np.where(share < peak, rising, falling)
        z = normal_scores(share) if scores is None else scores
        if self.kind == "normal":
            return typical + z / Z90 * np.where(z < 0, typical - low, high - typical)
        return typical * np.where(z < 0, typical / low, high / typical) ** (z / Z90)

    def as_drawn(self, raw: Any) -> Any:
        """Return a quantity [SI] as factor, shift, value or place."""
        if self.drawn == "factor":
            return raw / self.typical
        if self.drawn == "shift":
            return raw - self.typical
        if self.drawn == "value":
            return raw
        off = raw - self.typical
        below, above = (max(width, 1e-300) for width in (self.typical - self.low, self.high - self.typical))
        return np.where(off < 0, off / below, off / above)


def normal_scores(share: Any) -> Any:
    """Return the standard normal distribution's quantiles at shares (...,)."""
    from statistics import NormalDist

    inverse = NormalDist().inv_cdf
    return np.array([inverse(float(s)) for s in np.ravel(share)]).reshape(np.shape(share))


def between(place: Any, low: Any, typical: Any, high: Any) -> Any:
    """Return the number at a place: `low` at -1, `typical` at 0, `high` at 1, even beyond.

    By powers where all are above 0, so that nothing falls below it, else straight.
    """
    if np.all(np.asarray(low) > 0) and np.all(np.asarray(typical) > 0):
        return typical * np.where(place < 0, np.divide(typical, low), np.divide(high, typical)) ** place
    return typical + place * np.where(place < 0, np.subtract(typical, low), np.subtract(high, typical))
