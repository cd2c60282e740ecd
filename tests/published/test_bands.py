"""Bands and their shares against worked examples in print and exact distributions."""

from math import exp, log, pi, sqrt

import numpy as np
import pytest

from fem.quantity import Band
from fem.trust.bands import band_of, first_order, fitted
from fem.trust.doubts import Doubt
from fem.trust.draws import MOST, Draws, draws

Z = 1.6448536269514722
"""95 % quantile of the standard normal distribution."""


def normal(name: str, mean: float, spread: float) -> Doubt:
    low, high = mean - Z * spread, mean + Z * spread
    return Doubt(name=name, kind="normal", low=low, typical=mean, high=high, drawn="value", words=name)


def rectangular(name: str, low: float, high: float) -> Doubt:
    return Doubt(name=name, kind="rectangular", low=low, typical=(low + high) / 2, high=high, drawn="value", words=name)


def interval(values: np.ndarray, found: Draws, share: float = 0.95) -> tuple[float, float]:
    many = fitted(values, found, np.arange(len(values))).many
    low, high = np.quantile(many, [(1 - share) / 2, (1 + share) / 2])
    return float(low), float(high)


@pytest.mark.parametrize("n", [64, 256])
@pytest.mark.parametrize(
    ("doubts", "half", "scatter"),
    [
        # JCGM 101:2008, clause 9.2, X1 + X2 + X3 + X4 (figures from memory): 95 % intervals of 9.2.2, 9.2.3, 9.2.4
        ([normal(f"x{i}", 0, 1) for i in range(4)], 3.92, 0.08),
        ([rectangular(f"x{i}", -sqrt(3), sqrt(3)) for i in range(4)], 3.88, 0.08),
        ([rectangular(f"x{i}", -sqrt(3) * s, sqrt(3) * s) for i, s in enumerate((1, 1, 1, 10))], 17.0, 0.15),
    ],
    ids=["normal", "rectangular", "one dominates"],
)
def test_sum_of_four(doubts: list[Doubt], half: float, scatter: float, n: int) -> None:
    found = draws(doubts, n)
    low, high = interval(sum(found[f"x{i}"] for i in range(4)), found)
    # scatter of a quantile of 4096 draws: sqrt(0.025 0.975/4096) over the density there, which is 0.029 of a normal one
    # of this spread, and 0.0165 where one dominates
    assert (-low, high) == pytest.approx((half, half), abs=scatter)


def test_mass_calibration() -> None:
    # JCGM 101:2008, clause 9.3 (figures from memory): deviation of a mass from 100 g [mg] with the air's buoyancy.
    # 1.2340, standard uncertainty 0.0754, shortest 95 % interval 1.0834 to 1.3825; by first order alone 0.0539, for the
    # air's and the masses' densities only act together.
    doubts = [
        normal("reference", 100_000.0, 0.050),
        normal("balance", 1.234, 0.020),
        rectangular("air", 1.10, 1.30),
        rectangular("mass", 7000, 9000),
        rectangular("weights", 7950, 8050),
    ]
    found = draws(doubts, 256)
    buoyancy = (found["air"] - 1.2) * (1 / found["mass"] - 1 / found["weights"])
    values = (found["reference"] + found["balance"]) * (1 + buoyancy) - 100_000.0
    surface = fitted(values, found, np.arange(256))
    assert float(surface.many.std()) == pytest.approx(0.0754, rel=0.02)
    low, high = interval(values, found)
    assert (low, high) == pytest.approx((1.0834, 1.3825), abs=0.006)
    band = band_of(values, found)
    assert isinstance(band, Band)
    shares = dict(band.terms)
    # 0.050^2 and 0.020^2 over 0.0754^2; the rest only together
    assert shares["reference"] == pytest.approx(0.44, abs=0.03)
    assert shares["balance"] == pytest.approx(0.07, abs=0.02)
    assert shares["together"] == pytest.approx(0.49, abs=0.03)


def test_comparison_loss() -> None:
    # JCGM 101:2008, clause 9.4, at X1 = X2 = 0: X1^2 + X2^2 of two normal ones of spread u is exponential of mean 2 u^2
    u = 0.005
    doubts = [normal("x1", 0, u), normal("x2", 0, u)]
    found = draws(doubts, 256)
    band = band_of(found["x1"] ** 2 + found["x2"] ** 2, found)
    assert isinstance(band, Band)
    exact = [-2 * u**2 * log(1 - share) for share in (0.05, 0.95)]
    assert (band.low, band.high) == pytest.approx(exact, rel=0.05)
    assert dict(band.terms) == pytest.approx({"x1": 0.5, "x2": 0.5}, abs=0.03)


def test_lognormal_product() -> None:
    # exact: exp of a normal one; from few values, by the surface of the logarithm
    doubts = [
        Doubt(name=n, kind="lognormal", low=1 / r, typical=1, high=r, drawn="factor", words=n)
        for n, r in (("a", 3.0), ("b", 1.5))
    ]
    found = draws(doubts, 32)
    band = band_of(found["a"] * found["b"], found)
    assert isinstance(band, Band)
    half = sqrt(log(3.0) ** 2 + log(1.5) ** 2)
    assert (band.low, band.high) == pytest.approx((exp(-half), exp(half)), rel=0.02)


def test_ishigami() -> None:
    # sin x1 + 7 sin^2 x2 + 0.1 x3^4 sin x1: first-order shares 0.3139, 0.4424 and 0 (T. Ishigami and T. Homma, 1990; as
    # A. Saltelli et al., Global Sensitivity Analysis, 2008, print them, from memory; they follow from integrals)
    found = draws([rectangular(f"x{i}", -pi, pi) for i in (1, 2, 3)], MOST)
    x1, x2, x3 = (found[f"x{i}"] for i in (1, 2, 3))
    values = np.sin(x1) + 7 * np.sin(x2) ** 2 + 0.1 * x3**4 * np.sin(x1)
    # bins of 64: by chance their means would scatter by 1/64 of what the others make, here by less
    assert [first_order(values, x) for x in (x1, x2, x3)] == pytest.approx([0.3139, 0.4424, 0.0], abs=0.01)
    band = band_of(values, found)
    assert isinstance(band, Band)
    # no polynomial of second order follows this: its shares are those of the bins
    assert dict(band.terms) == pytest.approx({"x2": 0.4424, "x1": 0.3139, "together": 0.2437}, abs=0.015)
