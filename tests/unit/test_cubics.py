"""Cubics, roots and the quotient of Bessel functions against scipy, which a start does not wait for."""

from math import atan, cos, exp

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import CubicHermiteSpline, CubicSpline, PchipInterpolator
from scipy.optimize import brentq
from scipy.special import ive

from fem.bessel import round_quotient
from fem.cubics import Cubics, monotone_slopes
from fem.roots import root, roots


@pytest.mark.parametrize("count", [4, 5, 40])
def test_cubics_are_those_of_scipy(count: int) -> None:
    random = np.random.default_rng(count)
    x = np.cumsum(random.uniform(0.1, 1, count))
    y, slope = random.normal(size=(2, count, 3))
    at = np.linspace(x[0] - 0.3, x[-1] + 0.3, 300)
    level = np.round(y[:, 0])  # stretches without a rise, and corners
    for ours, theirs in (
        (Cubics.smooth(x, y), CubicSpline(x, y)),
        (Cubics.hermite(x, y, slope), CubicHermiteSpline(x, y, slope)),
        (Cubics.monotone(x, level), PchipInterpolator(x, level)),
    ):
        assert ours(at) == pytest.approx(theirs(at), rel=1e-9, abs=1e-9)
        assert ours(at, 1) == pytest.approx(theirs(at, 1), rel=1e-9, abs=1e-9)
        assert ours(x[2]) == pytest.approx(theirs(x[2]), rel=1e-12)
    assert monotone_slopes(x[:2], level[:2]) == pytest.approx((level[1] - level[0]) / (x[1] - x[0]))


@pytest.mark.parametrize(
    ("function", "low", "high"),
    [
        (lambda x: cos(x) - x, 0.0, 2.0),
        (lambda x: exp(x) - 1e5, 0.0, 100.0),
        (lambda x: x**3 - 2e-20, -1.0, 2.0),
        (lambda x: atan(1e6 * (x - 0.77)), 0.0, 1e4),
        (lambda x: x - 1, 1.0, 3.0),
        (lambda x: x - 3, 1.0, 3.0),
    ],
)
def test_roots_are_those_of_scipy(function, low: float, high: float) -> None:
    tries: list[float] = []
    expected, report = brentq(function, low, high, full_output=True)
    assert root(lambda x: tries.append(x) or function(x), low, high) == pytest.approx(expected, abs=4e-12)
    assert len(tries) <= report.function_calls
    with pytest.raises(ValueError, match="no change of sign"):
        root(function, high + 1, high + 2)


def test_the_quotient_of_bessel_functions_from_thin_to_thick() -> None:
    z = (1 + 1j) * np.geomspace(1e-3, 300, 400)
    assert np.abs(round_quotient(z) * ive(1, z) / (z * ive(0, z)) - 1).max() < 1e-13


def test_many_roots_are_those_of_scipy_each() -> None:
    """Steep, flat and bent functions, some with a root at an end: to the last digits that brentq gives, 1e-13."""
    steep, level = np.array([0.1, 1.0, 5.0, 30.0, 2.0, 1.0]), np.array([0.5, 2.0, 1e-3, 3.0, 0.0, np.e**2 - 1])

    def values(x: NDArray[np.float64], k: object = slice(None)) -> NDArray[np.float64]:
        return np.asarray(np.expm1(steep[k] * x) + x**3 * (level[k] == 2.0) - level[k])  # type: ignore[index]

    low, high = np.zeros(6), np.full(6, 2.0)
    high[0] = 9.0
    found = roots(values, low, high)
    expected = [brentq(values, a, b, args=(k,), xtol=1e-15) for k, (a, b) in enumerate(zip(low, high, strict=True))]
    np.testing.assert_allclose(found, expected, rtol=1e-13, atol=1e-14)
    near = roots(values, low, high, xtol=np.full(6, 1e-3))
    assert np.all(np.abs(near - expected) <= 1e-3)


def test_columns_are_monotone_each_as_alone() -> None:
    x = np.array([0.0, 1.0, 1.5, 4.0, 6.0])
    columns = np.stack([x**2, np.sin(x), np.ones(5), np.array([0.0, 3.0, 3.0, 4.0, -1.0])], axis=1)
    found = Cubics.monotone(x, columns)
    at = np.linspace(0.0, 6.0, 41)
    np.testing.assert_allclose(found(at), PchipInterpolator(x, columns, axis=0)(at), atol=1e-14)
