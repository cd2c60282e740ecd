"""Which cause explains all readings together best: prior times evidence.

The evidence of a cause is the density of the readings under it, all that is unknown taken in. Screened, with the
slopes G of the readings by standard normal scores at the maximum z without a cause, and cells of the cause's size x of
weight w and slopes g within,

    p(y) = sum_x w(x) N(y - f(x) + G z; 0, G G' + g g' + S)

(linear regression, C. E. Rasmussen and C. K. I. Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.30, S
the readings' covariance). Of the likeliest, by Laplace's approximation at a maximum of its own (D. J. C. MacKay, Neural
Comput. 4 (1992) 415). A reading that is wrong may be any number from a tenth to ten times of what it is: its density
among such takes the place of that which the others foretell, so that all evidences are of the same readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import log, pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.errors import NotConverged, OutOfRange
from fem.estimation.case import Case
from fem.fitting.causes.cause import Cause, Doubts, Row, rows
from fem.fitting.causes.known import causes_of
from fem.fitting.linear import surprises
from fem.fitting.measured import Measured, Model
from fem.fitting.modes import Mode, find_modes
from fem.readings.predict import predict
from fem.readings.reading import Reading
from fem.trust.scored import raw_at, scored

FARTHER = 0.05
"""And by how much more of what nothing wrong lies below: straight lines from there err the more, the farther off."""
NOTHING, MISREAD = "nothing", "misread"
FAR = 8.0
"""Score of any unknown from which there is no machine: first order makes areas negative far out."""
CELLS = np.linspace(-1.8, 1.8, 7)
"""Scores of a cause's size that are looked at."""
_STEP = float(CELLS[1] - CELLS[0])
_WITHIN = _STEP / sqrt(12)
"""Standard deviation of an even distribution over a cell."""
_BESIDE = 0.5
"""Score by which what else a cause has is differenced."""
LIKELY, MOST = 6.0, 5
"""Of the logarithm of prior times evidence, by which a cause may lie below the best to be looked at closely; and how
many are at most."""
SUSPECTS = 2
"""Readings, the most surprising, of which each is looked at closely as the one that is wrong."""
MISREADINGS = -log(log(100.0))
"""Logarithm of the density of a reading that is wrong, times the reading: evenly in its logarithm."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Ranked:
    """One cause as readings have it.

    Parameters
    ----------
    cause
        None without one, or where a reading is wrong.
    key
        Of `causes.csv`.
    doubts, model
        What is in doubt under it, and what meters show.
    modes
        Maxima, where they were looked for.
    log_evidence
        Logarithm of the readings' density.
    probability
        Of all that are ranked together [-].
    misread
        Which reading is wrong; None where none is.
    """

    cause: Cause | None
    key: str
    doubts: Doubts
    model: Model
    modes: tuple[Mode, ...]
    log_evidence: float
    probability: float = 0.0
    misread: int | None = None

    @property
    def row(self) -> Row:
        """How common it is, and its words."""
        return rows()[self.key]

    @property
    def log_share(self) -> float:
        """Logarithm of prior times evidence."""
        return log(self.row.prior) + self.log_evidence

    def size(self) -> float | None:
        """Return how great it is at its maximum [SI]; None where it has no size, or was not looked at closely."""
        if self.cause is None or not self.cause.unknowns or not self.modes:
            return None
        doubt = self.cause.unknowns[0]
        place = [each.name for each in self.doubts].index(doubt.name)
        return float(raw_at(doubt, self.modes[0].scores[place]))


def model_of(case: Case, doubts: Doubts, readings: Sequence[Reading], cause: Cause | None = None) -> Model:
    """Return what meters show of members at scores of what is in doubt (n, k), with a cause or without: (n, m)."""
    read = readings if cause is None else cause.read(readings)

    def near(scores: Floats) -> Floats:
        draws = scored(doubts, scores)
        members = case.with_draws(draws)
        if cause is None:
            return predict(members, read).T
        members = cause.changed(members, draws)
        return cause.seen(members, draws, read, predict(members, read)).T

    def model(scores: Floats) -> Floats:
        kept = np.abs(scores).max(axis=1) < FAR
        shows = np.full((len(scores), len(readings)), np.nan)
        if kept.any():
            shows[kept] = near(scores[kept])
        return shows

    return model


def with_cause(doubts: Doubts, cause: Cause) -> Doubts:
    """Return what is in doubt under a cause: its own in place of those of the same names, the others behind."""
    own = {doubt.name: doubt for doubt in cause.unknowns}
    return (*(own.pop(doubt.name, doubt) for doubt in doubts), *own.values())


def ranked(
    case: Case,
    doubts: Doubts,
    model: Model,
    readings: Sequence[Reading],
    measured: Measured,
    modes: Sequence[Mode],
) -> tuple[Ranked, ...]:
    """Return all causes, the likeliest first, with nothing wrong among them.

    Parameters
    ----------
    case
        As described.
    doubts, model
        What is in doubt without a cause, and what meters show.
    readings, measured
        All of them, none left out.
    modes
        Maxima without a cause.
    """
    none = Ranked(
        cause=None, key=NOTHING, doubts=doubts, model=model, modes=tuple(modes), log_evidence=_evidence(modes)
    )
    found = [none, *_misread(none, measured)]
    screened = [_screened(case, none, readings, measured, cause) for cause in causes_of(case, doubts, readings)]
    in_turn = sorted((each for each in screened if each), key=lambda pair: -pair[0].log_share)
    best = max(none.log_share, *(each.log_share for each, _ in in_turn))
    for place, (each, start) in enumerate(in_turn):
        modes = ()
        if place < MOST and each.log_share > best - LIKELY - FARTHER * (best - none.log_share):
            modes = find_modes(each.model, measured, np.empty((0, len(each.doubts))), [start])
        found.append(replace(each, modes=modes, log_evidence=_evidence(modes)) if modes else each)
    shares = np.array([each.log_share for each in found])
    shares = np.exp(shares - np.logaddexp.reduce(shares))
    told = [replace(each, probability=float(share)) for each, share in zip(found, shares, strict=True)]
    return tuple(sorted(told, key=lambda each: -each.probability))


def _evidence(modes: Sequence[Mode]) -> float:
    return float(np.logaddexp.reduce([mode.log_share for mode in modes]))


def _misread(none: Ranked, measured: Measured) -> list[Ranked]:
    """Return that one reading is wrong, any of them alike, for those that surprise most."""
    worst = np.argsort(-np.abs(surprises(none.modes[0], measured)))[:SUSPECTS]
    found = []
    for place in measured.kept[worst] if len(measured.kept) > 1 else ():
        fewer = measured.without(int(place))
        modes = find_modes(none.model, fewer, np.empty((0, len(none.doubts))), none.modes)
        density = MISREADINGS - log(measured.values[place]) - log(len(measured.kept))
        found.append(
            replace(none, key=MISREAD, misread=int(place), modes=modes, log_evidence=_evidence(modes) + density)
        )
    return found


def _screened(
    case: Case, none: Ranked, readings: Sequence[Reading], measured: Measured, cause: Cause
) -> tuple[Ranked, Mode] | None:
    """Return a cause by straight lines, and where its maximum is to be sought; None where it has no state."""
    doubts, mode = with_cause(none.doubts, cause), none.modes[0]
    names = [doubt.name for doubt in doubts]
    own = [names.index(doubt.name) for doubt in cause.unknowns]
    model = model_of(case, doubts, readings, cause)
    start = np.pad(mode.scores, (0, len(doubts) - len(mode.scores)))
    slopes = np.pad(mode.slopes, ((0, 0), (0, len(doubts) - len(mode.scores))))
    start[own], slopes[:, own] = 0.0, 0.0
    cells = CELLS if own else np.zeros(1)
    points = np.tile(start, (len(cells) + 2 * len(own[1:]), 1))
    points[: len(cells), own[:1]] = cells[:, None]
    for row, place in enumerate(own[1:]):  # from the middle cell
        points[len(cells) + 2 * row : len(cells) + 2 * row + 2, place] = -_BESIDE, _BESIDE
    try:
        shown = model(points)
    except (NotConverged, OutOfRange, ValueError):  # it asks for a machine that cannot be: what else is ranked stays
        return None
    shown, beside = shown[: len(cells)], shown[len(cells) :]
    for row, place in enumerate(own[1:]):
        slopes[:, place] = np.nan_to_num((beside[2 * row + 1] - beside[2 * row]) / (2 * _BESIDE))
    seen = np.isfinite(shown).all(axis=1)
    if not seen.any():
        return None
    cells, points, shown = cells[seen], points[: len(cells)][seen], shown[seen]
    along = np.gradient(shown, cells, axis=0) if len(cells) > 1 else np.zeros_like(shown)
    weight = log(_STEP / sqrt(2 * pi)) if own else 0.0
    log_shares, best = [], None
    for cell, point, here, rise in zip(cells, points, shown, along, strict=True):
        G, others = slopes.copy(), point.copy()
        if own:  # even within a cell, and straight
            G[:, own[0]], others[own[0]] = rise * _WITHIN, 0.0
        white = measured.whitened(G.T).T
        off = measured.whitened(measured.values - here) + white @ others
        total = white @ white.T + np.eye(len(off))
        solved = np.linalg.solve(total, off)
        share = weight - 0.5 * (cell**2 + float(off @ solved) + float(np.linalg.slogdet(total)[1]))
        log_shares.append(share)
        if best is None or share > best[0]:
            scores = white.T @ solved
            if own:
                scores[own[0]] = cell + scores[own[0]] * _WITHIN
                G[:, own[0]] = rise
            best = share, scores, G, here
    assert best is not None
    evidence = float(measured.log_likelihood(measured.values)) + float(np.logaddexp.reduce(log_shares))
    each = Ranked(cause=cause, key=cause.key, doubts=doubts, model=model, modes=(), log_evidence=evidence)
    _, scores, G, here = best
    predicted = model(scores[None])[0]
    if np.isnan(predicted).any():  # beyond what states there are: from the cell itself
        scores = np.where(np.isin(np.arange(len(doubts)), own[:1]), points[0], start)
        scores[own[:1]] = cells[int(np.argmax(log_shares))]
        predicted = here
    return each, Mode(scores=scores, predicted=predicted, slopes=G, log_share=evidence)
