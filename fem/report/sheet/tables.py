"""Rows of the sheet's tables: verdict, limits, what to cut, what is in doubt, in the report's words and digits."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice

from fem.design.transformer import Design
from fem.digits import brief
from fem.estimation.explained import of_job
from fem.estimation.result import Estimate
from fem.quantity import Band, Unknown
from fem.report.text.cut_list import PRACTICE, between, cut_list, layers_text, metres
from fem.report.text.numbers import percent, shown
from fem.report.text.sure import headlines, with_band
from fem.report.verdict.amperes import short_name, when
from fem.report.verdict.answer import INTO, Decides, banded
from fem.report.verdict.whole import Verdict
from fem.trust.doubts import Doubt, doubts_of

MOST_DOUBTS, MOST_LOST = 5, 3
"""Doubts that are told, and reasons why results could not be computed."""
FITTINGS = ("crimped lugs", "insulation")
Row = tuple[str, ...]
"""Cells; a single one heads the rows that follow."""


def told(estimate: Estimate, key: str, value: float | Unknown, unit: str) -> tuple[str, str]:
    """Return a number and its band, if there is one, for reading; of what is not there the reason."""
    if isinstance(value, Unknown):
        return "not known" if value.gap else "", value.reason
    band = estimate.bands.get(key)
    return with_band(value, band, unit) if isinstance(band, Band) else (shown(value, unit), "")


def answers(found: Verdict) -> Iterator[Row]:
    """Yield the answers, what each decides in a word, and what would change the numbers most."""
    for one in found.answers:
        yield one.question, one.answer, "" if one.decides is Decides.NOTHING else one.decides.value
    pairs = zip(("doubt", "mohm"), found.changes, strict=True)
    yield "changes it most", _listed(*(f"{name}: {most}" for name, most in pairs if most)), ""


def limits(estimate: Estimate) -> Iterator[Row]:
    """Yield what must not be passed: flux, length of a burst, rest, what the breaker carries."""
    saturation, turns = estimate.saturation, estimate.build.primary.turns
    flux = f"is {banded(estimate, 'saturation.peak_flux_density_T', saturation.peak_flux_density, 'T')}"
    if saturation.extra_turns:
        fewest, extra = saturation.fewest_primary_turns, saturation.extra_turns
        flux += f"; turns needed: {fewest} in place of {turns}, or {extra} more, aiding"
    yield "flux, no-load peak", shown(saturation.target_flux_density, "T"), flux
    yield from _times(estimate)
    yield from _breakers(estimate)


def _times(estimate: Estimate) -> Iterator[Row]:
    if not (heating := estimate.heating):
        return
    for name, words in INTO.items():
        if state := getattr(heating, name):
            seconds, ends = told(estimate, f"heating.{name}.longest_s", state.longest, "s")
            yield (
                f"burst, {words}",
                seconds,
                _listed(f"at most, by {state.limiting_part}" if state.longest else "", ends),
            )
    if duty := heating.duty:
        seconds, ends = told(estimate, "heating.duty.shortest_period_s", duty.shortest_period, "s")
        by = f"at least, by {duty.limiting_part}" if duty.limiting_part else "at least"
        yield "burst to burst", seconds, _listed(by if duty.shortest_period else "", ends)


def _listed(*parts: str) -> str:
    return "; ".join(filter(None, parts))


def _breakers(estimate: Estimate) -> Iterator[Row]:
    """Yield each device with what it does in each state; states in which it does the same stand together."""
    for device, states in estimate.supply.devices.items():
        does: dict[str, list[str]] = {}
        for state, forecast in states.items():
            name = {"idle": "no-load", "shorted": "lead ends joined"}.get(state, state)
            does.setdefault(when(forecast), []).append(name)
        if repeated := (estimate.supply.repeated_bursts or {}).get(device):
            does.setdefault(repeated.behaviour, []).append("repeated bursts")
        yield "breaker", short_name(device), _listed(*(f"{', '.join(names)}: {what}" for what, names in does.items()))


def pieces(estimate: Estimate) -> Iterator[Row]:
    """Yield what to cut, and of what the length is made."""
    for name, piece in estimate.cut_list.pieces.items() if estimate.cut_list else ():
        band = estimate.bands.get(f"cut_list.pieces.{name}.length_m")
        parts = (piece.round_leg, piece.leads, piece.tails, piece.slack)
        turns = f"{piece.turns} turn{'s' if piece.turns > 1 else ''}" if piece.turns else ""
        yield (
            f"{name}, if wound anew" if piece.salvaged else name,
            f"{piece.pieces} x {metres(piece.length)}",
            between(piece.length, band) if isinstance(band, Band) else "",
            *(metres(part) if part else "-" for part in parts),
            f"{piece.conductor}, {shown(piece.mass, 'kg')}",
            _listed(
                turns,
                layers_text(piece.layer_conductors, piece.layer_turns),
                f"sleeving {metres(piece.sleeves)}" if piece.sleeves else "",
            ),
        )


def fittings(estimate: Estimate) -> list[Row]:
    """Return lugs and insulation, as the report has them; what is common practice is said once, above them."""
    lines = (line for line in cut_list(estimate) if line.label.startswith(FITTINGS))
    return [
        (line.label, line.value, line.note.replace(f": {PRACTICE}", "").replace(f" ({PRACTICE})", "")) for line in lines
    ]


def doubts(estimate: Estimate) -> Iterator[Row]:
    """Yield what drives the bands most: in words, between which ends, what of, what to measure."""
    drives: dict[str, list[tuple[float, str]]] = {}
    for one in headlines(estimate):
        for words, share in one.band.terms:
            drives.setdefault(words, []).append((share, one.words))
    all_doubts = () if estimate.design is None else doubts_of(estimate.design)
    by_words = {doubt.words: doubt for doubt in reversed(all_doubts) if doubt.words in drives}
    most = sorted(by_words, key=lambda words: -sum(share for share, _ in drives[words]))[:MOST_DOUBTS]
    for words in most:
        of = ", ".join(f"{what} {percent(share)}" for share, what in sorted(drives[words], key=lambda one: -one[0])[:2])
        yield words, _ends(estimate.design, by_words[words]), _listed(of, by_words[words].measure)


def taken(estimate: Estimate) -> Iterator[tuple[str, str]]:
    """Yield what was taken where the job tells nothing, with its band; what it leaves out; what is lost, and why."""
    design = estimate.design
    ends = {} if design is None else {one.name: _ends(design, one) for one in doubts_of(design)}
    for each in estimate.assumed:
        yield each.key, f"{each.value} ({ends[each.key]})" if ends.get(each.key) else each.value
    for section in estimate.left_out:
        yield section.key, f"none; not told: {section.untold}"
    lost: dict[str, list[str]] = {}
    for key in estimate.gaps:
        lost.setdefault(estimate.reasons[key], []).append(key)
    for reason, keys in islice(lost.items(), MOST_LOST):
        more = f" and {len(keys) - 1} more" if keys[1:] else ""
        yield keys[0], f"{more} could not be computed: {reason}".strip()


def _ends(design: Design | None, doubt: Doubt) -> str:
    """Return between which ends something may lie, in its own unit where the job has it, else as shares of it."""
    value, unit = of_job(design, doubt.key)
    unit = unit.replace("degC", "K") or "-"  # temperatures are kept in K
    value = value if isinstance(value, int | float) else 0.0
    low, high = doubt.low - doubt.typical, doubt.high - doubt.typical
    if doubt.drawn == "factor" and not (value and doubt.key == doubt.name):
        return f"{brief(100 * doubt.low / doubt.typical)} % to {brief(100 * doubt.high / doubt.typical)} % of it"
    if not value or doubt.drawn not in ("factor", "shift"):
        return ""
    scale = value / doubt.typical if doubt.drawn == "factor" else 1.0
    return with_band(value, Band(low=value + scale * low, high=value + scale * high), unit)[1]
