"""The next measurement: every one that can be made, by what it is expected to tell, its trouble and its danger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from fem.advising.hypothesis import DRAWS, Hypothesis, Matter, as_fitted, matters_of
from fem.advising.information import after_others, halvings, of_causes, repeating, spread_left
from fem.arrays import Floats
from fem.estimation.case import Case
from fem.estimation.fields.source import Source
from fem.fitting.found import Fit
from fem.quantity import of
from fem.readings.described import BurstTest, Readings
from fem.readings.measurements import Danger, Measurement, as_readings, filled, measurements, usual
from fem.readings.predict import covariance, predict
from fem.readings.protocol import Box, expectations
from fem.readings.reading import Reading, readings_of
from fem.threads import one_thread
from fem.trust.bands import HIGH, LOW
from fem.trust.doubt import Z90
from fem.trust.draws import FEW

ALIKE = 0.95
"""Correlation of the errors of one meter that shows nearly the same again in the same test: what it is off stays, how
the probes lie and where a dial is set does not (common practice, no source)."""
AGAIN = 1.1
"""Ratio of two readings within which they are the same again."""
WELL = "as described"
LOST = 0.1
"""Share of the draws without a state from which a measurement is not foretold."""
PRICES: Mapping[Danger, float] = {Danger.NONE: 0.0, Danger.LIVE: 0.1, Danger.HOT: 0.2, Danger.FULL: 1.0}
"""What a measurement must tell to be worth its danger [halvings]: lead ends joined on the mains must halve all that is
in doubt by themselves (a choice)."""
PER_HOUR = 0.2
"""What it must tell to be worth an hour [halvings] (a choice)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Under:
    """What one meter will show if something is the case, its error within."""

    words: str = of("", "what is the case")
    value: float = of("", "median")
    low: float = of("", "5 % quantile")
    high: float = of("", "95 % quantile")


@dataclass(frozen=True, kw_only=True, slots=True)
class Foretold:
    """What one meter will show."""

    words: str = of("", "what is read")
    unit: str = of("", "SI unit of its values")
    under: tuple[Under, ...] = of("", "if all is as described, and if what may be the case is")


@dataclass(frozen=True, kw_only=True, slots=True)
class Narrowed:
    """What a measurement makes of something that matters."""

    words: str = of("", "what matters")
    before: float = of("-", "half width of its 90 % interval, as a share")
    left: float = of("-", "the same, as expected after the measurement")


@dataclass(frozen=True, kw_only=True, slots=True)
class Advice:
    """One measurement, and what speaks for and against it."""

    name: str = of("", "what to measure")
    how: str = of("", "how it is done safely")
    off: str = of("", "what a reading beyond means")
    danger: str = of("", "what it can do")
    minutes: float = of("-", "how long it takes [min]")
    wound: bool = of("", "whether the new secondary must be wound")
    tells: float = of("-", "expected information on causes and what matters [halvings of doubt]")
    of_causes: float = of("-", "what of it is on causes")
    worth: float = of("-", "what it tells, less what its danger and its time must be worth")
    narrows: tuple[Narrowed, ...] = of("", "what matters, before and after")
    readings: tuple[Foretold, ...] = of("", "what meters will show")


@dataclass(frozen=True, kw_only=True, slots=True)
class Next:
    """All measurements, the most worth first."""

    measurements: tuple[Advice, ...] = of("", "measurements")
    instruments: tuple[str, ...] = of("", "what there is to measure with")
    assumed: bool = of("", "whether nobody told these")


