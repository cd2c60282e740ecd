"""A steel's whole magnetisation curve in doubt, in place of one factor on its ampere-turns; the exponent of its loss.

The logarithm of the field strength over the grade's is a Gaussian process over flux density, of mean 0 and covariance

    s^2 exp(-(u - u')^2 / 2),        u(B) = B / L + w (1/K - 1/L) tanh((B - B_k) / w),

so that a curve keeps its distance from another's over a length L, at the knee, where curves cross, over K alone. It is
told by its values at `KNOTS`: by standard normal scores z and Cholesky's factor C of their covariance, ln(H/H_grade) is
k(B)' C'^-1 z at B (C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, chapter 2).
Between knots 1 % of the variance is lost.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log, sqrt

import numpy as np

from fem.arrays import Floats
from fem.assumptions import assumed
from fem.materials.bh import BHCurve
from fem.trust.doubt import Doubt
from fem.trust.draws import Draws

LENGTH, AT_KNEE, KNEE, WIDTH = 0.55, 0.25, 1.37, 0.12
"""L, K, B_k and w [T], the likeliest for the curves of the eight grades in fem/materials that have one of their own,
0.2 to 1.9 T, with 2 to 3 % of each point's own (tests/published/test_steel_curve.py): below the knee grades differ by
coercive field, above it by silicon and texture, the one telling little of the other. Their likeliest s round the mean
of all is 0.44, that of "half to twice" (the row for a borrowed curve) 0.42: two grades are sqrt(2) of it apart."""
_SPACING = 0.75
"""Of knots, in lengths."""
_LEAST, _MOST = 0.1, log(8.0)
"""Of the table's own rise of ln(H) from row to row, which is left to any curve; the farthest that one may be off."""
FIELD, EXPONENT = "steel.field", "loss.exponent"
"""What is replaced, each knot's doubt with a number behind it, and what is added."""
POOR = "steel.poor"
"""A factor on the ampere-turns of all of the curve besides, of steel that is not what it is taken for."""
EXPONENTS = 0.25
"""By how much the exponent of loss over flux density may be off its grade's, nine times out of ten: grades' guarantees
have 1.97 to 2.23 between 1.0 and 1.5 T (fem/materials/steels.csv), small built transformers 1.6 to 2.0."""
LOSS_TOLD_AT = 1.5
"""Flux density at which a grade's loss is guaranteed, which an exponent leaves as it is [T]."""


def lengths(B: Floats) -> Floats:
    """Return flux densities (b,) [T] as lengths over which curves keep their distance, u [-]."""
    return np.asarray(B / LENGTH + WIDTH * (1 / AT_KNEE - 1 / LENGTH) * np.tanh((B - KNEE) / WIDTH))


KNOTS = np.arange(lengths(np.array([0.1]))[0], lengths(np.array([2.1]))[0] + _SPACING / 2, _SPACING)
"""In lengths [-]: 0.1 to 2.1 T."""


def in_place_of_a_factor(doubts: Sequence[Doubt], *, borrowed: bool) -> tuple[Doubt, ...]:
    """Return doubts with the steel's curve in place of the one factor on its ampere-turns.

    `borrowed` is one of another grade than the sheet's, or of none that was told.
    """
    found: list[Doubt] = []
    for doubt in doubts:
        if doubt.name != FIELD:
            found.append(doubt)
            continue
        size = log(doubt.high / doubt.low) / 2 * (sqrt(2) if borrowed else 1.0)
        like = {"kind": "normal", "low": -size, "typical": 0.0, "high": size, "drawn": "value"}
        for place in range(len(KNOTS)):
            found.append(Doubt(name=f"{FIELD}.{place}", words=doubt.words, measure=doubt.measure, **like))  # type: ignore[arg-type]
    return tuple(found)


def exponent_of_loss() -> Doubt:
    """Return the doubt of the exponent of loss over flux density, by what it is off its grade's [-]."""
    return Doubt(
        name=EXPONENT,
        kind="normal",
        low=-EXPONENTS,
        typical=0.0,
        high=EXPONENTS,
        drawn="value",
        words="loss exponent",
        measure="measure the input watts at no load at two voltages",
    )


def field_over_table(draws: Draws, steel: BHCurve) -> Floats:
    """Return the steel's field strength over its table's at the rows but the first: (n, rows), or (n,) of one factor.

    A table that says by how much it may be off at each row is off by that, in place of what its kind usually is.
    """
    if f"{FIELD}.0" in draws:
        at_knots = np.stack([draws[f"{FIELD}.{place}"] for place in range(len(KNOTS))], axis=1)
        least = _LEAST * np.log(steel.H[1:])
        rising = np.log(steel.H[1:]) - least + np.clip(at_knots @ weights(steel.B[1:]), -_MOST, _MOST)
        found = np.exp(np.maximum.accumulate(rising, axis=1) + least) / steel.H[1:]
    else:
        found = np.asarray(draws[FIELD])
    if steel.within is not None:
        row = assumed("field of a table")
        sizes = np.log1p(steel.within[1:]) / (log(row.high / row.low) / 2)
        found = (found if found.ndim > 1 else found[:, None]) ** sizes
    return np.asarray((found.T * draws[POOR]).T if POOR in draws else found)


def density_over_table(draws: Draws, steel: BHCurve) -> Floats:
    """Return the steel's flux density over its table's (n,) [-]: 1 where the table tells its own doubt."""
    return np.asarray(draws["steel.flux"] if steel.within is None else np.ones(len(draws)))


def weights(B: Floats) -> Floats:
    """Return what a unit of each knot's score adds at flux densities (b,) [T], in units of the size: (knots, b)."""

    def alike(one: Floats, other: Floats) -> Floats:
        return np.asarray(np.exp(-0.5 * (one[:, None] - other) ** 2))

    lower = np.linalg.cholesky(alike(KNOTS, KNOTS) + 1e-9 * np.eye(len(KNOTS)))
    return np.asarray(np.linalg.solve(lower, alike(KNOTS, lengths(B))))


def loss_over_grade(draws: Draws, flux: Floats, told_at: float) -> Floats:
    """Return what an exponent makes of the loss at fluxes (p,), of which one is that at `LOSS_TOLD_AT`: (n, p) or 1."""
    if EXPONENT not in draws:
        return np.ones((1, 1))
    return np.asarray((flux / told_at) ** draws[EXPONENT][:, None])
