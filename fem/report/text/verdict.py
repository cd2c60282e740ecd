"""The verdict on a screen of 80 columns and 24 lines, readable without colour."""

from __future__ import annotations

from rich.cells import cell_len, set_cell_size
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.report.text.milliohms import LABEL, milliohm_table
from fem.report.text.printable import printable
from fem.report.verdict.answer import Decides
from fem.report.verdict.whole import Verdict

WIDTH = 80
"""Columns of the screen."""
ROOM = WIDTH - LABEL - 1
STYLES = {Decides.NOTHING: "", Decides.GO: "green", Decides.CARE: "yellow", Decides.STOP: "bold red"}
MORE = "All of it: --whole. Some of it: --section NAME, as heat, taken, bands, cautions"


def verdict_screen(told: Verdict, *, alone: bool = True) -> RenderableType:
    """Return the verdict for a console, a line for each answer; alone, it says how to get the rest."""
    (fits, *answers), title = told.answers, printable(told.title)
    table = Table.grid(padding=(0, 1))
    table.add_column(width=LABEL, no_wrap=True, overflow="ellipsis")
    table.add_column(overflow="fold")
    for one in answers:
        table.add_row(Text(one.question), Text(held(one.answer), style=STYLES[one.decides]))
    below = Table.grid(padding=(0, 1))
    below.add_column(width=LABEL, no_wrap=True, overflow="ellipsis")
    below.add_column(overflow="fold")
    for caution in told.cautions:
        below.add_row(Text(f"! {caution.about}", style="yellow"), Text(caution.short))
    if changes := _changes(told):
        below.add_row(Text("changes it most"), Text(changes))
    if told.untold:
        below.add_row(Text("not told"), Text(held(told.untold)))
    milliohms = [milliohm_table(told.state, told.milliohms)] if told.milliohms else []
    head = Text.assemble((cut(title, WIDTH - len(fits.answer) - 2), "bold"), ": ", fits.answer)
    return Group(head, table, *milliohms, below, *([Text(MORE, style="dim")] if alone else []))


def _changes(told: Verdict) -> str:
    """Return as many of the largest terms as a line holds."""
    doubts, path = (each.split(", ") if each else [] for each in told.changes)
    for most in ((2, 2), (1, 2), (1, 1), (1, 0), (0, 1)):
        said = [f"doubt: {', '.join(doubts[: most[0]])}"] if doubts and most[0] else []
        said += [f"mohm: {', '.join(path[: most[1]])}"] if path and most[1] else []
        if len(line := "; ".join(said)) <= ROOM:
            return line
    return ""


def held(answer: str) -> str:
    """Return an answer as a line holds it; of one that is longer no more than what its reason is given for."""
    head = answer.partition(": ")[0]
    return answer if cell_len(answer) <= ROOM else cut(f"{head}; --whole tells more")


def cut(text: str, most: int = ROOM) -> str:
    """Return as much of a text as so many columns hold, cut between clauses, else between words."""
    if cell_len(text) <= most:
        return text
    held = set_cell_size(text, most - 3)  # some letters are two columns wide
    clause = max(held.rfind(mark) for mark in (". ", "; ", ": ", ", "))
    return f"{held[:clause] if clause > most / 2 else held.rpartition(' ')[0]} ..."
