"""What readings say of a machine: the answer first, then unknowns, readings, and what it means."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate
from typing import Literal

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.advising.found import Next
from fem.digits import digits
from fem.fitting.causes.ranked import MISREAD, NOTHING
from fem.fitting.corrected import beyond
from fem.fitting.fit import DECIDED, SUSPECT
from fem.fitting.found import Count, Finding, Fit
from fem.quantity import members, plain
from fem.report.files.json import finite, json_text
from fem.report.text.advice import next_lines, next_report
from fem.report.text.numbers import percent, scaled
from fem.report.text.numbers import shown as plainly
from fem.report.text.printable import printable
from fem.report.text.sweep import SHORT_CAUTION
from fem.trust.bands import HIGH, LOW

USUAL = 1.0
"""Standard deviations of what was in doubt, from which what moved is told in the first line."""
LIKELY, POSSIBLE = 0.5, 0.01
"""Probabilities from which a number of turns is told as what it is, and as one that it may be."""
LEAST_TOLD, ALIKE = 0.03, 1 / 3
"""Probability from which a cause is told; share of the first's, from which another cannot be told from it."""
FEW_DRAWS = 100.0
"""Draws that samples are worth, below which intervals are rough."""
_MOST = 4
_STEEL_AT = (20, 40, 60, 80, 100, 110, 120, 130, 140, 150, 160, 170, 180)
"""Flux densities at which a steel's curve is told [cT]."""


def fit_json(found: Fit, advice: Next | None = None) -> str:
    """Return all as JSON, null for what is no finite number, with what to measure next; draws are left out."""
    told = {key: plain(value) for key, value in members(found) if key not in ("draws", "design", "ranked", "measured")}
    told["next"] = None if advice is None else plain(advice)
    return json_text(finite("", told, {}))


def fit_report(found: Fit, advice: Next | None = None, *, whole: bool = False) -> RenderableType:
    """Show what it is, how sure that is and what to do next; then the tables, and the whole advice where wanted."""
    head = Text(printable(f"{found.title}: what the readings say"), style="bold")
    parts: list[RenderableType] = [
        head,
        Text("\n".join((*_wrong(found), *_answer(found), *_how_sure(found), *_next(found, advice))) + "\n"),
    ]
    parts += [
        *_causes(found),
        _unknowns(found),
        Text(),
        *_steel(found),
        _readings(found),
        Text(),
        _effects(found),
        Text(),
    ]
    parts += [Text(line) for line in _beside(found)]
    parts += [next_report(advice), Text()] if whole and advice is not None else []
    return Group(*parts, Text(SHORT_CAUTION))


def _wrong(found: Fit) -> Iterator[str]:
    """Say what is wrong, how sure that is and what to do; or that nothing is."""
    first, *others = found.causes
    if first.key == NOTHING:
        yield f"Nothing is wrong that these readings tell of ({percent(first.probability)})."
    else:
        yield f"Most likely wrong: {first.words} ({percent(first.probability)}): {first.bench}. To do: {first.mend}."
    like = [each for each in others if each.probability >= max(ALIKE * first.probability, LEAST_TOLD)]
    if like:
        names = " or ".join(f"{each.words} ({percent(each.probability)})" for each in like)
        yield f"These readings cannot tell that from {names}."
    if first.left > SUSPECT:
        yield "No single cause explains all of these readings: of them this does so least badly. Take them again."
    elif first.key not in (NOTHING, MISREAD):
        yield "What follows does not take it in: only what all else that is in doubt would make of the readings."


def _causes(found: Fit) -> Iterator[RenderableType]:
    """Show what may be wrong, with what it means and what mends it."""
    table = _table("what may be wrong", "%", "at the bench", "to mend it")
    for each in found.causes:
        if each.probability >= LEAST_TOLD:
            table.add_row(Text(printable(each.words)), percent(each.probability), Text(each.bench), Text(each.mend))
    yield from (table, Text())


def _answer(found: Fit) -> Iterator[str]:
    said = [_turns(count) for count in found.counts]
    moved = sorted((f for f in found.findings if abs(f.off) >= USUAL and not _is_count(f)), key=lambda f: -abs(f.off))
    for f in moved[:_MOST]:
        said.append(f"{f.words} {_with_band(f.value, f.low, f.high, f.unit)}, not {shown(f.before, f.unit)}")
    if len(moved) > _MOST:
        said.append(f"{len(moved) - _MOST} more below")
    if not moved:
        said.append("all else as described" if said else "as described: nothing lies far from what the job says")
    yield f"It is: {'; '.join(said)}."


def _turns(count: Count) -> str:
    job = "as the job says" if count.best == count.told else f"the job says {count.told}"
    shares = dict(sorted(zip(count.numbers, count.probabilities, strict=True)))
    if (share := shares[count.best]) >= LIKELY:
        others = [n for n, p in shares.items() if p >= POSSIBLE]
        span = f", {others[0]} to {others[-1]} possible" if len(others) > 1 else ""
        return f"{_name(count)} of {count.best} turns ({percent(share)}{span}; {job})"
    below = list(accumulate(shares.values()))
    low, high = (next(n for n, p in zip(shares, below, strict=True) if p >= end) for end in (LOW, HIGH))
    return f"{_name(count)} of about {count.best} turns ({low} to {high} nine times out of ten; {job})"


def _name(count: Count) -> str:
    return count.key.split(".")[1]


