"""What each reading tells, by the model straightened at its best point: Bayesian linear regression in closed form.

With slopes G (m, k) of the readings by standard normal scores and readings off by N(0, S), the scores' covariance is
(I + G' S^-1 G)^-1 (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.8).
"""

from __future__ import annotations

import numpy as np

from fem.arrays import Floats
from fem.fitting.measured import Measured
from fem.fitting.modes import Mode


def spreads(mode: Mode, measured: Measured) -> Floats:
    """Return the scores' standard deviations with all readings that are kept, and without each, (1 + r, k) [-]."""
    fewer = [measured, *(measured.without(int(place)) for place in measured.kept)]
    return np.array([np.sqrt(np.diag(mode.covariance(each))) for each in fewer])


def surprises(mode: Mode, measured: Measured) -> Floats:
    """Return by how many standard deviations each that is kept lies off what the others foretell of it (r,) [-].

    With e the readings less what the model without them foretells and T = G G' + S, that is T^-1 e over the root of the
    diagonal of T^-1 (ibid., eq. 5.12): 1 is usual.
    """
    slopes = mode.slopes[measured.kept]
    inverse = np.linalg.inv(slopes @ slopes.T + measured.lower @ measured.lower.T)
    off = (measured.values - mode.predicted)[measured.kept] + slopes @ mode.scores
    return np.asarray(inverse @ off / np.sqrt(np.diag(inverse)))


def held(mode: Mode, measured: Measured, slopes: Floats) -> tuple[float, float]:
    """Return what all readings, those left out too, say of a number that was held: how far off it is, and its spread.

    Generalised least squares with T as in `surprises`: with g (m,), the readings' slopes by that number, g' T^-1 e over
    g' T^-1 g, whose variance is 1 over the latter.
    """
    inverse = np.linalg.inv(mode.slopes @ mode.slopes.T + measured.covariance)
    off = measured.values - mode.predicted + mode.slopes @ mode.scores
    told = float(slopes @ inverse @ slopes)
    return (float(slopes @ inverse @ off) / told, told**-0.5) if told > 0 else (0.0, float("inf"))
