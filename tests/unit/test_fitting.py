"""The fit's mathematics, against closed forms of Bayesian linear regression and what follows from the definitions."""

from math import log, pi

import numpy as np
import pytest

from fem.arrays import Floats
from fem.fitting.fit import robust
from fem.fitting.linear import held, spreads, surprises
from fem.fitting.measured import Measured
from fem.fitting.modes import find_modes
from fem.fitting.sampled import Counted, Sampled, sample
from fem.trust.doubt import Doubt
from fem.trust.draws import draws
from fem.trust.scored import balanced, scored

NOISE = np.random.Generator(np.random.PCG64(5))
K, M = 9, 4
SLOPES = NOISE.normal(size=(M, K))
SLOPES[:, -1] = 0.0  # nothing tells of the last
OFF = NOISE.normal(size=(M, M))
COVARIANCE = 0.2 * (np.eye(M) + OFF @ OFF.T)
VALUES = 2.0 * NOISE.normal(size=M)
LINEAR = Measured(values=VALUES, covariance=COVARIANCE)


def line(scores: Floats) -> Floats:
    return 0.7 + scores @ SLOPES.T


def posterior() -> tuple[Floats, Floats]:
    """Return mean and covariance: C. M. Bishop, Pattern Recognition and Machine Learning, 2006, eqs. 2.116, 2.117."""
    weighed = np.linalg.solve(COVARIANCE, SLOPES)
    covariance = np.linalg.inv(np.eye(K) + SLOPES.T @ weighed)
    return covariance @ weighed.T @ (VALUES - 0.7), covariance


def log_normal(off: Floats, covariance: Floats) -> float:
    squares = float(off @ np.linalg.solve(covariance, off))
    return -0.5 * (squares + float(np.linalg.slogdet(covariance)[1]) + len(off) * log(2 * pi))


def fitted(measured: Measured = LINEAR) -> Sampled:
    return sample(line, measured, find_modes(line, measured, np.zeros((1, K))))


def test_a_linear_model_has_the_closed_form() -> None:
    (mode,) = find_modes(line, LINEAR, np.zeros((1, K)))
    mean, covariance = posterior()
    assert mode.scores == pytest.approx(mean, abs=1e-9)
    assert mode.covariance(LINEAR) == pytest.approx(covariance, abs=1e-9)
    evidence = log_normal(VALUES - 0.7, COVARIANCE + SLOPES @ SLOPES.T)
    assert mode.log_share == pytest.approx(evidence, abs=1e-9)
    found = fitted()
    # some 700 independent draws: means within 4/sqrt(700) standard deviations, deviations within 4/sqrt(2*700)
    deviation = np.sqrt(np.diag(covariance))
    assert np.abs((found.scores.mean(axis=0) - mean) / deviation).max() < 0.15
    assert found.scores.std(axis=0) == pytest.approx(deviation, rel=0.11)
    assert found.log_evidence == pytest.approx(evidence, abs=0.1)
    assert found.effective > 0.5 * found.samples


def test_what_nothing_decides_stays_as_it_was() -> None:
    last = fitted().scores[:, -1]
    assert (float(last.mean()), float(last.std())) == (pytest.approx(0.0, abs=0.1), pytest.approx(1.0, rel=0.1))
    # with readings that tell nothing at all, weights are even and draws are those of the doubts to their last digit
    flat = Measured(values=np.array([1.0]), covariance=np.eye(1))
    modes = find_modes(lambda scores: np.ones((len(scores), 1)), flat, np.zeros((1, 3)))
    found = sample(lambda scores: np.ones((len(scores), 1)), flat, modes)
    assert found.effective == pytest.approx(found.samples)
    assert found.log_evidence == pytest.approx(log_normal(np.zeros(1), np.eye(1)))
    low, middle, high = np.quantile(found.scores, [0.05, 0.5, 0.95], axis=0)
    assert low == pytest.approx(-1.645 * np.ones(3), abs=0.01)
    assert middle == pytest.approx(np.zeros(3), abs=0.01)
    assert high == pytest.approx(1.645 * np.ones(3), abs=0.01)


