"""What a measurement is worth before it is made: the information expected of it, in halvings of doubt (bits).

That is Lindley's measure of an experiment, the mean fall of entropy (D. V. Lindley, Ann. Math. Stat. 27 (1956)
986-1005). Of normal distributions it is half the logarithm of the ratio of determinants before and after, taken of what
matters alone (Bayesian D-optimality: K. Chaloner, I. Verdinelli, Stat. Sci. 10 (1995) 273-304, section 2).
"""

from __future__ import annotations

from collections.abc import Mapping
from math import log

import numpy as np

from fem.arrays import Floats
from fem.trust.scored import balanced

POINTS = 512
"""Readings that are tried under each cause: with them the halvings are within some hundredths."""


def spread_left(values: Floats, shows: Floats, noise: Floats, weights: Floats | None = None) -> Floats:
    """Return the covariance of what matters that is expected to be left (g, g).

    Parameters
    ----------
    values
        (n, g) what matters, of draws.
    shows
        (n, m) what the meters would show on these.
    noise
        (m, m) covariance of what they are off by.
    weights
        (n,) of the draws; all alike where not given.

    Notes
    -----
    That of the best linear estimate, C_vv - C_vy (C_yy + S)^-1 C_yv: exact where all is normal, else no less than what
    is left (the best estimate is no worse than the best linear one).
    """
    n = len(values)
    weights = np.full(n, 1.0) if weights is None else weights
    weights = weights / weights.sum()
    v, y = values - weights @ values, shows - weights @ shows
    cross = (v * weights[:, None]).T @ y
    whole = (y * weights[:, None]).T @ y + noise
    return np.asarray((v * weights[:, None]).T @ v - cross @ np.linalg.solve(whole, cross.T))


def halvings(before: Floats, left: Floats, enough: Floats) -> float:
    """Return the information about what matters, told no finer than is enough [bits].

    Parameters
    ----------
    before, left
        (g, g) its covariance without and with the measurement.
    enough
        (g,) standard deviations below which nothing is gained any more.
    """
    floor = np.diag(enough**2)
    volumes = [np.linalg.slogdet(each + floor)[1] for each in (before, left)]
    return float(volumes[0] - volumes[1]) / (2 * log(2))


def of_causes(probabilities: Floats, means: Floats, covariances: Floats) -> float:
    """Return the expected fall of the entropy of which cause it is [bits].

    Parameters
    ----------
    probabilities
        (k,).
    means, covariances
        (k, m), (k, m, m) of what the meters would show under each, their own error within: as normal distributions.

    Notes
    -----
    The mean over causes and readings of log2 p(reading | cause)/p(reading), over balanced points for each cause.
    """
    lower = np.linalg.cholesky(covariances)
    points = balanced(POINTS, means.shape[1])
    readings = means[:, None] + np.einsum("sj,kij->ksi", points, lower)
    off = readings[:, :, None] - means  # (drawn of, points, under, m)
    white = np.einsum("kij,dskj->dski", np.linalg.inv(lower), off)
    volume = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    density = -0.5 * np.sum(white**2, axis=-1) - volume
    known = probabilities > 0
    joint = density[..., known] + np.log(probabilities[known])
    own = np.diagonal(density, axis1=0, axis2=2).T
    gain = (own - np.logaddexp.reduce(joint, axis=-1)).mean(axis=1)
    return max(float(probabilities @ gain) / log(2), 0.0)


def after_others(shows: Floats, off: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Return what meters would show (n, m) and the covariance of what is new in their errors (m, m).

    Parameters
    ----------
    shows
        (n, m) what they would show without an error, of draws.
    off
        (n, r) by how much the readings that were taken lie above those of the same draws.
    covariance
        (r + m, r + m) of the errors of those and of these.

    Notes
    -----
    A meter repeats its error: if a draw is true, the errors of what was read are known, and what is common to these and
    to new ones is foretold with them, the normal distribution's conditional mean and covariance.
    """
    taken = off.shape[1]
    gain = np.linalg.solve(covariance[:taken, :taken], covariance[:taken, taken:]).T
    return shows + off @ gain.T, covariance[taken:, taken:] - gain @ covariance[:taken, taken:]


def repeating(covariance: Floats, same: Mapping[int, int], alike: float) -> Floats:
    """Return a covariance of errors in which some repeat those of others.

    Parameters
    ----------
    covariance
        (m, m).
    same
        Places of repeated readings to those which they repeat.
    alike
        Correlation of the two errors.
    """
    size = np.sqrt(np.diag(covariance))
    takes, fresh = np.eye(len(covariance)), np.zeros(len(covariance))
    for new, old in same.items():
        takes[new] = 0.0
        takes[new, old] = alike * size[new] / size[old]
        fresh[new] = (1 - alike**2) * size[new] ** 2
    return np.asarray(takes @ covariance @ takes.T + np.diag(fresh))
