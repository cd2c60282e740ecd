"""Bands of a station's results: its own formulas for every draw of what is in doubt."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.design.load import RectifierKind
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import NOT_ASKED, Band, Unknown
from fem.trust.bands import band_of

SOME = 64
"""Draws of what is stepped through time or sought: quantiles of so many through a surface are good to a few per cent of
the band (see the tests)."""
_SOUGHT = frozenset((Part.FIRST_PEAKS, Part.SHORT_TEST, Part.SWITCH_ON))
_OF_THE_LOAD = ("load", "supply")
"""Stations that look at the load, which behind a rectifier is stepped one design at a time."""
ELSEWHERE = (
    *("heat.", "work.", "contact.", "jaws.", "joints.mass", "joints.lug_mass", "joints.clamp_mass"),
    *("model.contact", "model.heat"),
)
"""Doubts, by how their names begin, that the circuit knows nothing of."""


def station_bands(case: Case, station: Station, result: Any) -> Mapping[str, Band | Unknown]:
    """Return the bands of the results that a station names, by attribute; of what cannot be drawn a gap.

    Parameters
    ----------
    case
        As described.
    station, result
        The station and what it found; what is not known has no band.
    """
    names = [name for name in station.banded if not isinstance(told(result, name), Unknown)]
    if not names:
        return {}
    found = attempt(lambda: dict(_values(case, station, names)))
    if isinstance(found, Unknown):
        return dict.fromkeys(names, found)
    given = case.drawn.given
    assert given is not None
    among = [doubt.name for doubt in given.draws.doubts if not doubt.name.startswith(ELSEWHERE)]
    bands = {name: band_of(values, given.draws, why=given.why, among=among) for name, values in found.items()}
    return {name: _gap(case, band) if isinstance(band, Unknown) else band for name, band in bands.items()}


def _gap(case: Case, lost: Unknown) -> Unknown:
    """Return why there is no band where too many draws have no number."""
    beyond = case.drawn.beyond
    return Unknown(lost.reason if beyond is None else f"{lost.reason}: {beyond.reason}", gap=True)


def _values(case: Case, station: Station, names: Sequence[str]) -> Iterator[tuple[str, Floats]]:
    """Yield each number for every draw, or for the first so many."""
    design = case.design
    stepped = design.load is not None and design.load.rectifier is not RectifierKind.NONE
    if stepped and station.key in _OF_THE_LOAD:
        alone = [attempt(partial(station.compute, one)) for one in case.drawn.one_by_one]
        for name in names:
            numbers = [told(one, name) for one in alone]
            if NOT_ASKED not in numbers:
                yield name, np.array([np.nan if isinstance(value, Unknown) else value for value in numbers])
        return
    compute = station.of_members or station.compute
    many = compute(case.drawn)
    sought = [name for name in names if told(many, name) is NOT_ASKED]
    few = compute(case.drawn.first(SOME, case.wanted & _SOUGHT)) if sought else None
    for name in names:
        value = told(few if name in sought else many, name)
        if not isinstance(value, Unknown):
            count = SOME if name in sought else case.drawn.members
            yield name, np.array(np.broadcast_to(np.asarray(value, dtype=np.float64), count))


def told(result: Any, path: str) -> Any:
    """Return a result by its dotted attribute; what holds it, where that is not known."""
    for name in path.split("."):
        if not isinstance(result, Unknown):
            result = result[name] if isinstance(result, Mapping) else getattr(result, name)
    return result
