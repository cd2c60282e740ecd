"""Draws: the published sequence, balanced in every prefix, faster than chance; bands of what fails or has no end."""

import importlib.resources
from math import inf, nan, sqrt

import numpy as np
import pytest
from scipy import stats

from fem.quantity import Band, Unknown
from fem.trust.bands import band_of
from fem.trust.doubts import Doubt
from fem.trust.draws import MOST, draws
from fem.trust.sobol import axis, most_axes
from geometries.described.tables import table_rows


def rectangular(name: str, width: float = 1.0, measure: str = "") -> Doubt:
    return Doubt(
        name=name,
        kind="rectangular",
        low=-width,
        typical=0.0,
        high=width,
        drawn="shift",
        words=name,
        measure=measure,
    )


def test_axes_are_those_in_print() -> None:
    with np.load(str(importlib.resources.files("scipy.stats") / "_sobol_direction_numbers.npz")) as held:
        first = [" ".join(str(m) for m in row if m) for row in held["vinit"][:1000]]
        known = list(zip(map(str, held["poly"][:1000]), first, strict=True))
    sequence = stats.qmc.Sobol(1000, scramble=False, rng=0)
    theirs = (sequence.random_base2(12) * MOST).astype(int)
    gray = np.arange(MOST) ^ (np.arange(MOST) >> 1)
    rows = table_rows("fem.trust", "sobol.csv")
    assert len(rows) == most_axes()
    for place, row in enumerate(rows):
        column = known.index((row["polynomial"], row["initial"]))
        assert np.array_equal(axis(place, scrambled=False)[gray], theirs[:, column])


@pytest.mark.parametrize("n", [2, 32, 256, MOST])
def test_every_prefix_is_balanced(n: int) -> None:
    for place in range(most_axes()):
        strata = axis(place)[:n] * n // MOST
        assert np.array_equal(np.sort(strata), np.arange(n))


@pytest.mark.parametrize("n", [32, 64, 256])
def test_leading_doubts_run_apart(n: int) -> None:
    points = np.stack([axis(place)[:n] for place in range(12)])
    off = np.corrcoef(points)[np.triu_indices(12, 1)]
    # of independent draws the mean square is 1/n: these must do better
    assert np.mean(off**2) < 0.5 / n


def test_quantiles_are_those_of_the_distributions() -> None:
    shares = np.linspace(0.01, 0.99, 25)
    cases = [
        ("triangular", 0.9, 1.0, 1.1, stats.triang(0.5, 0.9, 0.2)),
        ("triangular", 0.9, 0.95, 1.1, stats.triang(0.25, 0.9, 0.2)),
        ("rectangular", 2.0, 2.5, 3.0, stats.uniform(2, 1)),
        ("log-uniform", 0.2, 0.5, 1.25, stats.loguniform(0.2, 1.25)),
        ("normal", -1.0, 0.0, 1.0, stats.norm(0, 1 / stats.norm.ppf(0.95))),
        ("lognormal", 0.5, 1.0, 2.0, stats.lognorm(np.log(2) / stats.norm.ppf(0.95))),
    ]
    for kind, low, typical, high, exact in cases:
        doubt = Doubt(name="x", kind=kind, low=low, typical=typical, high=high, drawn="value", words="x")
        assert doubt.quantile(shares) == pytest.approx(exact.ppf(shares), rel=1e-9, abs=1e-12)


def test_means_come_faster_than_by_chance() -> None:
    # of a sum of smooth functions of one doubt each; by chance the error falls as n^-1/2
    found = draws([rectangular(f"x{i}") for i in range(20)], MOST)
    value = sum(np.exp(found[f"x{i}"]) for i in range(20))
    exact = 20 * np.sinh(1.0)
    counts = np.array([16, 64, 256, 1024, 4096])
    errors = np.array([abs(value[:n].mean() - exact) for n in counts])
    # of stratified points the error of a smooth function's mean falls as n^-3/2
    assert np.polyfit(np.log(counts), np.log(errors), 1)[0] < -1.3
    # its variance is (e^2 - e^-2)/4 - sinh(1)^2 = 0.43
    assert errors[0] < 0.5 * sqrt(20 * 0.43 / 16)


