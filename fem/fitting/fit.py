"""Fit all that is unknown of a design to readings taken on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from math import log
from typing import Any

import numpy as np

from fem.arrays import Floats
from fem.characteristics.characterise import Progress
from fem.design.ring import in_use
from fem.design.transformer import Design
from fem.errors import OutOfRange
from fem.estimation.block import takes_block
from fem.estimation.case import Case
from fem.estimation.fields.source import Solved, Source
from fem.estimation.stations.built.saturation import SATURATION
from fem.estimation.stations.states.idle import IDLE
from fem.estimation.stations.states.open_circuit import OPEN_CIRCUIT
from fem.estimation.stations.states.short_circuit import SHORT_CIRCUIT
from fem.fitting.causes.ranked import Ranked, model_of, ranked
from fem.fitting.found import Count, Effect, Finding, Fit, Likely, Shown
from fem.fitting.linear import held, spreads, surprises
from fem.fitting.measured import Measured, Model
from fem.fitting.modes import Mode, find_modes
from fem.fitting.sampled import Counted, Sampled, sample
from fem.fitting.steel import is_of_curve, steel_curve, with_curve
from fem.fitting.unknowns import PRIMARY, SECONDARY, counted, rest_of, scale_of, unknowns_of
from fem.quantity import Unknown, json_key
from fem.readings.predict import covariance, predict
from fem.readings.reading import Reading
from fem.threads import one_thread
from fem.trust.bands import HIGH, LOW
from fem.trust.doubt import Z90, Doubt
from fem.trust.draws import DRAWS
from fem.trust.scored import balanced, scored
from fem.trust.sobol import MOST

SUSPECT = 4.0
"""Standard deviations off what all others foretell, beyond which a reading is left out."""
LIKE = 0.8
"""Of the most surprising reading, from which another may as well be the one that is wrong."""
MISCOUNTED = 3.0
"""Standard deviations that turns as readings tell of them lie off those counted, from which the count is doubted."""
STEP = 0.01
"""Of the logarithm of these, by which readings are differenced either way."""
STARTS = 3
"""Of the draws of what is in doubt, the likeliest from which the search starts too."""
SEEN = 64
"""Draws that are looked at for them."""
DECIDED = 0.9
"""Of the spread that was in doubt: what is left above this, no reading decides."""
MOVES = 0.3
"""Of its standard uncertainty, by which a reading is moved by a standard deviation of what is worth telling."""
WORTH = 0.1
"""Of an unknown's variance: a reading that takes less does not decide it."""
_RESULTS = (
    (SATURATION, "peak_flux_density", "peak flux density, leg of the primary"),
    (IDLE, "current_rms", "no-load current"),
    (IDLE, "core_loss", "core loss, no-load"),
    (OPEN_CIRCUIT, "secondary_voltage_rms", "no-load volts"),
    (SHORT_CIRCUIT, "secondary_current_rms", "lead ends joined, into them"),
    (SHORT_CIRCUIT, "primary_current_rms", "lead ends joined, from the mains"),
)
"""What is told before and after: station, result, words."""
_SOLVED = Solved()


@dataclass(frozen=True, kw_only=True, eq=False)
class Fitted:
    """Maxima, the readings that are believed, and pairs of which one is left out and the other may be the wrong one."""

    measured: Measured
    modes: tuple[Mode, ...]
    doubtful: tuple[tuple[int, int], ...]