def _how_sure(found: Fit) -> Iterator[str]:
    number = {reading.key: place for place, reading in enumerate(found.readings, 1)}
    kept = [reading for reading in found.readings if not reading.suspect]
    for reading in (each for each in found.readings if each.suspect):
        others = [str(number[other]) for suspect, other in found.or_else if suspect == reading.key]
        instead = f", if it is not reading {' or '.join(others)} that is wrong" if others else ""
        yield (
            f"Suspect: reading {number[reading.key]} ({reading.key}), {shown(reading.measured, reading.unit)}; job "
            f"and all others foretell {shown(reading.predicted, reading.unit)}. It is left out{instead}."
        )
    worst = max(kept, key=lambda reading: abs(reading.residual))
    furthest = f"reading {number[worst.key]}, by {abs(worst.residual):.1f} times its uncertainty"
    agree = "one reading" if len(kept) == 1 else f"{len(kept)} readings agree"
    if abs(worst.residual) > SUSPECT:
        yield f"Contradiction: no machine that this job allows shows this; {furthest}. Trust nothing of it."
    else:
        yield f"How sure: {agree}; the furthest off is {furthest}."
    if found.miscounted is not None:
        told = found.design.windings.primary.turns
        yield (
            f"Counted wrong? The job holds the primary at {told} turns, readings tell of about {found.miscounted:.0f}: "
            "count again, or fit without --counted."
        )
    if found.minima > 1:
        yield f"{found.minima} answers that lie apart go with these readings; intervals hold all of them."
    if found.effective < FEW_DRAWS:
        yield f"Intervals are rough: the samples are worth {found.effective:.0f} independent draws."


def _next(found: Fit, advice: Next | None) -> Iterator[str]:
    wrong = [str(number) for number, reading in enumerate(found.readings, 1) if reading.suspect]
    if wrong:
        yield f"Next: take reading {' and '.join(wrong)} again."
    elif advice is not None:
        yield from next_lines(advice)


def _unknowns(found: Fit) -> RenderableType:
    table = _table("unknown", ">it is", "90 % interval", ">before", "decided by")
    number = {reading.key: place for place, reading in enumerate(found.readings, 1)}
    for finding in found.findings:
        decides = ", ".join(f"{number[key]} ({percent(share)})" for key, share in finding.decides[:3])
        values = (finding.value, finding.low, finding.high, finding.before)
        middle, low, high, before = (f"{value:.0f}" for value in values)
        span = f"{low} to {high}"
        if not _is_count(finding):
            middle, before = (shown(value, finding.unit) for value in (finding.value, finding.before))
            span = _span(finding.low, finding.high, finding.unit)
        table.add_row(Text(finding.words), middle, span, before, Text(decides or "several together"))
    return table if found.findings else Text("No reading decides anything that was in doubt.")


def _steel(found: Fit) -> Iterator[RenderableType]:
    """Show the steel's curve where readings tell of it."""
    known = [p for p in found.steel if p.left < DECIDED and round(100 * p.flux_density) in _STEEL_AT]
    if not known:
        return
    table = _table(">steel at", ">field strength", "90 % interval", f">{found.design.core.steel or 'by the job'}")
    for p in known:
        table.add_row(
            shown(p.flux_density, "T"), shown(p.field, "A/m"), _span(p.low, p.high, "A/m"), shown(p.before, "A/m")
        )
    yield from (table, Text())


def _readings(found: Fit) -> RenderableType:
    table = _table(">", "reading", ">measured", ">as fitted", ">by the job", ">off")
    for number, reading in enumerate(found.readings, 1):
        off = f"{reading.residual:+.1f}" + (" *" if reading.suspect else "")
        values = (_one(value, reading.unit) for value in (reading.measured, reading.predicted, reading.as_described))
        table.add_row(str(number), Text(printable(reading.words)), *values, off)
    return table


def _effects(found: Fit) -> RenderableType:
    table = _table("what it means", ">now", "90 % interval", ">by the job", "90 % interval")
    for e in found.effects:
        now = (shown(e.value, e.unit), _span(e.low, e.high, e.unit))
        table.add_row(Text(e.words), *now, shown(e.before, e.unit), _span(e.before_low, e.before_high, e.unit))
    return table


def _beside(found: Fit) -> Iterator[str]:
    yield "off: measured less fitted, in standard uncertainties of the reading; 1 is usual, 2 rare" + (
        "; * left out" if any(reading.suspect for reading in found.readings) else ""
    )
    if words := dict.fromkeys(finding.words for finding in found.undecided):
        yield f"No reading decides these, which stay as doubtful as they were: {', '.join(words)}."
    if more := beyond(found):
        yield f"A job file has no key for: {', '.join(more)}."
    yield ""


def _table(*columns: str) -> Table:
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    for number, name in enumerate(columns):
        right = name.startswith(">")
        whole = right or (number > 0 and "%" in name)
        justify: Literal["left", "right"] = "right" if right else "left"
        table.add_column(Text(name.lstrip(">"), style="bold"), justify=justify, overflow="fold", no_wrap=whole)
    return table


def shown(value: float, unit: str) -> str:
    """Write a value as elsewhere, but factors to three digits: a steel's flux density is known to a per cent or two."""
    return digits(value) if unit == "-" else plainly(value, unit)


def _is_count(finding: Finding) -> bool:
    return finding.key.endswith(".turns")


def _one(value: float, unit: str) -> str:
    return "no state" if value != value else shown(value, unit)


def _span(low: float, high: float, unit: str) -> str:
    """Write an interval, the unit once where both ends have the same."""
    name = scaled(high, unit)[2]
    first = shown(low, unit).removesuffix(f" {name}") if scaled(low, unit)[2] == name else shown(low, unit)
    return f"{first} to {shown(high, unit)}"


def _with_band(value: float, low: float, high: float, unit: str) -> str:
    return f"{shown(value, unit)} ({_span(low, high, unit)})"