def test_same_doubts_give_the_same_digits() -> None:
    doubts = [rectangular("x"), rectangular("y")]
    draws.__globals__["_kept"].cache_clear()
    first = draws(doubts, 64)["y"].copy()
    draws.__globals__["_kept"].cache_clear()
    assert np.array_equal(draws(doubts, 64)["y"], first)


def test_refusals() -> None:
    with pytest.raises(ValueError, match="two doubts of one name"):
        draws([rectangular("x"), rectangular("x")])
    with pytest.raises(ValueError, match="at most 4096 draws"):
        draws([rectangular("x")], 5000)


def test_a_band_goes_through_few_values() -> None:
    # 30 doubts, of which two count: 32 values are enough to find them
    found = draws([rectangular(f"x{i}", measure=f"measure x{i}") for i in range(30)], 32)
    value = 10 + 3 * found["x3"] + found["x17"] + 0.5 * found["x3"] ** 2 + 0.02 * sum(found[f"x{i}"] for i in range(30))
    many = found.more
    all_of_them = 10 + 3 * many["x3"] + many["x17"] + 0.5 * many["x3"] ** 2
    band = band_of(value, found)
    assert isinstance(band, Band)
    low, high = np.quantile(all_of_them, [0.05, 0.95])
    assert (band.low, band.high) == pytest.approx((low, high), abs=0.05 * (high - low))
    assert [words for words, _ in band.terms[:2]] == ["x3", "x17"]
    assert band.terms[0][1] == pytest.approx(0.9, abs=0.03)
    assert band.measure == "measure x3"
    # what is left is what the band is without that doubt's variance
    assert band.left == pytest.approx(float(np.std(many["x17"]) / np.std(all_of_them)), rel=0.1)


@pytest.mark.parametrize(("n", "most"), [(32, 0.13), (64, 0.04), (256, 0.01)])
def test_widths_are_as_good_as_they_are_said_to_be(n: int, most: float) -> None:
    # lognormal numbers that some six of sixty doubts drive, each by less than the one before, against all 4096 draws
    rng = np.random.default_rng(0)
    found = draws([rectangular(f"x{i}") for i in range(60)], n)
    errors = []
    for _ in range(12):
        order = rng.permutation(60)[:25]
        weights = np.exp(-np.arange(25) / rng.uniform(1.5, 6)) * rng.choice([-1, 1], 25)
        few, many = (
            np.exp(0.25 * sum(w * some[f"x{i}"] for w, i in zip(weights, order, strict=True)))
            for some in (found, found.more)
        )
        band = band_of(few, found)
        assert isinstance(band, Band)
        low, high = np.quantile(many, [0.05, 0.95])
        errors.append((band.high - band.low) / (high - low) - 1)
    assert sqrt(np.mean(np.square(errors))) < most


def test_an_end_that_is_beyond_is_open() -> None:
    found = draws([rectangular("x")], 64)
    value = np.where(found["x"] > 0.5, inf, found["x"])
    band = band_of(value, found, beyond="never get there")
    assert isinstance(band, Band)
    assert band.high == inf
    assert band.low == pytest.approx(-0.9, abs=2 / 64)
    assert band.why == "25 % of draws never get there"
    assert band.terms[0][0] == "x"


def test_what_lies_beyond_but_rarely_leaves_both_ends() -> None:
    found = draws([rectangular("x")], 64)
    band = band_of(np.where(found["x"] > 0.95, inf, found["x"]), found)
    assert isinstance(band, Band)
    assert band.high == pytest.approx(0.9, abs=2 / 64)


def test_what_cannot_be_computed_is_no_band() -> None:
    found = draws([rectangular("x")], 64)
    lost = band_of(np.where(found["x"] > 0.5, nan, found["x"]), found)
    assert isinstance(lost, Unknown)
    assert lost.reason == "16 of 64 draws of what is in doubt could not be computed"
    few = band_of(np.where(found["x"] > 0.95, nan, found["x"]), found)
    assert isinstance(few, Band)
    never = band_of(np.full(64, inf), found, beyond="not reached before it melts")
    assert isinstance(never, Unknown)
    assert never.reason == "not reached before it melts"


def test_what_is_in_no_doubt_has_a_band_of_no_width() -> None:
    found = draws([rectangular("x")], 64)
    band = band_of(np.full(64, 3.0), found)
    assert isinstance(band, Band)
    assert (band.low, band.high, band.terms) == (3.0, 3.0, ())
