"""Causes as a fit ranks them, each with what meters would show then."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from fem.advising.hypothesis import Hypothesis, matters_of
from fem.arrays import Floats
from fem.estimation.case import Case
from fem.fitting.causes.cause import rows
from fem.fitting.causes.ranked import Ranked
from fem.fitting.measured import Measured
from fem.readings.predict import predict
from fem.readings.reading import Reading
from fem.trust.draws import Draws
from fem.trust.scored import balanced, scored

DRAWS = 64
"""Draws of each on which measurements are foretold."""
LEAST, MOST = 0.03, 5
"""Probability from which a cause is among what may be, and how many are."""


def of_causes(
    case: Case, each: Sequence[Ranked], measured: Measured, readings: Sequence[Reading]
) -> tuple[Hypothesis, ...]:
    """Return the causes that are likely; none where there are not two of them.

    Parameters
    ----------
    case
        The fit's design with its fields.
    each
        All causes, the likeliest first.
    measured, readings
        By which these were ranked.

    Notes
    -----
    Draws of a cause are those of the normal distribution at its maximum (Laplace's approximation). Where a cause goes
    once it is mended, what matters is that of the machine without it. A reading that is wrong tells nothing of itself.
    """
    likely = [one for one in each if one.probability > LEAST and one.modes][:MOST]
    if len(likely) < 2:
        return ()
    whole = sum(one.probability for one in likely)
    told = []
    for one in likely:
        mode, kept = one.modes[0], measured if one.misread is None else measured.without(one.misread)
        white = kept.whitened(mode.slopes.T).T
        spread = np.linalg.inv(np.eye(len(mode.scores)) + white.T @ white)
        middle = spread @ white.T @ (kept.whitened(kept.values - mode.predicted) + white @ mode.scores)
        scores = middle + balanced(DRAWS, len(middle)) @ np.linalg.cholesky(spread).T
        draws = scored(one.doubts, scores)
        sound = case.with_draws(draws)
        members = sound if one.cause is None else one.cause.changed(sound, draws)
        _, matters = matters_of(sound if one.cause is not None and one.cause.mended else members)
        told.append(
            Hypothesis(
                words=rows()[one.key].words if one.misread is None else f"reading {one.misread + 1} is wrong",
                probability=one.probability / whole,
                shows=partial(_shows, one, members, draws, None if one.misread is None else readings[one.misread]),
                matters=matters,
            )
        )
    return tuple(told)


def _shows(
    one: Ranked, members: Case, draws: Draws, misread: Reading | None, readings: Sequence[Reading], n: int
) -> Floats:
    few, first = members.first(n, frozenset()), draws.first(n)
    read = readings if one.cause is None else one.cause.read(readings)
    shown = predict(few, read)
    shown = shown if one.cause is None else one.cause.seen(few, first, read, shown)
    for place, reading in enumerate(readings):
        if misread is not None and reading.key == misread.key:
            shown[place] = reading.value
    return shown
