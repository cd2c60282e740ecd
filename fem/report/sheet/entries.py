"""What else stands on the sheet: the cut list, limits, what was taken and what is in doubt, in the report's words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from fem.design.transformer import Design
from fem.digits import brief
from fem.estimation.explained import of_job
from fem.estimation.result import Estimate
from fem.quantity import Band, Unknown
from fem.report.text.cut_list import between, layers_text, metres
from fem.report.text.lines import Line, missing, number
from fem.report.text.numbers import percent, shown
from fem.report.text.sure import headlines, with_band
from fem.report.verdict.amperes import short_name, when
from fem.report.verdict.answer import INTO, banded
from fem.trust.doubts import Doubt, doubts_of

PIECE_COLUMNS = (
    "cut",
    "between",
    "round the leg",
    "leads",
    "tails",
    "slack",
    "conductor",
    "layers from the leg outwards",
)
MOST_DOUBTS = 5


def pieces(estimate: Estimate) -> list[tuple[str, tuple[str, ...]]]:
    """Return what to cut: a name, and a cell for each of `PIECE_COLUMNS`."""
    found: list[tuple[str, tuple[str, ...]]] = []
    listed = estimate.cut_list
    for name, piece in listed.pieces.items() if listed else ():
        band = estimate.bands.get(f"cut_list.pieces.{name}.length_m")
        parts = (piece.round_leg, piece.leads, piece.tails, piece.slack)
        sleeves = f", sleeving {metres(piece.sleeves)}" if piece.sleeves else ""
        layers = layers_text(piece.layer_conductors, piece.layer_turns)
        turns = f"{piece.turns} turn{'s' if piece.turns > 1 else ''}; {layers}{sleeves}" if piece.turns else ""
        cells = (
            f"{piece.pieces} x {metres(piece.length)}",
            between(piece.length, band) if isinstance(band, Band) else "",
            *(metres(part) if part else "-" for part in parts),
            f"{piece.conductor}, {shown(piece.mass, 'kg')}",
            turns,
        )
        found.append((f"{name}, if wound anew" if piece.salvaged else name, cells))
    return found


def lugs(estimate: Estimate) -> list[Line]:
    """Return the lugs at each end of each cable."""
    return [
        Line(
            label=name,
            value=f"{lug.count}",
            note=f"{shown(lug.conductor_area, 'm2')}, {lug.bolt}, hole {shown(lug.hole, 'm')}",
        )
        for name, lug in (estimate.cut_list.lugs.items() if estimate.cut_list else ())
    ]


def insulation(estimate: Estimate) -> list[Line]:
    """Return what holds conductors apart, with the volts across it."""
    found = []
    for name, state in estimate.cut_list.insulation.items() if estimate.cut_list else ():
        test = f", test {shown(state.test_voltage, 'V')}" if state.test_voltage else ""
        note = f"{shown(state.working_voltage, 'V')} at work{test}: {state.kind.partition(';')[0]}"
        found.append(Line(label=name, value=shown(state.thickness, "m"), note=note))
    return found


def limits(estimate: Estimate) -> list[Line]:
    """Return what must not be passed: flux, length of a burst, rest, what the breaker carries."""
    saturation = estimate.saturation
    peak = banded(estimate, "saturation.peak_flux_density_T", saturation.peak_flux_density, "T")
    cure = ""
    if extra := saturation.extra_turns:
        turns = estimate.build.primary.turns
        cure = f"; turns needed: {saturation.fewest_primary_turns} in place of {turns}, or {extra} more, aiding"
    keep = shown(saturation.target_flux_density, "T")
    return [
        Line(label="flux, no-load peak", value=keep, note=f"is {peak}{cure}"),
        *_times(estimate),
        *_breakers(estimate),
    ]


def _times(estimate: Estimate) -> Iterator[Line]:
    heating = estimate.heating
    if isinstance(heating, Unknown):
        if heating.gap:
            yield missing(heating, "bursts and rest")
        return
    for name, words in INTO.items():
        state = getattr(heating, name)
        label = f"burst, {words}"
        if isinstance(state, Unknown) or isinstance(state.longest, Unknown):
            why = state if isinstance(state, Unknown) else state.longest
            if not isinstance(state, Unknown) or state.gap:
                yield Line(label=label, value="not known" if why.gap else "", note=why.reason)
            continue
        yield _time(estimate, label, f"heating.{name}.longest_s", state.longest, f"at most, by {state.limiting_part}")
    if duty := heating.duty:
        often = duty.shortest_period
        if isinstance(often, Unknown):
            yield missing(often, "burst to burst")
            return
        by = f"at least, by {duty.limiting_part}" if duty.limiting_part else "at least"
        yield _time(estimate, "burst to burst", "heating.duty.shortest_period_s", often, by)


def _time(estimate: Estimate, label: str, key: str, seconds: float, note: str) -> Line:
    band = estimate.bands.get(key)
    ends = f"; {with_band(seconds, band, 's')[1]}" if isinstance(band, Band) else ""
    return Line(label=label, value=number(estimate, key, seconds, "s"), note=f"{note}{ends}")


def _breakers(estimate: Estimate) -> Iterator[Line]:
    """Yield each device with what it does in each state; states in which it does the same stand together."""
    for device, states in estimate.supply.devices.items():
        does: dict[str, list[str]] = {}
        for state, forecast in states.items():
            does.setdefault(when(forecast), []).append(
                {"idle": "no-load", "shorted": "lead ends joined"}.get(state, state)
            )
        if repeated := (estimate.supply.repeated_bursts or {}).get(device):
            does.setdefault(repeated.behaviour, []).append("repeated bursts")
        note = "; ".join(f"{', '.join(names)}: {what}" for what, names in does.items())
        yield Line(label="breaker", value=short_name(device), note=note)


def taken(estimate: Estimate) -> list[Line]:
    """Return what was taken where the job tells nothing: value, and between which ends it may lie."""
    design = estimate.design
    doubts = {} if design is None else {doubt.name: doubt for doubt in doubts_of(design)}
    return [
        Line(
            label=one.key,
            value=one.value,
            note=_ends(design, doubts[one.key]) if design is not None and one.key in doubts else "",
        )
        for one in estimate.assumed
    ]


def doubtful(estimate: Estimate) -> list[tuple[str, str, str, str]]:
    """Return what drives the bands most: in words, between which ends, what of, what to measure."""
    if estimate.design is None:
        return []
    weights: Counter[str] = Counter()
    drives: dict[str, list[tuple[float, str]]] = {}
    for one in headlines(estimate):
        for words, share in one.band.terms:
            weights[words] += share  # type: ignore[assignment]
            drives.setdefault(words, []).append((share, one.words))
    doubts: dict[str, Doubt] = {}
    for doubt in doubts_of(estimate.design):
        doubts.setdefault(doubt.words, doubt)
    found: list[tuple[str, str, str, str]] = []
    for words, _ in weights.most_common():
        if words in doubts and len(found) < MOST_DOUBTS:
            most = sorted(drives[words], key=lambda each: -each[0])[:2]
            of = ", ".join(f"{what} {percent(share)}" for share, what in most)
            found.append((words, _ends(estimate.design, doubts[words]), of, doubts[words].measure))
    return found


def _ends(design: Design, doubt: Doubt) -> str:
    """Return between which ends something may lie, in its own unit where the job has it, else as shares of it."""
    value, unit = of_job(design, doubt.key)
    unit = unit.replace("degC", "K") or "-"  # temperatures are kept in K
    if not isinstance(value, int | float):
        value = 0.0
    if doubt.drawn == "factor":
        low, high = doubt.low / doubt.typical, doubt.high / doubt.typical
        if value and doubt.key == doubt.name:
            return with_band(value, Band(low=low * value, high=high * value), unit)[1]
        return f"{percent(low)} to {percent(high)} of it"
    if doubt.drawn == "shift" and value:
        shifted = Band(low=value + doubt.low - doubt.typical, high=value + doubt.high - doubt.typical)
        return with_band(value, shifted, unit)[1]
    return f"{brief(doubt.low)} to {brief(doubt.high)}" if doubt.drawn == "value" else ""
