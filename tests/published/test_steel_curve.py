"""How measured grades differ, and the prior of a steel's whole curve: fem/trust/steel_curve.py."""

import numpy as np
import pytest

from fem.assumptions import assumed
from fem.materials.steel import steel, steel_names
from fem.trust.doubt import Z90
from fem.trust.doubts import Doubt
from fem.trust.draws import draws
from fem.trust.steel_curve import AT_KNEE, KNEE, LENGTH, WIDTH, field_over_table, in_place_of_a_factor, lengths, weights

B = np.arange(0.2, 1.95, 0.1)
SIZE = np.log(assumed("field of a borrowed curve").high) / Z90
OWN = 0.03
"""Of each point, its own: tables of three digits, midlines of loops beside curves that were fitted."""


def log_likelihood(length: float = LENGTH, at_knee: float = AT_KNEE, knee: float = KNEE, size: float = SIZE) -> float:
    """Return that of the eight grades with curves of their own, their mean unknown (Rasmussen, Williams, eq. 2.30)."""
    own = [grade.curve for grade in map(steel, steel_names()) if grade.curve_of is None]
    assert len(own) == 8
    off = np.log([curve.field_strength(B) for curve in own])
    off -= off.mean(axis=0)
    u = B / length + WIDTH * (1 / at_knee - 1 / length) * np.tanh((B - knee) / WIDTH)
    covariance = size**2 * np.exp(-((u[:, None] - u) ** 2) / 2) + OWN**2 * np.eye(len(B))
    squares = np.trace(np.linalg.solve(covariance, off.T @ off))
    return -0.5 * (squares + (len(own) - 1) * float(np.linalg.slogdet(covariance)[1]))


def test_lengths_and_size_are_those_by_which_grades_differ() -> None:
    best = log_likelihood()
    for name, value in (("length", LENGTH), ("at_knee", AT_KNEE)):
        # seven grades' worth of data: a fifth off is less likely, the likeliest lies within some per cents
        for factor in (0.8, 1.25):
            assert log_likelihood(**{name: factor * value}) < best - 0.5
        assert all(log_likelihood(**{name: factor * value}) < best + 1.0 for factor in (0.93, 1.07))
    assert max(log_likelihood(knee=KNEE - 0.07), log_likelihood(knee=KNEE + 0.07)) < best
    assert all(log_likelihood(size=factor * SIZE) < best for factor in (0.75, 1.3))
    # curves that kept their distance evenly would be far less likely
    assert log_likelihood(length=0.4, at_knee=0.4) < best - 10


def test_knots_carry_the_process() -> None:
    at = np.linspace(0.1, 2.1, 81)
    u = lengths(at)
    assert weights(at).T @ weights(at) == pytest.approx(np.exp(-((u[:, None] - u) ** 2) / 2), abs=0.015)


def test_draws_of_a_curve_are_as_far_off_as_one_factor() -> None:
    whole = Doubt(name="steel.field", kind="lognormal", low=0.5, typical=1.0, high=2.0, drawn="factor", words="")
    grade = steel("M530-50A").curve
    places = np.searchsorted(grade.B[1:], [0.5, 1.0, 1.5])
    log_off = np.log(field_over_table(draws(in_place_of_a_factor([whole], borrowed=False), 1024), grade))[:, places]
    assert log_off.std(axis=0) == pytest.approx(np.log(2) / Z90, rel=0.05)
    assert np.corrcoef(log_off.T)[0, 1] == pytest.approx(np.exp(-((0.5 / LENGTH) ** 2) / 2), abs=0.1)
    assert field_over_table(draws([whole], 64), grade) == pytest.approx(draws([whole], 64)["steel.field"])