def test_whole_numbers_have_the_probabilities_of_their_evidence() -> None:
    numbers = np.arange(94, 107)
    scores = np.log(numbers / 100) / 0.05
    counts = Counted(place=0, numbers=numbers, scores=scores)
    found = sample(line, LINEAR, find_modes(line, LINEAR, np.zeros((1, K))), [counts])
    rest = COVARIANCE + SLOPES[:, 1:] @ SLOPES[:, 1:].T
    logs = np.array([log_normal(VALUES - 0.7 - SLOPES[:, 0] * z, rest) for z in scores])
    whole = logs - 0.5 * scores**2 - np.log(numbers)
    exact = np.exp(whole - np.logaddexp.reduce(whole))
    shares = np.array([np.mean(found.scores[:, 0] == z) for z in scores])
    assert shares.sum() == 1.0  # no draw lies between the numbers
    # of some 600 independent draws, four standard errors of a share
    assert np.abs(shares - exact).max() < 4 * np.sqrt(exact.max() / 600)
    prior = -0.5 * scores**2 - np.log(numbers)
    evidence = np.logaddexp.reduce(whole) - np.logaddexp.reduce(prior)
    assert found.log_evidence == pytest.approx(evidence, abs=0.1)


def test_a_reading_is_weighed_against_all_others() -> None:
    (mode,) = find_modes(line, LINEAR, np.zeros((1, K)))
    whole = COVARIANCE + SLOPES @ SLOPES.T
    told, without = surprises(mode, LINEAR), spreads(mode, LINEAR)[1:]
    for place in range(M):
        others = np.delete(np.arange(M), place)
        gain = np.linalg.solve(whole[np.ix_(others, others)], whole[others, place])
        foretold = 0.7 + gain @ (VALUES[others] - 0.7)
        spread = np.sqrt(whole[place, place] - gain @ whole[others, place])
        assert told[place] == pytest.approx((VALUES[place] - foretold) / spread)
        (left,) = find_modes(line, LINEAR.without(place), np.zeros((1, K)))
        assert without[place] == pytest.approx(np.sqrt(np.diag(left.covariance(LINEAR.without(place)))))


def test_a_number_that_was_held_is_told_by_all_readings() -> None:
    # the same as fitting it too, its prior so wide that it says nothing (1e4 standard deviations of the others)
    left_out = LINEAR.without(1)
    (mode,) = find_modes(line, left_out, np.zeros((1, K)))
    slopes = np.array([0.3, -1.2, 0.5, 0.8])
    wider = np.column_stack((SLOPES, 1e4 * slopes))
    (free,) = find_modes(lambda scores: 0.7 + scores @ wider.T, LINEAR, np.zeros((1, K + 1)))
    spread = 1e4 * np.sqrt(free.covariance(LINEAR)[-1, -1])
    assert held(mode, left_out, slopes) == pytest.approx((1e4 * free.scores[-1], spread), rel=1e-4)


def test_one_wrong_reading_among_many_is_left_out() -> None:
    # six readings of two unknowns, one of them 12 of its uncertainties off
    slopes = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, -1.0], [0.5, 1.0], [1.0, 0.3]])
    values = slopes @ np.array([0.4, -0.3]) + 0.1 * np.array([0.5, -0.8, 12.0, 0.3, -0.2, 0.9])
    measured = Measured(values=values, covariance=0.01 * np.eye(6))
    found = robust(lambda scores: scores @ slopes.T, measured, np.zeros((1, 2)))
    assert found.measured.left_out == (2,)
    assert found.modes[0].scores == pytest.approx([0.4, -0.3], abs=0.2)
    # without it, none is
    right = Measured(values=np.where(np.arange(6) == 2, 0.1, values), covariance=0.01 * np.eye(6))
    assert robust(lambda scores: scores @ slopes.T, right, np.zeros((1, 2))).measured.left_out == ()


def test_two_readings_that_contradict_each_other_are_both_named() -> None:
    slopes = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0]])
    measured = Measured(values=np.array([0.5, -0.5, 0.1, 0.1]), covariance=0.01 * np.eye(4))
    found = robust(lambda scores: scores @ slopes.T, measured, np.zeros((1, 2)))
    assert {found.measured.left_out[0], found.doubtful[0][1]} == {0, 1}


def test_two_answers_are_both_found() -> None:
    # a square tells a number but for its sign
    measured = Measured(values=np.array([1.0]), covariance=0.01 * np.eye(1))

    def square(scores: Floats) -> Floats:
        return scores[:, :1] ** 2

    modes = find_modes(square, measured, np.array([[0.5, 0.0], [-0.5, 0.0], [0.4, 1.0]]))
    assert sorted(np.sign(mode.scores[0]) for mode in modes) == [-1.0, 1.0]
    found = sample(square, measured, modes)
    assert np.mean(found.scores[:, 0] > 0) == pytest.approx(0.5, abs=0.1)
    # evidence by quadrature over the one score that plays a part
    z = np.linspace(-6, 6, 24001)
    density = np.exp(-0.5 * z**2 - 0.5 * (z**2 - 1) ** 2 / 0.01) / (2 * pi * 0.1)
    assert found.log_evidence == pytest.approx(log(float(density.sum()) * 12 / 24000), abs=0.1)


