"""The posterior as draws: importance sampling round its maxima, counts enumerated."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from math import log, sqrt

import numpy as np

from fem.arrays import Floats, Integers
from fem.fitting.measured import Measured, Model
from fem.fitting.modes import Mode
from fem.trust.scored import balanced
from fem.trust.sobol import MOST, axis

WIDER = ((1.1, 0.85), (1.6, 0.15))
"""Samples are drawn from normal distributions so many times as wide as Laplace's, and the share of each: tails that are
heavier than the posterior's, so that no weight is large. Of ten directions, those twice as wide or more are lost."""
TELLS = 0.1
"""Of a whitened reading by a standard deviation along a direction, below which that is drawn as it was before: at most
1 % of its variance goes."""
LEAST = 40
"""Draws that the samples must be worth: where they are not, as with readings that no machine of the job can show,
weights are flattened by a power until they are, so that no interval closes round a single sample."""
DULL = 0.01
"""Of its standard uncertainty, by which a reading must be moved by a standard deviation of what it tells of."""
EVEN = 0.02
"""Share of the samples that go to all candidate counts alike."""
ROUND, STEP, LAST = 256, 1024, 3072
"""Samples of the round that only tells where to look next; of the last as many at once, and at most."""
POOR = 0.4
"""Effective share of the samples below which another round looks anew."""
PLENTY = 300
"""Draws that the samples are to be worth: quantiles at 5 and 95 % then lie within 1.3 % of their shares."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Counted:
    """An unknown that is a whole number.

    Parameters
    ----------
    place
        Which of the unknowns it is.
    numbers
        (c,) all that it may be.
    scores
        (c,) the standard normal scores of these.
    """

    place: int
    numbers: Integers
    scores: Floats

    @property
    def log_prior(self) -> Floats:
        """Logarithm of the share of each by itself (c,): what of a lognormal density falls to a whole number."""
        raw = -0.5 * self.scores**2 - np.log(self.numbers)
        return np.asarray(raw - np.logaddexp.reduce(raw))


@dataclass(frozen=True, kw_only=True, eq=False)
class Sampled:
    """The posterior as equally likely draws.

    Parameters
    ----------
    scores
        (n, k); those of counts are of whole numbers.
    predicted
        (n, m) what meters would show [SI].
    log_evidence
        Logarithm of the density of the readings under the model, before they were known.
    effective
        How many independent draws the weighted samples are worth (L. Kish 1965).
    samples
        How many there were.
    """

    scores: Floats
    predicted: Floats
    log_evidence: float
    effective: float
    samples: int


def sample(model: Model, measured: Measured, modes: Sequence[Mode], counts: Sequence[Counted] = ()) -> Sampled:
    """Return the posterior as draws.

    Parameters
    ----------
    model, measured
        As `find_modes` had them.
    modes
        Its maxima, the counts taken as any numbers.
    counts
        Unknowns that are whole numbers.

    Notes
    -----
    Readings tell of at most as many directions as there are of them: across these the posterior is the prior, and is
    drawn as such (T. Cui et al., Inverse Problems 30 (2014) 114015); along them, and over all candidate counts, samples
    come from widened normal distributions round the maxima and are weighted by likelihood times prior over their
    density, no weight above the root of their number times their mean (E. L. Ionides, J. Comput. Graph. Stat. 17 (2008)
    295-311). What moves no reading is drawn anew.
    """
    proposal = _Proposal.around(measured, modes, counts)
    scores, log_ratio = proposal.draw(ROUND)
    weights, _ = _weighed(measured.log_likelihood(model(scores)) + log_ratio)
    if _worth(weights) < POOR * ROUND:
        proposal = proposal.moved(scores, weights / weights.sum())
    scores, log_ratio = proposal.draw(LAST)  # the first of them are balanced too
    predicted = np.empty((0, len(measured.values)))
    while len(predicted) < LAST:
        predicted = np.concatenate([predicted, model(scores[len(predicted) :][:STEP])])
        log_weights = measured.log_likelihood(predicted) + log_ratio[: len(predicted)]
        weights, log_evidence = _weighed(log_weights)
        if _worth(weights) >= PLENTY:
            break
    top = float(log_weights.max())
    power, flatter = 1.0, weights
    while _worth(flatter) < LEAST:
        power *= 0.8
        flatter = np.exp(power * (log_weights - top))
    chosen = _resampled(flatter)
    drawn = scores[chosen]
    told = np.max([np.abs(measured.whitened(mode.slopes.T)).max(axis=1) for mode in modes], axis=0)
    dull = np.setdiff1d(np.flatnonzero(told < DULL), [count.place for count in counts])
    drawn[:, dull] = balanced(MOST, len(dull))
    return Sampled(
        scores=drawn,
        predicted=predicted[chosen],
        log_evidence=log_evidence,
        effective=_worth(weights),
        samples=len(predicted),
    )


def _weighed(log_weights: Floats) -> tuple[Floats, float]:
    """Return weights (n,), none above the root of their number times their mean, and the logarithm of their mean."""
    top = float(log_weights.max())
    whole = np.exp(log_weights - top)
    return np.minimum(whole, whole.mean() * sqrt(len(whole))), top + log(whole.mean())


def _worth(weights: Floats) -> float:
    """Return how many equal weights they are worth."""
    return float(weights.sum() ** 2 / np.sum(weights**2))


def _resampled(weights: Floats) -> Integers:
    """Return which samples stand for equally likely draws (4096,), each as often as its weight says, shuffled."""
    ends = np.cumsum(weights) / weights.sum()
    chosen = np.searchsorted(ends, (np.arange(MOST) + 0.5) / MOST).clip(max=len(weights) - 1)
    return np.asarray(chosen[np.random.PCG64(0).random_raw(MOST).argsort(kind="stable")])


@dataclass(frozen=True, kw_only=True, eq=False)
class _Proposal:
    """Where samples come from: counts (c, p) and their log priors (c,), directions (k, d), a normal for each mode."""

    counts: Sequence[Counted]
    lattice: Floats
    log_prior: Floats
    directions: Floats
    means: Sequence[Floats]
    covariances: Sequence[Floats]
    shares: Floats

    @classmethod
    def around(cls, measured: Measured, modes: Sequence[Mode], counts: Sequence[Counted]) -> _Proposal:
        size = len(modes[0].scores)
        counted = [count.place for count in counts]
        slopes = np.concatenate([measured.whitened(mode.slopes.T).T for mode in modes])
        slopes[:, counted] = 0.0
        _, strength, rows = np.linalg.svd(slopes, full_matrices=False)
        told = rows[strength > TELLS].T
        basis = np.concatenate([np.eye(size)[:, counted], told], axis=1)
        shares = np.exp([mode.log_share - modes[0].log_share for mode in modes])
        lattice = np.array(list(product(*(count.scores for count in counts))), dtype=float)
        return cls(
            counts=counts,
            lattice=lattice,
            log_prior=np.array([sum(each) for each in product(*(count.log_prior for count in counts))], dtype=float),
            directions=told,
            means=[basis.T @ mode.scores for mode in modes],
            covariances=[np.linalg.inv(basis.T @ mode.precision(measured) @ basis) for mode in modes],
            shares=shares / shares.sum(),
        )

    def moved(self, scores: Floats, weights: Floats) -> _Proposal:
        """Return it with another normal where weighted samples lie."""
        counted = [count.place for count in self.counts]
        seen = np.concatenate([scores[:, counted], scores @ self.directions], axis=1)
        mean = weights @ seen
        spread = (seen - mean).T @ ((seen - mean) * weights[:, None])
        # few samples tell a covariance poorly: the first one is kept in part
        covariance = 0.9 * spread + 0.1 * self.covariances[0]
        return _Proposal(
            counts=self.counts,
            lattice=self.lattice,
            log_prior=self.log_prior,
            directions=self.directions,
            means=[*self.means, mean],
            covariances=[*self.covariances, covariance],
            shares=np.append(0.3 * self.shares, 0.7),
        )

    def _conditional(self, mode: int) -> tuple[Floats, Floats, Floats]:
        """Return the logarithms of the candidates' shares (c,), and mean (c, d) and covariance of the rest at each."""
        p, mean, whole = len(self.counts), self.means[mode], self.covariances[mode]
        if not p:
            return np.zeros(1), mean[None], whole
        wide = WIDER[0][0] ** 2 * whole[:p, :p]
        gain = np.linalg.solve(whole[:p, :p], whole[:p, p:]).T
        off = self.lattice - mean[:p]
        log_share = -0.5 * np.sum(off * np.linalg.solve(wide, off.T).T, axis=1)
        # a density over scores is one over numbers by their spacing there
        log_share -= np.array([sum(map(log, each)) for each in product(*(c.numbers for c in self.counts))])
        log_share -= np.logaddexp.reduce(log_share)
        return log_share, mean[p:] + off @ gain.T, whole[p:, p:] - gain @ whole[:p, p:]

    def draw(self, n: int) -> tuple[Floats, Floats]:
        """Return scores (n, k), and the logarithm of the prior over the density they are drawn with (n,)."""
        size, d = self.directions.shape
        parts = [self._conditional(mode) for mode in range(len(self.shares))]
        shares = (np.arange(MOST) + 0.5) / MOST
        places = [axis(place)[:n] for place in range(3)]
        mode = np.searchsorted(np.cumsum(self.shares), shares[places[0]]).clip(max=len(parts) - 1)
        candidates = [(1 - EVEN) * np.exp(part[0]) + EVEN / len(part[0]) for part in parts]
        which = np.array(
            [np.searchsorted(np.cumsum(candidates[m]), u) for m, u in zip(mode, shares[places[1]], strict=True)]
        ).clip(max=len(candidates[0]) - 1)
        factors, of_each = np.array(WIDER).T
        wider = factors[np.searchsorted(np.cumsum(of_each)[:-1], shares[places[2]])]
        told = balanced(n, d, first=3)
        for m, (_, means, covariance) in enumerate(parts):
            mine = mode == m
            told[mine] = means[which[mine]] + wider[mine, None] * (told[mine] @ np.linalg.cholesky(covariance).T)
        log_density = np.full(n, -np.inf)
        for m, (_, means, covariance) in enumerate(parts):
            inverse = np.linalg.inv(covariance)
            off = told - means[which]
            squares = np.sum(off @ inverse * off, axis=1)
            base = np.log(self.shares[m]) + np.log(candidates[m][which]) + 0.5 * np.linalg.slogdet(inverse)[1]
            for factor, share in WIDER:
                log_density = np.logaddexp(log_density, base + log(share) - d * log(factor) - 0.5 * squares / factor**2)
        log_ratio = -0.5 * np.sum(told**2, axis=1) - log_density
        free = balanced(n, size, first=3 + d)
        scores = free - (free @ self.directions) @ self.directions.T + told @ self.directions.T
        for column, count in enumerate(self.counts):
            scores[:, count.place] = self.lattice[which, column]
        if self.counts:
            log_ratio = log_ratio + self.log_prior[which]
        return scores, log_ratio
