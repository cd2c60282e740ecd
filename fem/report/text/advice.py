"""What to measure next: a few lines below a fit, or all that can be measured as a table with how and what to expect."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.advising.advice import PER_HOUR, PRICES
from fem.advising.found import Advice, Next
from fem.readings.measurements import Danger
from fem.report.text.numbers import percent, shown
from fem.report.text.printable import printable

NARROWS = 0.9
"""Of an interval, what must be left at most for its narrowing to be told."""
APART, ALIKE = 0.1, 1.02
"""Halvings of the entropy of causes from which it is told what tells them apart; ratio of readings that are alike."""
MOST = 5
"""Measurements of which it is told how they are done."""


def next_lines(found: Next) -> Iterator[str]:
    """Yield what to measure next in a few lines."""
    best = found.measurements[0] if found.measurements else None
    if best is None or best.worth <= 0:
        yield "Next: nothing more that is worth its danger and trouble: these meters tell little of what is left."
        return
    narrows = [
        f"{n.words} +-{percent(n.before)} to +-{percent(n.left)}" for n in best.narrows if n.left < NARROWS * n.before
    ]
    asks = f"{'once wound; ' if best.wound else ''}{best.minutes:g} min; {best.danger}"
    tells = "; ".join(narrows) or f"{best.tells:.1f} halvings of doubt, whichever cause it is"
    yield f"Next: {best.name} ({asks}): {tells}."
    yield from _foretold(best)
    before = next((one for one in found.measurements if not one.wound and one.worth > 0), None)
    if best.wound and before is not None:
        yield f"  Not wound yet? {before.name} ({before.minutes:g} min; {before.danger})."
    apart = max(found.measurements, key=lambda one: one.of_causes)
    if apart is not best and apart.of_causes > APART:
        yield f"  To tell causes apart: {apart.name} ({apart.minutes:g} min; {apart.danger})."
        yield from _foretold(apart)
    yield f"  How, and what else there is: --next. {_has(found)}"


def _foretold(one: Advice) -> Iterator[str]:
    for reading in one.readings[:3]:
        each = [f"{e.words} {_interval(e.value, e.low, e.high, reading.unit)}" for e in reading.under]
        values = [e.value for e in reading.under[1:]]
        if len(values) > 1 and max(values) < ALIKE * min(values):
            each = [each[0], f"whatever it is {each[1].removeprefix(reading.under[1].words).strip()}"]
        yield f"  {printable(reading.words)}: {'; '.join(each)}"


def next_report(found: Next) -> RenderableType:
    """Show all that can be measured, the most worth first, and how the best are done."""
    parts: list[RenderableType] = [Text("What to measure next", style="bold"), Text(_has(found)), Text()]
    if not found.measurements:
        return Group(*parts, Text("Nothing can be measured with these."))
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    table.add_column("")
    table.add_column(Text("measurement", style="bold"))
    matters = found.measurements[0].narrows
    for name in ("tells", "worth", *(n.words.split(" with ")[0].removeprefix("primary's ") for n in matters), "min"):
        table.add_column(Text(name, style="bold"), justify="right")
    table.add_column(Text("danger", style="bold"), overflow="fold")
    table.add_row("", "now", "", "", *(f"{100 * n.before:.1f} %" for n in matters), "", "")
    for number, one in enumerate(found.measurements, 1):
        left = [f"{100 * n.left:.1f} %" for n in one.narrows]
        told = (f"{one.tells:.2f}", f"{one.worth:+.2f}", *left, f"{one.minutes:g}", Danger(one.danger).name.lower())
        table.add_row(str(number), one.name + ("*" if one.wound else ""), *told)
    parts += [table, Text(), Text(scale(matters[0].words)), Text()]
    for number, one in enumerate(found.measurements[:MOST], 1):
        if one.worth > 0 or number == 1:
            parts += [*_how(number, one), Text()]
    return Group(*parts)


def scale(first: str) -> str:
    """Say what the numbers of the table mean."""
    asked = "; ".join(f"{PRICES[danger]:g} {danger.name.lower()}: {danger.value}" for danger in Danger)
    return (
        f"tells: how often what is in doubt is expected to be halved, of cause and of what matters ({first} and so "
        f"on, whose half 90 % interval is shown). worth: that, less {PER_HOUR:g} an hour and what danger asks "
        f"({asked}); below 0 it is not worth it. *: once wound."
    )


def _how(number: int, one: Advice) -> Iterator[RenderableType]:
    asks = f" ({one.minutes:g} min; {one.danger})"
    yield Text.assemble((f"{number}. {one.name[0].upper()}{one.name[1:]}", "bold"), asks)
    yield Text(one.how)
    for reading in one.readings:
        yield Text(printable(reading.words))
        table = Table.grid(padding=(0, 2, 0, 0))
        for under in reading.under:
            value = _interval(under.value, under.low, under.high, reading.unit)
            table.add_row("", printable(under.words), value)
        yield table
    yield Text(f"If it is off: {one.off}")


def _interval(value: float, low: float, high: float, unit: str) -> str:
    if value != value:
        return "beyond the data"
    if low != low:
        return shown(value, unit)
    (middle, name), *ends = (shown(number, unit).rsplit(" ", 1) for number in (value, low, high))
    below, above = (end[0] if end[1] == name else " ".join(end) for end in ends)
    return f"{middle} {name} ({below} to {above})"


def _has(found: Next) -> str:
    told = "assumed; tell yours as [instruments] in the readings" if found.assumed else "as told"
    return f"With {', '.join(found.instruments) or 'nothing'} ({told})."