def test_it_keeps_to_where_there_is_a_state() -> None:
    # a step that runs out of the steel's data is damped back, and no draw lies there
    measured = Measured(values=np.array([1.5]), covariance=0.04 * np.eye(1))

    def ends(scores: Floats) -> Floats:
        return np.where(scores[:, :1] < 0.9, np.exp(scores[:, :1]) - 1, np.nan)

    (mode,) = find_modes(ends, measured, np.array([[-0.5, 0.0]]))
    assert 0.7 < mode.scores[0] < 0.9
    assert np.all(sample(ends, measured, [mode]).scores[:, 0] < 0.9)
    assert find_modes(ends, measured, np.array([[1.0, 0.0]])) == ()


def test_what_cannot_be_does_not_look_certain() -> None:
    # a reading a hundred of its uncertainties beyond all that the model can show: no interval closes round one sample
    measured = Measured(values=np.array([2.0]), covariance=1e-4 * np.eye(1))

    def bounded(scores: Floats) -> Floats:
        return np.tanh(scores[:, :1]) + 0.02 * scores[:, 1:2]

    modes = find_modes(bounded, measured, np.zeros((1, 3)))
    found = sample(bounded, measured, modes)
    assert len(np.unique(found.scores[:, 0])) > 30
    assert found.log_evidence < -100


def covered(count: int) -> float:
    """Return how often 90 % intervals hold the truth, over unknowns that are told, of machines drawn from the doubts.

    A machine of five unknowns and three readings by closed forms that bend as a core's do: an exponential, a kink, a
    product, a saturating sum.
    """
    noise = np.random.Generator(np.random.PCG64(11))
    uncertainties = np.array([0.1, 0.2, 0.15])

    def model(z: Floats) -> Floats:
        bent = np.where(z[:, 1] < 0, 0.5 * z[:, 1], z[:, 1])
        return np.stack(
            [
                np.exp(0.4 * z[:, 0]) * (1 + 0.3 * z[:, 2]),
                bent + 0.3 * z[:, 0] + 0.1 * z[:, 3],
                np.tanh(0.5 * (z[:, 0] - z[:, 2])) + 0.3 * z[:, 4],
            ],
            axis=1,
        )

    held = []
    for _ in range(count):
        truth = noise.normal(size=(1, 5))
        values = model(truth)[0] + uncertainties * noise.normal(size=3)
        measured = Measured(values=values, covariance=np.diag(uncertainties**2))
        starts = np.concatenate([np.zeros((1, 5)), 1.5 * np.eye(5)[:2], -1.5 * np.eye(5)[:2]])
        found = sample(model, measured, find_modes(model, measured, starts))
        low, high = np.quantile(found.scores, [0.05, 0.95], axis=0)
        held.append((low < truth[0]) & (truth[0] < high))
    return float(np.mean(held))


def test_intervals_hold_the_truth_as_often_as_they_say() -> None:
    # 40 machines, 200 intervals that hang together in fives: a standard error of some 3 %
    assert 0.82 < covered(40) < 0.97


@pytest.mark.slow
def test_intervals_of_many_machines_hold_the_truth_as_often_as_they_say() -> None:
    assert 0.87 < covered(300) < 0.93


def test_draws_at_given_scores_are_the_doubts_own_quantiles() -> None:
    like = {"low": 0.8, "typical": 1.1, "high": 1.5, "words": "", "drawn": "factor"}
    kinds = ("normal", "lognormal", "rectangular", "triangular", "log-uniform")
    doubts = tuple(Doubt(name=f"joints.{kind}", kind=kind, **like) for kind in kinds)  # type: ignore[arg-type]
    given, balanced_ones = scored(doubts, balanced(64, len(doubts))), draws(doubts, 64)
    for doubt in doubts:
        assert given[doubt.name] == pytest.approx(balanced_ones[doubt.name], rel=1e-12)
    first = given.first(8)
    assert len(first) == 8
    assert len(first.more) == 64
    assert first[doubts[0].name] == pytest.approx(given[doubts[0].name][:8])
    assert first.score(doubts[1].name) == pytest.approx(first.more.score(doubts[1].name)[:8])
