"""What a measurement is worth: closed forms of linear models with normal errors, and what follows for the order."""

from collections.abc import Sequence
from math import log2, sqrt

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from fem.advising.advice import ALIKE
from fem.advising.hypothesis import Hypothesis, Matter
from fem.advising.information import after_others, halvings, of_causes, repeating, spread_left
from fem.advising.prospect import Bench
from fem.arrays import Floats


def normals(n: int, axes: int) -> Floats:
    """Return draws whose mean is 0 and whose covariance is 1, to rounding."""
    raw = np.random.Generator(np.random.PCG64(5)).normal(size=(n, axes))
    raw -= raw.mean(axis=0)
    return raw @ np.linalg.inv(np.linalg.cholesky(raw.T @ raw / n).T)


def test_what_is_left_is_that_of_a_linear_model_with_normal_errors() -> None:
    rng = np.random.Generator(np.random.PCG64(1))
    matters, slopes, noise = rng.normal(size=(2, 5)), rng.normal(size=(3, 5)), np.diag([0.1, 0.5, 2.0])
    z = normals(4000, 5)
    # posterior covariance of z given y = slopes z + e: (1 + G' S^-1 G)^-1 (Rasmussen and Williams 2006, eq. 2.8)
    posterior = np.linalg.inv(np.eye(5) + slopes.T @ np.linalg.inv(noise) @ slopes)
    left = spread_left(z @ matters.T, z @ slopes.T, noise)
    assert left == pytest.approx(matters @ posterior @ matters.T, rel=1e-9)
    # information of a number by a reading: half the logarithm of one plus signal over noise (Shannon 1948)
    one = spread_left(z[:, :1], 3 * z[:, :1], np.array([[4.0]]))
    assert halvings(np.eye(1), one, np.zeros(1)) == pytest.approx(0.5 * log2(1 + 9 / 4), rel=1e-9)
    # what is known well enough is worth nothing more
    assert halvings(np.eye(1), one, np.array([100.0])) < 1e-4


def test_causes_apart_and_alike() -> None:
    shares = np.array([0.3, 0.7])
    alike = of_causes(shares, np.zeros((2, 2)), np.tile(np.eye(2), (2, 1, 1)))
    assert alike == pytest.approx(0.0, abs=1e-12)
    apart = of_causes(shares, np.array([[0.0], [50.0]]), np.ones((2, 1, 1)))
    assert apart == pytest.approx(-0.3 * log2(0.3) - 0.7 * log2(0.7), rel=1e-9)


def test_causes_that_overlap_are_told_apart_as_the_integral_has_it() -> None:
    shares, means, spreads = (0.4, 0.6), (0.0, 1.5), (1.0, 0.5)

    def of_one(y: float) -> float:
        each = [p * norm.pdf(y, m, s) for p, m, s in zip(shares, means, spreads, strict=True)]
        return sum(p * log2(p / (sum(each) * share)) for p, share in zip(each, shares, strict=True) if p > 0)

    exact = quad(of_one, -8, 8, limit=200)[0]
    covariances = np.array(spreads)[:, None, None] ** 2
    # so many balanced points are good for some thousandths
    assert of_causes(np.array(shares), np.array(means)[:, None], covariances) == pytest.approx(exact, abs=3e-3)


def test_a_reading_taken_again_tells_what_correlated_errors_leave() -> None:
    prior, noise = 4.0, 1.0
    z = normals(1000, 1)
    after_one = prior * noise / (prior + noise)
    # the posterior after a first reading of 0.7, as draws of the mean that it leaves
    x = 0.7 * prior / (prior + noise) + sqrt(after_one) * z
    for alike in (0.0, 0.5, ALIKE):
        errors = repeating(noise * np.eye(2), {1: 0}, alike)
        assert errors == pytest.approx(noise * np.array([[1.0, alike], [alike, 1.0]]))
        shows, fresh = after_others(x, 0.7 - x, errors)
        # generalised least squares of both readings at once
        exact = 1 / (1 / prior + np.linalg.inv(errors).sum())
        assert spread_left(x, shows, fresh)[0, 0] == pytest.approx(exact, rel=1e-9)
    assert halvings(np.array([[after_one]]), spread_left(x, shows, fresh), np.zeros(1)) < 0.03


def hypothesis(words: str, probability: float, matters: Floats) -> Hypothesis:
    def never(_readings: Sequence[object], _n: int) -> Floats:
        raise AssertionError

    return Hypothesis(words=words, probability=probability, shows=never, matters=matters)


def test_the_reading_that_alone_decides_between_two_causes_comes_first() -> None:
    z = normals(500, 3)
    matters = 0.05 * z[:, :1]
    each = [hypothesis("sound", 0.5, matters), hypothesis("shorted turn", 0.5, matters)]
    # the first tells what matters but not the cause; the second the cause alone; the third nothing; the last fails
    sound = np.stack([0.05 * z[:, 0], 0.02 * z[:, 1], 0.02 * z[:, 2], np.full(500, np.nan)], axis=1)
    shorted = sound + np.array([0.0, 1.0, 0.0, 0.0])
    bench = Bench(
        what=[Matter(words="amperes", enough=0.03)],
        each=each,
        shows=[sound, shorted],
        taken=np.empty(0),
        errors=0.02**2 * np.eye(4),
    )
    assert bench.prospect([3]) is None
    found = [bench.prospect([place]) for place in range(3)]
    told = [each.of_causes + each.of_what_matters for each in found if each is not None]
    assert int(np.argmax(told)) == 1
    assert told[1] == pytest.approx(1.0, abs=1e-3)  # one of two as likely causes: one halving
    assert told[2] < 0.01
    # the first: sample covariance of what matters is exact, so is the closed form
    before, left = 0.05**2, 0.05**2 * 0.02**2 / (0.05**2 + 0.02**2)
    assert told[0] == pytest.approx(0.5 * log2((before + 0.03**2) / (left + 0.03**2)), rel=1e-6)
    second = found[1]
    assert second is not None
    (sound_shows, shorted_shows) = second.under(0)
    assert (sound_shows.words, shorted_shows.words) == ("sound", "shorted turn")
    # medians lie e apart; the 90 % of what is drawn and of the meter's error together
    assert shorted_shows.value / sound_shows.value == pytest.approx(np.e, rel=1e-9)
    wide = np.log(sound_shows.high / sound_shows.low) / 2 / 1.645
    assert wide == pytest.approx(sqrt(2) * 0.02, rel=0.06)  # quantiles of 500 draws
