"""The next measurement: every one that can be made, by what it is expected to tell, its trouble and its danger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from fem.advising.found import Advice, Foretold, Next, Under
from fem.advising.hypothesis import DRAWS, Hypothesis, Matter, as_fitted, matters_of
from fem.advising.information import repeating
from fem.advising.prospect import Bench, Prospect
from fem.estimation.case import Case
from fem.estimation.fields.source import Source
from fem.fitting.found import Fit
from fem.readings.described import BurstTest, Readings
from fem.readings.measurements import Danger, Measurement, as_readings, filled, measurements, usual
from fem.readings.predict import covariance, predict
from fem.readings.protocol import Box, expectations
from fem.readings.reading import Reading, readings_of
from fem.threads import one_thread
from fem.trust.draws import FEW

ALIKE = 0.95
"""Correlation of the errors of one meter that shows nearly the same again in the same test: what it is off stays, how
the probes lie and where a dial is set does not (common practice, no source)."""
AGAIN = 1.1
"""Ratio of two readings within which they are the same again."""
WELL = "as described"
PRICES: Mapping[Danger, float] = {Danger.NONE: 0.0, Danger.LIVE: 0.1, Danger.HOT: 0.2, Danger.FULL: 1.0}
"""What a measurement must tell to be worth its danger [halvings]: lead ends joined on the mains must halve all that is
in doubt by themselves (a choice)."""
PER_HOUR = 0.2
"""What it must tell to be worth an hour [halvings] (a choice)."""


@one_thread()
def advice(
    found: Fit,
    described: Readings,
    source: Source,
    *,
    causes: Sequence[Hypothesis] = (),
    burst: bool = False,
    most: int | None = None,
) -> Next:
    """Return what to measure next.

    Parameters
    ----------
    found
        A fit to readings.
    described
        These, with the bench and what instruments there are.
    source
        Where the fields come from.
    causes
        What may be the case; the machine as fitted alone where it is not told.
    burst
        Whether bursts into the work are among them, which take seconds to foretell.
    most
        Of how many, the best, it is said what meters will show; of all where not given.

    Raises
    ------
    NotConverged, OutOfRange
        If the machine's states cannot be solved.
    """
    case = Case(design=found.design, wanted=frozenset(), source=source)
    members = case.with_draws(found.draws.first(DRAWS))
    what, matters = matters_of(members)
    each = tuple(causes) or (as_fitted(members, matters),)
    # a machine like those that are likely: it says at which volts and amperes things are measured
    off = matters - np.nanmean(matters, axis=0)
    nearest = int(np.nanargmin(np.sum((off / (np.nanstd(off, axis=0) + 1e-12)) ** 2, axis=1)))
    lone = replace(members.member(nearest), drawn_of=None, design=found.design)
    has = described.instruments or usual(lone)
    made = [one for one in measurements(lone, has) if burst or not _is_burst(one)]
    whole, keys = as_readings(described, made)
    believed = {one.key for one in found.readings if not one.suspect}
    old = {one.key for one in found.readings}
    told = readings_of(whole)
    shows = predict(lone, told)[:, 0]
    if bursts := [place for place, reading in enumerate(told) if isinstance(reading.test, BurstTest)]:
        shows[bursts] = predict(case, [told[place] for place in bursts])[:, 0]  # a member alone has none
    told = filled(whole, np.where([one.key in old for one in told], np.nan, shows))
    taken = [one for one in told if one.key in believed]
    new = [one for one, value in zip(told, shows, strict=True) if one.key not in old and np.isfinite(value)]
    typical = {one.key: value if np.isfinite(value) else one.value for one, value in zip(told, shows, strict=True)}
    bench = _bench(lone, what, each, taken, new, typical)
    weighed = []
    for one, of_one in zip(made, keys, strict=True):
        places = [place for place, reading in enumerate(new) if reading.key.rpartition(".")[0] in of_one]
        if places and (prospect := bench.prospect(places, FEW if _is_burst(one) else None)) is not None:
            weighed.append((_advice(one, prospect), one, prospect, [new[place] for place in places]))
    weighed.sort(key=lambda each: -each[0].worth)
    apart = max(weighed, key=lambda each: each[0].of_causes, default=None)
    shown = [each for place, each in enumerate(weighed) if most is None or place < most or each is apart]
    well = expectations(case, [one for _, one, _, _ in shown], Readings(bench=described.bench))
    foretold = {
        head.name: _foretold(prospect, readings, boxes)
        for (head, _, prospect, readings), boxes in zip(shown, well, strict=True)
    }
    return Next(
        measurements=tuple(replace(head, readings=foretold.get(head.name, ())) for head, _, _, _ in weighed),
        instruments=has.words,
        assumed=described.instruments is None,
    )


def _foretold(prospect: Prospect, readings: Sequence[Reading], boxes: Sequence[Box]) -> tuple[Foretold, ...]:
    """Return what meters will show, the meters' errors within: as described, and if what may be the case is."""
    expected = {box.reading.quantity: box for box in boxes if box.reading is not None}
    found = []
    for place, reading in enumerate(readings):
        box = expected[reading.quantity]
        well = Under(words=WELL, value=box.expected, low=box.low, high=box.high)
        found.append(Foretold(words=reading.words, unit=reading.unit, under=(well, *prospect.under(place))))
    return tuple(found)


def _is_burst(one: Measurement) -> bool:
    return one.tests[0][0] == "burst"


def _advice(one: Measurement, prospect: Prospect) -> Advice:
    told, of_causes = prospect.of_what_matters, prospect.of_causes
    return Advice(
        name=one.name,
        how=one.how,
        off=one.off,
        danger=one.danger.value,
        minutes=one.minutes,
        wound=one.wound,
        tells=told + of_causes,
        of_causes=of_causes,
        worth=told + of_causes - PRICES[one.danger] - PER_HOUR * one.minutes / 60,
        narrows=prospect.narrows,
        readings=(),
    )


def _bench(
    lone: Case,
    what: Sequence[Matter],
    each: Sequence[Hypothesis],
    taken: Sequence[Reading],
    new: Sequence[Reading],
    typical: Mapping[str, float],
) -> Bench:
    both = (*taken, *new)
    values = np.array([typical[reading.key] for reading in both])
    errors = covariance(lone, both) / np.outer(values, values)
    same = {
        len(taken) + place: before
        for place, reading in enumerate(new)
        for before, other in enumerate(taken)
        if _same(reading, other) and 1 / AGAIN < typical[other.key] / typical[reading.key] < AGAIN
    }
    bursts = [isinstance(reading.test, BurstTest) for reading in both]
    shows = []
    for one in each:
        found = np.full((len(both), len(one.matters)), np.nan)
        for costly, n in ((False, len(one.matters)), (True, FEW)):
            of_kind = [place for place, burst in enumerate(bursts) if burst is costly]
            if of_kind:
                found[of_kind, :n] = one.shows([both[place] for place in of_kind], n)
        shows.append(np.log(found.T))
    return Bench(
        what=what,
        each=each,
        shows=shows,
        taken=np.log([reading.value for reading in taken]),
        errors=repeating(errors, same, ALIKE),
    )


def _same(reading: Reading, other: Reading) -> bool:
    """Return whether one meter reads the same again, in a test that differs in its volts at most."""
    if type(reading.test) is not type(other.test) or (reading.quantity, reading.meter) != (other.quantity, other.meter):
        return False
    loose = {*reading.test.SHOWN, *reading.test.GIVEN, "supply", "source_resistance"} - {"lamp"}
    return reading.test.model_dump(exclude=loose) == other.test.model_dump(exclude=loose)
