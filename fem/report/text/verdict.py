"""The verdict on a screen of 80 columns and 24 lines, readable without colour."""

from __future__ import annotations

from collections.abc import Iterator

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.report.text.numbers import shown
from fem.report.text.printable import printable
from fem.report.verdict.answer import Decides
from fem.report.verdict.whole import Verdict

WIDTH, LABEL = 80, 16
"""Columns of the screen, and those of the questions."""
ROOM = WIDTH - LABEL - 1
STYLES = {Decides.NOTHING: "", Decides.GO: "green", Decides.CARE: "yellow", Decides.STOP: "bold red"}
MORE = "All of it: --whole. Some of it: --section NAME, as heat, supply, bands, cautions"


def verdict_screen(told: Verdict, *, alone: bool = True) -> RenderableType:
    """Return the verdict for a console, a line for each answer; alone, it says how to get the rest."""
    (fits, *answers), title = told.answers, printable(told.title)
    table = Table.grid(padding=(0, 1))
    table.add_column(width=LABEL, no_wrap=True, overflow="ellipsis")
    table.add_column(overflow="fold")
    for one in answers:
        table.add_row(Text(one.question), Text(cut(one.answer), style=STYLES[one.decides]))
    below = Table.grid(padding=(0, 1))
    below.add_column(width=LABEL, no_wrap=True, overflow="ellipsis")
    below.add_column(overflow="fold")
    for caution in told.cautions:
        below.add_row(Text(f"! {caution.about}", style="yellow"), Text(cut(caution.text)))
    if changes := _changes(told):
        below.add_row(Text("changes it most"), Text(changes))
    if told.untold:
        below.add_row(Text("not told"), Text(cut(told.untold)))
    head = Text.assemble((cut(title, WIDTH - len(fits.answer) - 2), "bold"), ": ", fits.answer)
    return Group(head, table, *_milliohms(told), below, *([Text(MORE, style="dim")] if alone else []))


def _changes(told: Verdict) -> str:
    """Return as many of the largest terms as a line holds."""
    doubts, path = (each.split(", ") if each else [] for each in told.changes)
    for most in ((2, 2), (2, 1), (1, 1), (1, 0), (0, 1)):
        said = [f"in doubt {', '.join(doubts[: most[0]])}"] if doubts and most[0] else []
        said += [f"in the way {', '.join(path[: most[1]])}"] if path and most[1] else []
        if len(line := "; ".join(said)) <= ROOM:
            return line
    return ""


def _milliohms(told: Verdict) -> Iterator[RenderableType]:
    if not told.milliohms:
        return
    table = Table.grid(padding=(0, 2))
    table.add_column(width=LABEL, no_wrap=True)
    for _ in range(5):
        table.add_column(justify="right", no_wrap=True, min_width=8)
    table.add_row(Text(told.state), *map(Text, ("mohm R", "mohm X", "V", "W", "of W")))
    for row in told.milliohms:
        x = "-" if row.reactance is None else _mohm(row.reactance)
        volts, watts = shown(row.voltage, "V").split()[0], shown(row.power, "W").split()[0]
        table.add_row(Text(f"  {row.part}"), *map(Text, (_mohm(row.resistance), x, volts, watts, f"{row.percent} %")))
    yield table


def _mohm(ohms: float) -> str:
    """Write milliohms to a microohm."""
    return f"{round(1e3 * ohms, 3) + 0.0:.3f}"


def cut(text: str, most: int = ROOM) -> str:
    """Return as much of a text as so many columns hold, cut between clauses, else between words."""
    if len(text) <= most:
        return text
    held = text[: most - 3]
    clause = max(held.rfind(mark) for mark in (". ", "; ", ": ", ", "))
    return f"{held[:clause] if clause > most / 2 else held.rpartition(' ')[0]} ..."
