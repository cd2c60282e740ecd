"""Where the unknowns most likely lie: maxima of likelihood times prior, by damped Gauss-Newton steps.

Every unknown is a standard normal score, so the prior is N(0, I) and the posterior's logarithm, but for a constant,

    -(|L^-1 (f(z) - y)|^2 + |z|^2)/2,        covariance of the readings L L^T.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.fitting.measured import Measured, Model

STEP = 0.05
"""Of a score, by which the model is differenced either way: kinks where halves of a distribution meet are averaged."""
DAMPING = (0.0, 0.3, 3.0, 30.0, 300.0)
"""Added to the curvature, all tried as one block: the best is taken (K. Levenberg 1944, D. W. Marquardt 1963). Between
two derivatives that are found, they follow the steps (C. G. Broyden 1965)."""
MOST_ROUNDS = 25
ENOUGH = 1e-3
"""Of the logarithm, or where that is more of what it lies below its greatest, by which a round must gain to be followed
by another: what contradicts itself is not followed to its last digit."""
UNLIKELY = 12.0
"""Of the logarithm of its share, by which another maximum may lie below the best: 6e-6 of it."""
FELT = 1e-4
"""Least change of a whitened reading by a unit of a score that counts."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Mode:
    """One maximum.

    Parameters
    ----------
    scores
        (k,).
    predicted
        (m,) what meters would show there [SI].
    slopes
        (m, k) of these by the scores.
    log_share
        Laplace's approximation of the logarithm of the evidence that lies round it.
    """

    scores: Floats
    predicted: Floats
    slopes: Floats
    log_share: float

    def precision(self, measured: Measured) -> Floats:
        """Return the inverse of the covariance of the scores (k, k), Gauss and Newton's."""
        return _curvature(measured.whitened(self.slopes.T).T)

    def covariance(self, measured: Measured) -> Floats:
        """Return the covariance of the scores (k, k)."""
        return np.asarray(np.linalg.inv(self.precision(measured)))


def find_modes(model: Model, measured: Measured, starts: Floats, near: Sequence[Mode] = ()) -> tuple[Mode, ...]:
    """Return the maxima that are found from some starts (n, k), the most likely first; none where all fail.

    Starts without a state are left out. A start that runs into another maximum is not told again. `near` are maxima of
    a problem much like this, from which is searched as well.
    """
    found: list[Mode] = []
    for start in (*near, *starts):
        mode = _climbed(model, measured, start, found)
        if mode is not None:
            found.append(mode)
    found.sort(key=lambda mode: -mode.log_share)
    return tuple(mode for mode in found if mode.log_share > found[0].log_share - UNLIKELY)


def log_posterior(measured: Measured, scores: Floats, predicted: Floats) -> Floats:
    """Return the logarithm of likelihood times prior (...,), without the prior's constant."""
    return np.asarray(measured.log_likelihood(predicted) - 0.5 * np.sum(scores**2, axis=-1))


def _climbed(model: Model, measured: Measured, start: Mode | Floats, found: Sequence[Mode]) -> Mode | None:
    """Return the maximum above a start; None where it has no state, or is one of those that are found already."""
    slopes, fresh = None, False
    if isinstance(start, Mode):
        here, shown, slopes = start.scores, start.predicted, start.slopes
    else:
        here, shown = start, model(start[None])[0]
    best = float(log_posterior(measured, here, shown))
    peak = -float(measured.log_likelihood(measured.values))
    if not np.isfinite(best):
        return None
    active: Sequence[int] = range(len(here))
    for _ in range(MOST_ROUNDS):
        if slopes is None:
            slopes, fresh = _slopes(model, here, shown, active), True
            active = np.flatnonzero(np.abs(measured.whitened(slopes.T)).max(axis=1) > FELT).tolist()
        white = measured.whitened(slopes.T).T
        downhill = white.T @ measured.whitened(shown - measured.values) + here
        tried = np.array([here - np.linalg.solve(_curvature(white, more), downhill) for more in DAMPING])
        shows = model(tried)
        gains = log_posterior(measured, tried, shows) - best
        place = int(np.argmax(gains))
        gain, enough = float(gains[place]), ENOUGH * max(1.0, -best - peak)
        if gain > 0:
            step, rise = tried[place] - here, shows[place] - shown
            here, shown, best = tried[place], shows[place], best + gain
            if any(_same(measured, here, other) for other in found):
                return None
        if gain >= enough:
            slopes, fresh = slopes + np.outer(rise - slopes @ step, step) / (step @ step), False
        elif fresh:
            break
        else:
            slopes = None
    if not fresh or slopes is None:
        slopes = _slopes(model, here, shown, active)
    _, volume = np.linalg.slogdet(_curvature(measured.whitened(slopes.T).T))
    return Mode(scores=here, predicted=shown, slopes=slopes, log_share=best - 0.5 * float(volume))


def _curvature(white: Floats, more: float = 0.0) -> Floats:
    return np.asarray((1 + more) * np.eye(white.shape[1]) + white.T @ white)


def _slopes(model: Model, here: Floats, shown: Floats, active: Sequence[int]) -> Floats:
    """Return the predictions' derivatives (m, k), one-sided where the other side has no state."""
    steps = STEP * np.eye(len(here))[list(active)]
    shows = model(here + np.concatenate([steps, -steps]))
    more, less = shows[: len(active)], shows[len(active) :]
    by = np.where(np.isnan(more), 0.0, STEP) + np.where(np.isnan(less), 0.0, STEP)
    rise = np.where(np.isnan(more), shown, more) - np.where(np.isnan(less), shown, less)
    found = np.zeros((len(here), len(shown)))
    found[list(active)] = np.divide(rise, by, out=np.zeros_like(rise), where=by > 0)
    return found.T


def _same(measured: Measured, scores: Floats, other: Mode) -> bool:
    """Return whether a point lies within a standard deviation or so of a maximum."""
    off = scores - other.scores
    return float(off @ other.precision(measured) @ off) < 1.0