@dataclass(frozen=True, kw_only=True, eq=False)
class Prospect:
    """What may be, with what some meters would show then, of draws of each: what was read before taken into account.

    Parameters
    ----------
    what, each
        What matters, and what may be the case.
    matters, shows
        Of each: (n, g) and (n, m) logarithms, so that errors that go with a reading are one number.
    noise
        (m, m) covariance of the meters' errors.
    """

    what: Sequence[Matter]
    each: Sequence[Hypothesis]
    matters: Sequence[Floats]
    shows: Sequence[Floats]
    noise: Floats

    @property
    def of_causes(self) -> float:
        """Expected fall of the entropy of what is the case [halvings]."""
        spreads = [np.cov(y, rowvar=False).reshape(self.noise.shape) + self.noise for y in self.shows]
        return of_causes(self._shares, np.array([y.mean(axis=0) for y in self.shows]), np.array(spreads))

    @property
    def of_what_matters(self) -> float:
        """Expected information on what matters, were it known what is the case [halvings]."""
        enough = np.array([one.enough for one in self.what])
        found = 0.0
        for share, v, y in zip(self._shares, self.matters, self.shows, strict=True):
            before = np.cov(v, rowvar=False, ddof=0).reshape(len(enough), -1)
            found += share * halvings(before, spread_left(v, y, self.noise), enough)
        return found

    @property
    def narrows(self) -> tuple[Narrowed, ...]:
        """What matters before and after, whatever is the case."""
        weights = np.repeat(self._shares / [len(v) for v in self.matters], [len(v) for v in self.matters])
        v, y = np.concatenate(self.matters), np.concatenate(self.shows)
        pairs = [np.diag(spread_left(v, shown, self.noise, weights)).clip(0.0) for shown in (0 * y, y)]
        return tuple(
            Narrowed(words=one.words, before=Z90 * sqrt(before), left=Z90 * sqrt(left))
            for one, before, left in zip(self.what, *pairs, strict=True)
        )

    def under(self, place: int) -> tuple[Under, ...]:
        """Return what one meter will show."""
        own, found = Z90 * sqrt(self.noise[place, place]), []
        for one, y in zip(self.each, self.shows, strict=True):
            low, middle, high = np.quantile(y[:, place], (LOW, 0.5, HIGH))
            ends = middle - np.hypot(middle - low, own), middle, middle + np.hypot(high - middle, own)
            least, value, most = (float(end) for end in np.exp(ends))
            found.append(Under(words=one.words, value=value, low=least, high=most))
        return tuple(found)

    @property
    def _shares(self) -> Floats:
        return np.array([one.probability for one in self.each])


@dataclass(frozen=True, kw_only=True, eq=False)
class Bench:
    """What was read and can be, on draws of what may be the case.

    Parameters
    ----------
    shows
        Of each hypothesis, (n, r + m) logarithms, what was read first.
    taken
        (r,) logarithms of what was read.
    errors
        (r + m, r + m) covariance of the meters' relative errors.
    """

    what: Sequence[Matter]
    each: Sequence[Hypothesis]
    shows: Sequence[Floats]
    taken: Floats
    errors: Floats

    def prospect(self, places: Sequence[int], n: int | None = None) -> Prospect | None:
        """Return what some of the new readings would tell by the first n draws; None where too few have a state."""
        taken = len(self.taken)
        kept = [*range(taken), *(taken + place for place in places)]
        matters, shows, noise = [], [], np.empty(0)
        for one, all_of_it in zip(self.each, self.shows, strict=True):
            whole, v = all_of_it[:n, kept], one.matters[:n]
            known = np.isfinite(whole).all(axis=1) & np.isfinite(v).all(axis=1)
            if known.mean() < 1 - LOST:
                return None
            off = self.taken - whole[known, :taken]
            new, noise = after_others(whole[known, taken:], off, self.errors[np.ix_(kept, kept)])
            shows.append(new)
            matters.append(v[known])
        return Prospect(what=self.what, each=self.each, matters=matters, shows=shows, noise=noise)


@one_thread()
def advice(found: Fit, described: Readings, source: Source, *, burst: bool = False, most: int | None = None) -> Next:
    """Return what to measure next.

    Parameters
    ----------
    found
        A fit to readings.
    described
        These, with the bench and what instruments there are.
    source
        Where the fields come from.
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
    each = (as_fitted(members, matters),)
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
