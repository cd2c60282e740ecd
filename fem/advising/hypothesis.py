"""What may be the case: the machine as fitted, or one cause among several, each with what meters would show then."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.estimation.case import Case
from fem.readings.predict import predict
from fem.readings.reading import Reading

DRAWS = 128
"""Draws of each on which measurements are foretold."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Hypothesis:
    """One thing that may be the case.

    Parameters
    ----------
    words
        What.
    probability
        Of it, after the readings [-].
    shows
        Returns of readings, and how many of its equally likely draws, what meters would show, (readings, n) [SI]; nan
        without a state.
    matters
        (n, g) logarithms of what matters, of these.
    """

    words: str
    probability: float
    shows: Callable[[Sequence[Reading], int], Floats]
    matters: Floats


@dataclass(frozen=True, kw_only=True, slots=True)
class Matter:
    """Something that matters.

    Parameters
    ----------
    words
        What.
    enough
        Standard deviation, as a share, below which nobody gains by knowing it better (common practice, no source).
    """

    words: str
    enough: float


AMPERES = Matter(words="amperes with the lead ends joined", enough=0.03)
FLUX = Matter(words="flux density", enough=0.015)
TURNS = Matter(words="primary's turns", enough=0.005)


def matters_of(members: Case) -> tuple[tuple[Matter, ...], Floats]:
    """Return what matters of a machine, and its logarithms (n, g); turns where nobody counted them."""
    places = members.found.magnetising.by_place(members.at_idle.peak_flux_per_turn)
    found = {AMPERES: members.shorted.secondary_current_rms, FLUX: np.abs(places[members.found.flux_place])}
    turns = members.alone.primary_turns
    if np.ptp(turns) > 0:
        found[TURNS] = turns
    values = [np.broadcast_to(value, members.members) for value in found.values()]
    return tuple(found), np.log(np.array(values, dtype=np.float64)).T


def as_fitted(members: Case, matters: Floats) -> Hypothesis:
    """Return the machine as a fit leaves it, as members with what matters of them, as the only thing that may be."""
    return Hypothesis(
        words="as fitted",
        probability=1.0,
        shows=lambda readings, n: predict(members.first(n, frozenset()), readings),
        matters=matters,
    )
