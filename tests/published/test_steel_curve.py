"""How measured grades differ, and the prior of a steel's whole curve: fem/trust/steel_curve.py."""

import numpy as np
import pytest

from fem.assumptions import assumed
from fem.materials.steel import steel, steel_names
from fem.trust.doubt import Z90
from fem.trust.doubts import Doubt
from fem.trust.draws import draws
from fem.trust.steel_curve import KNOTS, LENGTH, field_over_table, in_place_of_a_factor, weights

B = np.arange(0.2, 1.95, 0.1)
OWN = 0.03
"""Of each point, its own: tables of three digits, midlines of loops beside curves that were fitted."""


def log_likelihood(length: float, size: float) -> float:
    """Return that of the eight grades with curves of their own, their mean unknown (Rasmussen, Williams, eq. 2.30)."""
    own = [grade.curve for grade in map(steel, steel_names()) if grade.curve_of is None]
    assert len(own) == 8
    off = np.log([curve.field_strength(B) for curve in own])
    off -= off.mean(axis=0)
    apart = (B[:, None] - B) / length
    covariance = size**2 * np.exp(-(apart**2) / 2) + OWN**2 * np.eye(len(B))
    squares = np.trace(np.linalg.solve(covariance, off.T @ off))
    return -0.5 * (squares + (len(own) - 1) * float(np.linalg.slogdet(covariance)[1]))


def test_length_and_size_are_those_of_grades_told_from_one_another() -> None:
    row = assumed("field of a borrowed curve")
    size = np.log(row.high) / Z90
    best = log_likelihood(LENGTH, size)
    # seven grades' worth of data tell either to a factor of some 1.2: the likeliest lies within a twentieth
    for factor in (0.8, 1.25):
        assert log_likelihood(factor * LENGTH, size) < best - 2
        assert log_likelihood(LENGTH, factor * size) < best
    assert all(log_likelihood(LENGTH * f, size * g) < best + 1 for f in (0.95, 1.0, 1.05) for g in (0.95, 1.0, 1.05))


def test_knots_carry_the_process() -> None:
    at = np.linspace(KNOTS[0], 2.0, 77)
    exact = np.exp(-(((at[:, None] - at) / LENGTH) ** 2) / 2)
    assert weights(at).T @ weights(at) == pytest.approx(exact, abs=0.012)


def test_draws_of_a_curve_are_as_far_off_as_one_factor() -> None:
    whole = Doubt(name="steel.field", kind="lognormal", low=0.5, typical=1.0, high=2.0, drawn="factor", words="")
    grade = steel("M530-50A").curve
    places = np.searchsorted(grade.B[1:], [0.5, 1.0, 1.5])
    log_off = np.log(field_over_table(draws(in_place_of_a_factor([whole]), 1024), grade))[:, places]
    assert log_off.std(axis=0) == pytest.approx(np.log(2) / Z90, rel=0.05)
    assert np.corrcoef(log_off.T)[0, 1] == pytest.approx(np.exp(-((0.5 / LENGTH) ** 2) / 2), abs=0.1)
    assert field_over_table(draws([whole], 64), grade) == pytest.approx(draws([whole], 64)["steel.field"])