@one_thread()
def fit_of(
    design: Design,
    readings: Sequence[Reading],
    *,
    primary: bool = True,
    secondary: bool = False,
    source: Source = _SOLVED,
    progress: Progress = lambda _: None,
) -> Fit:
    """Fit all that is in doubt of a design, and turns that nobody counted, to readings.

    Parameters
    ----------
    design
        As far as it is known: what it says, with its doubts, is where the fit starts from.
    readings
        As from `readings_of`; fewer than unknowns will do.
    primary, secondary
        Whether the turns of either are unknown. They are whole numbers, in the room that the winding has with the turns
        that the design says: no field is solved again.
    source
        Where fields come from.
    progress
        Told in words what is under way.

    Raises
    ------
    OutOfRange
        If no machine that the doubts allow has a state in which the readings could be taken.
    DoesNotFit, NotConverged, ValueError
        As `estimate`.
    """
    built = in_use(design)
    if not takes_block(built):  # a rectified load, which no reading here is taken with
        built = built.model_copy(update={"load": None})
    case = Case(design=built, wanted=frozenset(), source=source, tell=progress)
    case.slopes  # noqa: B018  fields and their derivatives are solved together
    doubts = with_curve(unknowns_of(case.design, primary=primary, secondary=secondary), readings, case.design)
    progress("fit")

    model = model_of(case, doubts, readings)
    values = np.array([reading.value for reading in readings])
    first = Measured(values=values, covariance=covariance(case, readings))
    fitted = robust(model, first, _starts(model, first, doubts))
    # what conditions move is told anew where the machine lies
    at_best = case.with_draws(scored(doubts, fitted.modes[0].scores[None])).member(0)
    anew = Measured(values=values, covariance=covariance(replace(at_best, drawn_of=None), readings))
    fitted = robust(model, anew, np.empty((0, len(doubts))), fitted.modes)
    progress("causes")
    whole = replace(fitted.measured, left_out=())
    modes = fitted.modes
    if fitted.measured.left_out:
        modes = find_modes(model, whole, np.empty((0, len(doubts))), fitted.modes)
    causes = ranked(case, doubts, model, readings, whole, modes)
    progress("draws")
    counts = _counts(case.design, doubts, fitted)
    found = sample(model, fitted.measured, fitted.modes, counts)
    miscounted = None if primary else _miscounted(case, doubts, readings, fitted)
    return _told(case, doubts, readings, fitted, found, counts, miscounted, causes, whole)


def _miscounted(case: Case, doubts: Sequence[Doubt], readings: Sequence[Reading], fitted: Fitted) -> float | None:
    """Return the primary's turns that readings tell of where they contradict those counted; by first order alone."""
    free = next(doubt for doubt in unknowns_of(case.design, primary=True, secondary=False) if doubt.name == PRIMARY)
    mode = fitted.modes[0]
    off = log(free.high) / Z90  # logarithm of the turns by a unit of their score
    steps = np.column_stack((np.array([STEP, -STEP]) / off, np.tile(mode.scores, (2, 1))))
    more, less = predict(case.with_draws(scored((free, *doubts), steps)), readings).T
    shift, spread = held(mode, fitted.measured, np.nan_to_num((more - less) / (2 * STEP)))
    if abs(shift) < MISCOUNTED * spread:
        return None
    return float(case.design.windings.primary.turns * np.exp(shift))


def _likely(found: Sequence[Ranked], readings: Sequence[Reading], measured: Measured) -> tuple[Likely, ...]:
    """Return causes as they are told."""
    told = []
    for each in found:
        row = each.row
        words = row.words if each.misread is None else f"{row.words}: {readings[each.misread].key}"
        kept = measured if each.misread is None else measured.without(each.misread)
        left = float(np.abs(surprises(each.modes[0], kept)).max()) if each.modes else float("nan")
        told.append(
            Likely(
                key=each.key,
                words=words,
                probability=each.probability,
                before=row.prior,
                bench=row.bench,
                mend=row.mend,
                left=left,
            )
        )
    return tuple(told)


def _starts(model: Model, measured: Measured, doubts: Sequence[Doubt]) -> Floats:
    """Return where to search from: what is described, and the likeliest of some draws."""
    spread = balanced(SEEN, len(doubts))
    likely = measured.log_likelihood(model(spread))
    best = np.argsort(-likely)[:STARTS]
    found = np.concatenate([np.zeros((1, len(doubts))), spread[best[np.isfinite(likely[best])]]])
    if not np.isfinite(measured.log_likelihood(model(found))).any():
        msg = "no machine that this job allows has a state for these readings: check its core, its turns, and the volts"
        raise OutOfRange(msg)
    return found


