"""What to measure next: a few lines below a fit, or all that can be measured as a table with how and what to expect."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.advising.advice import PER_HOUR, PRICES, Advice, Foretold, Next
from fem.readings.measurements import Danger
from fem.report.text.numbers import percent, shown
from fem.report.text.printable import printable

NARROWS = 0.9
"""Of an interval, what must be left at most for its narrowing to be told."""
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
    apart = ["tells causes apart"] if best.of_causes > best.tells / 2 else []
    asks = f"{'once wound; ' if best.wound else ''}{best.minutes:g} min; {best.danger}"
    yield f"Next: {best.name} ({asks}): {'; '.join(narrows + apart) or 'tells most'}."
    for reading in best.readings[:3]:
        yield f"  {printable(reading.words)}: {_both(reading)}"
    before = next((one for one in found.measurements if not one.wound and one.worth > 0), None)
    if best.wound and before is not None:
        yield f"  Not wound yet? {before.name} ({before.minutes:g} min; {before.danger})."
    yield f"  How, and what else there is: --next. {_has(found)}"


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
        table.add_row(
            str(number),
            one.name + ("*" if one.wound else ""),
            f"{one.tells:.2f}",
            f"{one.worth:+.2f}",
            *left,
            f"{one.minutes:g}",
            one.danger,
        )
    parts += [table, Text(), Text(scale(matters[0].words)), Text()]
    for number, one in enumerate(found.measurements[:MOST], 1):
        if one.worth > 0 or number == 1:
            parts += [*_how(number, one), Text()]
    return Group(*parts)


def scale(first: str) -> str:
    """Say what the numbers of the table mean."""
    asked = ", ".join(f"{PRICES[danger]:g} {danger.name.lower()}" for danger in Danger)
    return (
        f"tells: how often what is in doubt is expected to be halved, of cause and of what matters ({first} and so "
        f"on, whose half 90 % interval is shown). worth: that, less what danger asks ({asked}) and {PER_HOUR:g} an "
        "hour; below 0 it is not worth it. *: once wound."
    )


def _how(number: int, one: Advice) -> Iterator[RenderableType]:
    yield Text(f"{number}. {one.name[0].upper()}{one.name[1:]}", style="bold")
    yield Text(one.how)
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    causes = [each.words for each in one.readings[0].under] if one.readings else []
    table.add_column(Text("shows", style="bold"))
    for name in causes:
        table.add_column(Text(name, style="bold"), justify="right")
    for reading in one.readings:
        each = (_interval(e.value, e.low, e.high, reading.unit) for e in reading.under)
        table.add_row(printable(reading.words), *each)
    if one.readings:
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


def _both(reading: Foretold) -> str:
    return "; ".join(f"{e.words} {_interval(e.value, e.low, e.high, reading.unit)}" for e in reading.under)


def _has(found: Next) -> str:
    told = "assumed; tell yours as [instruments] in the readings" if found.assumed else "as told"
    return f"With {', '.join(found.instruments) or 'nothing'} ({told})."
