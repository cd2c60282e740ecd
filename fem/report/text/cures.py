"""Cures as one table, what each takes, and why the others are none."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import inf

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.cures.goal import FELT
from fem.cures.table import CureRow, Cures, Verdict
from fem.digits import brief, digits
from fem.options.outcome import Outcome
from fem.quantity import Unknown, plain
from fem.report.files.json import finite, json_text
from fem.report.text.numbers import percent
from fem.report.text.printable import printable
from fem.report.text.sweep import SHORT_CAUTION

STYLES = {Verdict.HELPS: "green", Verdict.TRADE: "yellow", Verdict.WORSE: "red"}
SURE = (
    "Gains lie between their ends nine times out of ten. They are surer than the numbers they are of: what is in doubt "
    "of both alike, the mains above all, is drawn the same for both.\n"
)
HEADINGS = {
    "current": "into\nwork A",
    "time_to_temperature": "heat\ns",
    "joined_current": "joined\nA",
    "idle_current": "idle\nA",
    "flux_density": "flux\nT",
    "longest_burst": "longest\nburst s",
}


def cures_json(found: Cures) -> str:
    """Return all as JSON, null for what is no finite number."""
    marked = {"best": found.best, "against_idle_current": found.against_idle}
    told = {key: row and row.name for key, row in marked.items()} | {"why": found.reason}
    return json_text({**finite("", plain(found), {}), **told})


def cures_report(found: Cures) -> RenderableType:
    """Show the table, then what is to be done for each row, then what is not open or does not fit."""
    shown = [row for row in found.rows if row.outcome is not None]
    goal, before = found.goal, found.before
    least = "at most" if goal.less else "at least"
    wanted = "" if goal.wanted is None else f" {least} {brief(goal.wanted)},"
    lines = [f"Wanted: {goal.words},{wanted} {goal.said(before)} as it is."]
    if found.saturated:
        lines.append(f"Idle, the core is above its limits, at {brief(before.flux_density)} T: idle current counts too.")
    lines.append(f"Best: {found.best.name if found.best else 'none'}: {found.reason}.")
    if (row := found.against_idle) is not None and row.outcome is not None:
        core = f"idle {brief(row.outcome.idle_current)} A at {brief(row.outcome.flux_density)} T"
        lines.append(f"Against idle current: {row.name}: {core}, {_signed(row.gain)} in what is wanted.")
    head = Text(printable(f"{found.title}: what would improve it"), style="bold")
    parts: list[RenderableType] = [head, Text("\n".join(lines) + "\n"), _table(found, shown), Text()]
    if isinstance(before.longest_burst, Unknown):
        parts.append(Text(f"longest burst -: {before.longest_burst.reason}, as it is\n", style="dim"))
    if any(row.gain_ends for row in shown):
        parts.append(Text(SURE, style="dim"))
    parts += [_to_do(found, shown), Text(), _others(found), Text()]
    parts += [Text("stopped: not all were computed", style="yellow")] if found.stopped else []
    return Group(*parts, Text(SHORT_CAUTION))


def _table(found: Cures, rows: list[CureRow]) -> RenderableType:
    names = [name for name in HEADINGS if getattr(found.before, name) != Unknown("no [work_piece] is described")]
    names = names[1:] if found.before.works_into == "joined lead ends" else names
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    table.add_column("", justify="right", no_wrap=True)
    table.add_column(Text("\ncure"), min_width=18, overflow="fold")
    table.add_column(Text("\ngain"), justify="right", no_wrap=True)
    for name in names:
        table.add_column(Text(HEADINGS[name]), justify="right")
    table.add_column(Text("\nbreaker"), no_wrap=True)
    table.add_row("", "as it is", "", *_cells(found.before, names))
    last = None
    for number, row in enumerate(rows, 1):
        assert row.outcome is not None
        if row.verdict is not last:
            last, of_what = row.verdict, " (gain of it)" if row.verdict is Verdict.LESS_IDLE else ""
            table.add_row("", Text(f"{last}{of_what}", style=STYLES.get(last, "dim")))
        gain = row.idle_gain if row.verdict is Verdict.LESS_IDLE else row.gain
        mark = " *" if row in (found.best, found.against_idle) else ""
        table.add_row(str(number), Text(row.name + mark), _signed(gain), *_cells(row.outcome, names))
    if (whole := found.together) is not None and whole.outcome is not None:
        table.add_row("", Text("the best together", style="bold"))
        table.add_row("+", Text(whole.name), _signed(whole.gain), *_cells(whole.outcome, names))
    return table


def _cells(found: Outcome, names: list[str]) -> Iterator[str]:
    for name in names:
        value = getattr(found, name)
        if isinstance(value, Unknown):
            yield "never" if name == "time_to_temperature" and not value.gap else "-"
        else:
            yield digits(value)
    yield found.breaker or "-"


def _signed(gain: float) -> str:
    if gain != gain or abs(gain) == inf:
        return "-" if gain != gain else "no limit" if gain > 0 else "lost"
    return "0 %" if abs(gain) < 0.005 else f"{'+' if gain > 0 else '-'}{percent(abs(gain))}"


def _between(ends: Iterable[float]) -> str:
    low, high = (_signed(end) for end in sorted(ends))
    return f"{low.removesuffix(' %')} to {high}" if high.endswith(" %") else f"{low} to {high}"


def _to_do(found: Cures, rows: list[CureRow]) -> RenderableType:
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right", no_wrap=True)
    table.add_column(overflow="fold")
    for number, row in enumerate(rows, 1):
        table.add_row(str(number), Text(_doing(row)))
    if (row_of_all := found.together) is not None:
        table.add_row("+", Text(_doing(row_of_all) if row_of_all.outcome else _untold(row_of_all)))
    return table


def _doing(row: CureRow) -> str:
    assert row.change is not None
    parts = [row.change.do, *row.conductor]
    parts += [f"{brief(row.mass)} kg"] if row.mass else []
    if row.gain_ends is not None and abs(row.gain) >= FELT:
        parts.append(f"gain {_between(row.gain_ends)}")
    parts += [f"but {', '.join(row.harms)}"] if row.harms else []
    if row.verdict is Verdict.TRADE and row.idle_gain >= FELT:
        ends = "" if row.idle_gain_ends is None else f" ({_between(tuple(-end for end in row.idle_gain_ends))})"
        parts.append(f"idle current {_signed(-row.idle_gain)}{ends}")
    return "; ".join(parts) + (f" [{row.change.danger}]" if row.change.danger else "")


def _untold(row: CureRow) -> str:
    return f"{row.verdict}: {printable(row.reason)}"


def _others(found: Cures) -> RenderableType:
    table = Table.grid(padding=(0, 1))
    table.add_column(no_wrap=True)
    table.add_column(overflow="fold")
    for row in found.rows:
        if row.outcome is None:
            table.add_row(Text(row.name), Text(_untold(row)))
    return table