def robust(model: Model, measured: Measured, starts: Floats, near: Sequence[Mode] = ()) -> Fitted:
    """Return the maxima with all readings that do not contradict the others."""
    doubtful: list[tuple[int, int]] = []
    while True:
        modes = find_modes(model, measured, starts, near)
        off, kept = np.abs(surprises(modes[0], measured)), measured.kept
        worst = int(np.argmax(off))
        if off[worst] < SUSPECT or len(kept) <= max(1, len(measured.values) // 2):
            return Fitted(measured=measured, modes=modes, doubtful=tuple(doubtful))
        others = np.flatnonzero(off >= LIKE * off[worst])
        doubtful += [(int(kept[worst]), int(kept[other])) for other in others if other != worst]
        measured, near = measured.without(int(kept[worst])), modes


def _counts(design: Design, doubts: Sequence[Doubt], fitted: Fitted) -> tuple[Counted, ...]:
    found, modes = [], fitted.modes
    spread = np.max([np.sqrt(np.diag(mode.covariance(fitted.measured))) for mode in modes], axis=0)
    for place, doubt in enumerate(doubts):
        if doubt.name in (PRIMARY, SECONDARY):
            apart = max(abs(mode.scores[place] - modes[0].scores[place]) for mode in modes)
            found.append(counted(design, place, doubt, float(modes[0].scores[place]), float(spread[place] + apart / 6)))
    return tuple(found)


def _told(
    case: Case,
    doubts: Sequence[Doubt],
    readings: Sequence[Reading],
    fitted: Fitted,
    found: Sampled,
    counts: Sequence[Counted],
    miscounted: float | None,
    causes: tuple[Ranked, ...],
    whole: Measured,
) -> Fit:
    rest = rest_of(case.design)
    # what no reading tells of is as it was
    every = np.concatenate([found.scores, balanced(MOST, len(rest), first=len(doubts))], axis=1)
    known = scored((*doubts, *rest), every)
    findings = _findings(case, doubts, readings, fitted, found)
    moves = np.abs(fitted.measured.whitened(fitted.modes[0].slopes.T)).max(axis=1)
    told = [(f, moved) for f, moved in zip(findings, moves, strict=True) if not is_of_curve(f.key)]
    after = case.with_draws(known.first(DRAWS))
    assert after.given is not None
    return Fit(
        title=case.design.title,
        findings=tuple(sorted((f for f, _ in told if f.left < DECIDED), key=lambda f: f.left)),
        undecided=tuple(f for f, moved in told if f.left >= DECIDED and moved > MOVES),
        steel=steel_curve(case, known),
        counts=tuple(_count(case.design, doubts, found, each) for each in counts),
        readings=_shown(case, readings, found.predicted, fitted),
        or_else=tuple((readings[a].key, readings[b].key) for a, b in fitted.doubtful),
        minima=len(fitted.modes),
        effects=_effects(case, after),
        joints=(float(np.median(after.given.joints)), float(np.std(after.given.joints))),
        log_evidence=found.log_evidence,
        effective=found.effective,
        miscounted=miscounted,
        causes=_likely(causes, readings, whole),
        ranked=causes,
        measured=whole,
        draws=known,
        design=case.design,
    )


def _quantiles(values: Any) -> tuple[float, float, float]:
    """Return the 5 % quantile, the median and the 95 % quantile of what is no nan."""
    low, middle, high = (float(q) for q in np.nanquantile(values, (LOW, 0.5, HIGH)))
    return low, middle, high


def _findings(
    case: Case, doubts: Sequence[Doubt], readings: Sequence[Reading], fitted: Fitted, found: Sampled
) -> list[Finding]:
    each = spreads(fitted.modes[0], fitted.measured)
    keys = [readings[place].key for place in fitted.measured.kept]
    told = []
    for place, doubt in enumerate(doubts):
        scale, scores = scale_of(case, doubt), found.scores[:, place]
        values = scale.of(doubt, scores) * _longer(case.design, doubts, doubt.name, found.scores)
        low, middle, high = _quantiles(values)
        before = scale.of(doubt, np.array([-Z90, 0.0, Z90]))
        takes = sorted(zip(keys, 1 - (each[0, place] / each[1:, place]) ** 2, strict=True), key=lambda pair: -pair[1])
        told.append(
            Finding(
                key=doubt.name,
                words=scale.words,
                unit=scale.unit,
                value=middle,
                low=low,
                high=high,
                spread=float(np.std(values)),
                before=float(before[1]),
                before_low=float(before[0]),
                before_high=float(before[2]),
                off=float(scores.mean()),
                left=float(scores.std()),
                decides=tuple((key, float(share)) for key, share in takes if share > WORTH),
                measure=doubt.measure,
            )
        )
    return told


def _longer(design: Design, doubts: Sequence[Doubt], name: str, scores: Floats) -> Any:
    """Return how much longer a winding's wire is than that of the turns that the job says (n,); 1 of all else [-]."""
    winding, _, what = name.partition(".")
    names = [doubt.name for doubt in doubts]
    key = f"windings.{winding}.turns"
    if what != "resistance" or key not in names or getattr(design.windings, winding).resistance is not None:
        return 1.0
    place = names.index(key)
    return doubts[place].quantile(None, scores[:, place])


def _count(design: Design, doubts: Sequence[Doubt], found: Sampled, counts: Counted) -> Count:
    name = doubts[counts.place].name
    # scores of counts are those of the lattice, to the last bit
    where = np.searchsorted(counts.scores, found.scores[:, counts.place])
    shares = np.bincount(where, minlength=len(counts.numbers)) / len(where)
    order = np.argsort(-shares, kind="stable")[: int(np.count_nonzero(shares))]
    middle = order[0] if shares[order[0]] > 0.5 else np.searchsorted(np.cumsum(shares), 0.5)
    return Count(
        key=name,
        best=int(counts.numbers[middle]),
        told=getattr(design.windings, name.split(".")[1]).turns,
        numbers=tuple(int(n) for n in counts.numbers[order]),
        probabilities=tuple(float(p) for p in shares[order]),
    )


def _shown(case: Case, readings: Sequence[Reading], predicted: Floats, fitted: Fitted) -> tuple[Shown, ...]:
    measured = fitted.measured
    off = dict(zip(measured.kept.tolist(), surprises(fitted.modes[0], measured), strict=True))
    described = predict(case, readings)[:, 0]
    told = []
    for place, reading in enumerate(readings):
        low, middle, high = _quantiles(predicted[:, place])
        uncertainty = float(measured.uncertainties[place])
        residual = (reading.value - middle) / uncertainty
        spread = float(np.hypot(uncertainty, np.nanstd(predicted[:, place])))
        told.append(
            Shown(
                key=reading.key,
                words=reading.words,
                unit=reading.unit,
                measured=reading.value,
                uncertainty=uncertainty,
                as_described=float(described[place]),
                predicted=middle,
                low=low,
                high=high,
                residual=residual,
                surprise=float(off.get(place, (reading.value - middle) / spread)),
                suspect=place in measured.left_out,
            )
        )
    return tuple(told)


def _effects(case: Case, after: Case) -> tuple[Effect, ...]:
    found = []
    for station, name, words in _RESULTS:
        declared = next(f for f in fields(station.result) if f.name == name)
        values = [getattr((station.of_members or station.compute)(each), name) for each in (case.drawn, after)]
        if any(isinstance(value, Unknown) for value in values):
            continue
        (low, middle, high), (low_after, middle_after, high_after) = map(_quantiles, values)
        found.append(
            Effect(
                key=f"{station.key}.{json_key(station.result, name)}",
                words=words,
                unit=declared.metadata["unit"],
                before=middle,
                before_low=low,
                before_high=high,
                value=middle_after,
                low=low_after,
                high=high_after,
            )
        )
    return tuple(found)
