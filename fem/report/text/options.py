"""What to wind: the ranked secondaries for the screen, as JSON and as CSV."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from dataclasses import fields
from io import StringIO
from math import inf
from typing import Any

from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.design.transformer import Design
from fem.digits import digits, duration
from fem.options.aims import ENOUGH, STEP
from fem.options.candidates import MOST_IN_HAND, MOST_VOLTS, NEARLY, Candidate
from fem.options.found import WindingOption, WindingOptions
from fem.options.outcome import Outcome
from fem.options.winding import COMPUTED
from fem.quantity import Show, Unknown
from fem.report.files.json import json_text
from fem.report.text.numbers import percent, shown
from fem.report.text.printable import cell, printable
from fem.report.text.sure import with_band
from fem.report.text.sweep import SHORT_CAUTION
from fem.sweeps.rows.flat import flat
from geometries.windings.lays import MOST_PLACED

MOST_NEARLY = 5
"""Conductors that do not quite fit, which are told."""
WAYS = {
    "beside": "beside the primary",
    "below": "below the primary",
    "over": "over the primary",
    "other leg": "on the other leg",
    "split": "half on either side",
    "under": "under the primary",
    "as it is": "where the job has it",
}


def options_report(found: WindingOptions, design: Design) -> RenderableType:
    """Show the best with its bands and what to write into the job, then all that were computed."""
    wanted = "; ".join(f"{aim.said()} ({aim.told})" for aim in found.aims) or "nothing told: the most current"
    count = len(found.options)
    head = [
        Text(printable(f"What to wind: {design.title}"), style="bold"),
        Text(f"Wanted: {wanted}."),
        Text(
            f"{found.fitting} secondaries fit; {count} were computed to the end, "
            f"the best by a quick screening{'' if count < found.fitting else ', which are all'}."
        ),
        Text(),
    ]
    if not found.options:
        return Group(*head, Text("none was computed"), Text(SHORT_CAUTION))
    body: list[RenderableType] = [*_best(found, design), *_table(found), Text()]
    return Group(*head, *body, *map(Text, _notes(found)), Text(), Text(SHORT_CAUTION))


def _best(found: WindingOptions, design: Design) -> Iterator[RenderableType]:
    best = found.options[0]
    yield Rule(f"Best: {named(best.candidate)}", align="left", characters="-", style="none")
    yield Text(f"{found.reason[:1].upper()}{found.reason[1:]}.")
    table = Table.grid(padding=(0, 2))
    for item in fields(Outcome):
        value, meta = getattr(best.outcome, item.name), item.metadata
        band = best.outcome.bands.get(item.name)
        text, note = str(value), ""
        if isinstance(value, Unknown):
            text, note = "", value.reason
        elif item.name == "bands":
            continue
        elif band is not None:
            text, note = with_band(value, band, meta["unit"], meta["show"])
        elif isinstance(value, float):
            text = duration(value) if meta["unit"] == "s" else shown(value, meta["unit"])
            text = percent(value) if meta["show"] is Show.SHARE else text
        table.add_row(Text(meta["label"]), Text(text, style="bold"), Text(note, style="dim"))
    yield table
    yield Text("\nin the job file:\n" + "\n".join(f"  {line}" for line in job_lines(best.candidate, design)) + "\n")


def named(candidate: Candidate) -> str:
    """Say what is wound and where, in a few words."""
    lay = candidate.winding.lay or "layers as they go in"
    layers = lay.split(" + ")
    lay = f"{len(layers)} layers of {layers[0]}" if len(layers) > 4 else lay
    return f"{_short(candidate)}, {lay}, {WAYS[candidate.way]}"


def _short(candidate: Candidate) -> str:
    winding = candidate.winding
    in_hand = f" x {winding.wires_in_hand} in hand" if winding.wires_in_hand > 1 else ""
    return f"{winding.turns} turn{'s' if winding.turns > 1 else ''}{in_hand} of {candidate.stock.label}"


HEADINGS = (
    ("fits", "mm over", 8),
    ("no load", "V", 8),
    ("into work", "A", 10),
    ("joined", "A", 7),
    ("to temp.", "s", 9),
    ("burst", "longest", 12),
    ("rest", "between", 12),
    ("breaker", "", 9),
    ("idle", "A", 6),
    ("cable", "m", 7),
    ("copper", "kg", 7),
)
"""Of the numbers of each secondary, in two lines, and how wide they are."""


def _table(found: WindingOptions) -> Iterator[RenderableType]:
    """Show two lines for each that was computed: what it is and misses, and its numbers below."""
    yield Rule("All that were computed, the best first", align="left", characters="-", style="none")
    for line in (0, 1):
        yield Text(_columns(str(heading[line]) for heading in HEADINGS), style="dim")
    for number, option in enumerate(found.options, 1):
        missed = [word for word, margin in option.margins.items() if margin < 0]
        misses = f"; misses {', '.join(missed)}" if missed else "; has all" if option.margins else ""
        yield Text(f"{number:>3}  {named(option.candidate)}{misses}", style="bold")
        yield Text(_columns(_numbers(option)))


def _columns(cells: Iterable[str]) -> str:
    return "    " + "".join(cell.rjust(width) for cell, (_, _, width) in zip(cells, HEADINGS, strict=True))


def _numbers(option: WindingOption) -> Iterator[str]:
    found = option.outcome
    yield digits(1e3 * min(found.spare_height, found.spare_build), 2)
    for value in (found.no_load_voltage, found.current, found.joined_current, found.time_to_temperature):
        yield _number(value)
    yield _number(found.longest_burst, " s")
    period, burst = found.shortest_period, found.burst
    yield "-" if isinstance(period, Unknown) or isinstance(burst, Unknown) else _number(period - burst, " s")
    yield found.breaker or "-"
    yield _number(found.idle_current)
    yield f"{digits(found.conductor_length)}{'!' if 'stock' in option.margins else ''}"
    yield _number(found.secondary_mass)


def _number(value: float | Unknown, unit: str = "") -> str:
    if isinstance(value, Unknown):
        return "never" if "never" in value.reason else "?" if value.gap else "-"
    return duration(max(value, 0.0)) if unit else digits(value)


def _notes(found: WindingOptions) -> Iterator[str]:
    just: dict[str, str] = {}  # of each number of turns the best lay
    for option in found.options[1:]:
        if len(option.misses) == 1:
            just.setdefault(_short(option.candidate), option.misses[0])
    if just:
        yield f"Just missed: {'; '.join(f'{what}: {miss}' for what, miss in list(just.items())[:MOST_NEARLY])}."
    least: dict[object, Candidate] = {}
    for one in found.nearly:
        kind = one.stock, one.way, round(one.lacks, 4)
        if kind not in least or least[kind].winding.conductors < one.winding.conductors:
            least[kind] = one
    if least:
        some = list(least.values())[:MOST_NEARLY]
        told = "; ".join(f"{named(one)}: {digits(1e3 * one.lacks, 2)} mm" for one in some)
        yield f"Nearly fit, and lack: {told} (all that lack less than {1e3 * NEARLY:g} mm are in the JSON)."
    if found.assumed_stock:
        yield "No [shop] list is told: welding cables of common sizes (IEC 60228) with typical jackets are assumed."
    yield (
        f"The primary stays as it is. Taken are up to {MOST_VOLTS:g} V with no load, {MOST_IN_HAND} wires in hand and "
        f"{MOST_PLACED} conductors. Order: fewest things missed; then the least margin, the next least and so on, in "
        f"steps of {100 * STEP:g} % up to {100 * ENOUGH:g} %, or the most current where nothing asks for it; then the "
        "least copper. Burst: from cold, until a part is as warm as repeated work allows (- none is); rest: the least "
        "between such bursts for good; cable: to cut, with tails and slack (! more than is in stock)."
    )
    for line in found.failed:
        yield f"Not computed: {line}"
    if found.stopped:
        yield f"Stopped before all of the {COMPUTED} were computed: what is there is ranked."


def job_lines(candidate: Candidate, design: Design) -> list[str]:
    """Return the lines of a job file that tell a candidate's windings, as far as they are not the job's."""
    lines, windings = [], candidate.windings
    if windings.arrangement is not design.windings.arrangement or windings.legs is not design.windings.legs:
        lines += ["[windings]", f'arrangement = "{windings.arrangement.value}"', f'legs = "{windings.legs.value}"']
        lines += ["[windings.primary]", *_told(windings.primary, ("height", "build", "bottom"))]
    given = candidate.stock.model_dump(exclude_none=True, exclude={"material", "length"})
    conductor = ", ".join(f"{name} = {_value(value)}" for name, value in given.items())
    winding = candidate.winding
    lines += ["[windings.secondary]", f"turns = {winding.turns}", f"wires_in_hand = {winding.wires_in_hand}"]
    lines += [f"conductor = {{ {conductor} }}", f'material = "{winding.material}"']
    lines += [f'lay = "{winding.lay}"'] if winding.lay else []
    return lines + _told(winding, ("height", "build", "bottom"))


def _told(winding: Any, names: tuple[str, ...]) -> list[str]:
    return [f"{name} = {_value(getattr(winding, name))}" for name in names if getattr(winding, name) is not None]


def _value(value: object) -> str:
    """Write a length, or a size as it was told."""
    if isinstance(value, tuple):
        return f'"{" x ".join(f"{1e3 * part:.9g} mm" for part in value)}"'
    return f'"{1e3 * value:.9g} mm"' if isinstance(value, float) else f'"{value}"'


def options_json(found: WindingOptions, design: Design) -> str:
    """Return all as a JSON text that ends in a newline."""
    told = found.to_dict()
    if found.options:
        told["job_lines"] = job_lines(found.options[0].candidate, design)
    return json_text(_finite(told))


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_finite(inner) for inner in value]
    return None if isinstance(value, float) and not -inf < value < inf else value


def options_csv(found: WindingOptions) -> str:
    """Return a line for each that was computed, the best first."""
    rows = [{"rank": number, **flat(option.to_dict())} for number, option in enumerate(found.options, 1)]
    for row, option in zip(rows, found.options, strict=True):
        row["misses"] = "; ".join(option.misses)
    keys = list(dict.fromkeys(key for row in rows for key in row if ".bands." not in key))
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow(keys)
    for row in rows:
        writer.writerow(["" if (v := row.get(key)) is None else cell(v) if isinstance(v, str) else v for key in keys])
    return text.getvalue()
