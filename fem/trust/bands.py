"""From a number's values over the draws to its band: quantiles, what drives it, what to measure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import combinations_with_replacement
from math import inf, sqrt
from typing import Any

import numpy as np

from fem.quantity import Band, Unknown
from fem.trust.draws import Draws

LOW, HIGH = 0.05, 0.95
"""A band goes from one quantile to the other: nine times out of ten the number lies inside."""
LOST = 0.10
"""Share of draws that may fail before there is no band."""
TOGETHER = "together"
"""What no doubt does by itself: what several do together, and what the surface does not follow."""
WORTH_WORDS = 0.01
"""Least share that is told."""
_BINNED = 0.15
"""Share of variance left by the surface from which shares are found by bins."""
_ENOUGH = 128
"""Draws from which bins can tell shares."""
_CURVED, _PATIENCE, _MOST = 8, 4, 40
"""Of how many leading doubts squares and products are tried; how many terms without gain end it; how many will do."""
_APART = 1.05
"""Sum of the shares above which doubts hang together, as readings leave them: then shares are told of that sum."""
_FOLLOWED, _WELL = 1e-5, 1e-3
"""Share of variance that is left where no more terms are asked, and where the other kind of surface is not tried."""


def band_of(
    values: Any,
    draws: Draws,
    *,
    why: str = "",
    among: Iterable[str] | None = None,
    beyond: str = "",
) -> Band | Unknown:
    """Return the band of a number.

    Parameters
    ----------
    values
        (m,) the number for the first m of the draws [SI]; inf (-inf) where it lies above (below) all that could be
        found, as a time to a temperature that is never reached; nan where it could not be computed.
    draws
        At least m.
    why
        What else is to be said of it.
    among
        Names of the doubts that can change the number; all where not given. Tell it where m is small.
    beyond
        What an infinite value is, in words: "not reached before it melts through".

    Returns
    -------
    Band
        From the 5 % to the 95 % quantile. An end that is infinite is open: more than one in twenty lies beyond.
    Unknown
        If more than a tenth could not be computed, or both ends are open.

    Notes
    -----
    A surface (`Surface`) is fitted to the values and evaluated on 4096 draws, with its residuals added. Its width's
    error, r.m.s. over numbers that some six of sixty doubts drive: of 32 values 9 % where the number is smooth and 13 %
    where it has a kink, of 64 2 % and 8 %, of 256 below 1 % and 4 %. Of m values alone a quantile's standard error is
    sqrt(0.05 0.95/m)/f, f the density there: of a normal distribution 37 % of its standard deviation with 32, 13 % with
    256.

    Where values are infinite, their own quantiles are taken, shares and measure from those that are finite.
    """
    values = np.asarray(values, dtype=float)
    failed = np.isnan(values)
    if failed.mean() > LOST or np.isfinite(values).sum() < 2:
        if not failed.any():
            return Unknown(beyond or "beyond what could be found in every draw")
        return Unknown(f"{failed.sum()} of {values.size} draws of what is in doubt could not be computed")
    kept = np.flatnonzero(~failed)
    held, open_share = values[kept], float(np.isinf(values[kept]).mean())
    bounded = kept[np.isfinite(held)]
    surface = fitted(values[bounded], draws, bounded, among=among)
    if open_share > 0:
        low, high = (float(np.quantile(held, share, method="closest_observation")) for share in (LOW, HIGH))
        why = "; ".join(
            filter(None, (why, f"{100 * open_share:.0f} % of draws {beyond or 'lie beyond what could be found'}"))
        )
    else:
        low, high = (float(q) for q in np.quantile(surface.many, (LOW, HIGH)))
    if low == -inf and high == inf:
        return Unknown(beyond or "open at both ends")
    shares = surface.shares
    measure, left = _narrowing(shares, draws)
    return Band(low=low, high=high, why=why, terms=_terms(shares, draws), measure=measure, left=left)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Surface:
    """A number as a polynomial of what is in doubt, and what that leaves.

    Parameters
    ----------
    many
        (4096,) the number for all draws, residuals added.
    shares
        Share of the variance by name of the doubt, by itself; none below 0.
    """

    many: Any
    shares: dict[str, float]


def fitted(values: Any, draws: Draws, where: Any, *, among: Iterable[str] | None = None) -> Surface:
    """Fit a surface to values.

    Parameters
    ----------
    values
        (m,), finite.
    draws
        The draws they belong to.
    where
        (m,) which of the draws.
    among
        Names of the doubts that can change the number; all where not given.

    Notes
    -----
    Terms are taken one after the other, each the one that leaves least: the doubts' scores (`Draws.score`), squares and
    products of those already taken, and of all where there are no more of these than values. It ends where the sum of
    squares of the residuals, each of a fit without its own value (PRESS: D. M. Allen, Technometrics 16 (1974) 125-127),
    falls no more. The logarithm is fitted, or the number itself where that leaves less.
    """
    names = [d.name for d in draws.doubts] if among is None else [n for n in dict.fromkeys(among) if n in draws]
    spread = float(np.std(values))
    if not spread > 1e-12 * float(np.max(np.abs(values))) or not names:
        return Surface(many=np.full(len(draws.more), float(np.mean(values))), shares={})
    scores = {name: draws.score(name)[where] for name in names}
    best = _fit(values, scores, logarithmic=bool(np.all(values > 0)))
    if best.logarithmic and best.left > _WELL:
        best = min(best, _fit(values, scores, logarithmic=False), key=lambda fit: fit.left)
    many, parts = best.over({name: draws.more.score(name) for name in best.used()}, len(draws.more))
    whole = float(np.var(np.log(many) if best.logarithmic else many))
    shares = {name: float(np.var(part)) / whole for name, part in parts.items()}
    if best.left > _BINNED and len(values) >= _ENOUGH:
        binned = {name: first_order(values, score) for name, score in scores.items()}
        shares = {name: share for name, share in binned.items() if share > 2 / sqrt(len(values))}
    if best.left > _BINNED or np.min(many) <= 0 < np.min(values):
        # what the surface leaves scatters as residuals do: no quantile leaves what was seen
        many = np.clip(many, np.min(values), np.max(values))
    if (total := sum(shares.values())) > _APART:
        shares = {name: share / total for name, share in shares.items()}
    return Surface(many=many, shares=shares)


def first_order(values: Any, inputs: Any) -> float:
    """Return the share of variance of values (n,) that an input (n,) makes by itself, from bins of equal numbers.

    Notes
    -----
    The variance of the bins' means over the whole, as many bins as the root of n. By chance it would be bins/n too
    large for what scatters within bins; of balanced draws it is less, and nothing is taken away.
    """
    n = len(values)
    bins = np.array_split(np.asarray(values)[np.argsort(inputs, kind="stable")], round(sqrt(n)))
    means, sizes = np.array([b.mean() for b in bins]), np.array([b.size for b in bins])
    return float(np.sum(sizes * (means - np.mean(values)) ** 2) / np.sum((values - np.mean(values)) ** 2))


Term = tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Fit:
    terms: tuple[Term, ...]
    weights: Any
    residuals: Any
    logarithmic: bool
    left: float

    def used(self) -> set[str]:
        return {name for term in self.terms for name in term}

    def over(self, scores: dict[str, Any], n: int) -> tuple[Any, dict[str, Any]]:
        """Return the number for n scores, and what each doubt makes of it by itself."""
        total = np.full(n, self.weights[0])
        alone: dict[str, Any] = {}
        for term, weight in zip(self.terms, self.weights[1:], strict=True):
            part = weight * _product(term, scores)
            total = total + part
            if len(set(term)) == 1:
                alone[term[0]] = alone.get(term[0], 0.0) + part
        # every residual as often as every other, in an order of its own
        total += np.resize(self.residuals, n)[_shuffled(n)]
        return (np.exp(total) if self.logarithmic else total), alone


def _fit(values: Any, scores: dict[str, Any], *, logarithmic: bool) -> _Fit:
    y = np.log(values) if logarithmic else np.asarray(values, dtype=float)
    n = len(y)
    terms: list[Term] = [(name,) for name in scores]
    if all_pairs := len(scores) * (len(scores) + 1) // 2 <= n:
        terms += combinations_with_replacement(scores, 2)
    columns = np.stack([_product(term, scores) for term in terms])
    basis = np.full((1, n), 1 / sqrt(n))
    residual, hat = y - y.mean(), np.full(n, 1 / n)
    whole = best = float(np.sum((residual / (1 - hat)) ** 2))
    taken: list[int] = []
    kept = 0
    while len(taken) < min(n // 2, _MOST) and len(taken) < kept + _PATIENCE and best > _FOLLOWED * whole:
        gains = np.abs(columns @ residual)
        gains[taken] = 0.0
        place = int(np.argmax(gains))
        direction = columns[place] - basis.T @ (basis @ columns[place])
        size = float(np.linalg.norm(direction))
        taken.append(place)
        if size < 1e-3 * sqrt(n):
            continue
        direction /= size
        basis = np.concatenate([basis, direction[None]])
        residual = residual - direction * (direction @ residual)
        hat = hat + direction**2
        leading = [terms[k][0] for k in taken if len(terms[k]) == 1]
        if len(terms[place]) == 1 and not all_pairs and len(leading) <= _CURVED:
            new = [(other, terms[place][0]) for other in leading]
            terms += new
            columns = np.concatenate([columns, *(_product(term, scores)[None] for term in new)])
        press = float(np.sum((residual / np.maximum(1 - hat, 1e-6)) ** 2))
        if press < 0.995 * best:
            best, kept = press, len(taken)
    chosen = tuple(terms[place] for place in taken[:kept])
    matrix = np.stack([np.ones(n), *(_product(term, scores) for term in chosen)], axis=1)
    weights = np.linalg.lstsq(matrix, y, rcond=None)[0]
    spare = n / max(n - len(weights), 1)
    missed = best / whole
    if logarithmic:
        # what it leaves of the number itself, to compare
        off = values - np.exp(matrix @ weights)
        missed = float(np.sum(off**2) / np.sum((values - values.mean()) ** 2)) * spare**2
    rest = (y - matrix @ weights) * sqrt(spare)
    return _Fit(terms=chosen, weights=weights, residuals=rest, logarithmic=logarithmic, left=missed)


@cache
def _shuffled(n: int) -> Any:
    return np.random.PCG64(0).random_raw(n).argsort(kind="stable")


def _product(term: Term, scores: dict[str, Any]) -> Any:
    found = scores[term[0]]
    return found if len(term) == 1 else found * scores[term[1]]


def _terms(shares: dict[str, float], draws: Draws) -> tuple[tuple[str, float], ...]:
    """Return the shares by words, largest first, with what is left of them."""
    words = {doubt.name: doubt.words for doubt in draws.doubts}
    found: dict[str, float] = {}
    for name, share in shares.items():
        found[words[name]] = found.get(words[name], 0.0) + share
    told = sorted(((w, s) for w, s in found.items() if s >= WORTH_WORDS), key=lambda each: -each[1])
    rest = 1 - sum(share for _, share in told)
    return (*told, (TOGETHER, rest)) if told and rest >= WORTH_WORDS else tuple(told)


def _narrowing(shares: dict[str, float], draws: Draws) -> tuple[str, float]:
    """Return the one measurement that narrows most, and what it would leave of the band's width [-]."""
    found: dict[str, float] = {}
    for doubt in draws.doubts:
        if doubt.measure and shares.get(doubt.name, 0.0) > 0:
            found[doubt.measure] = found.get(doubt.measure, 0.0) + shares[doubt.name]
    if not found:
        return "", 1.0
    measure = max(found, key=lambda each: found[each])
    return measure, sqrt(max(1 - found[measure], 0.0))
