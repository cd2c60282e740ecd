"""What a little more of each length does, as a table."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.estimation.by_length import LengthEffect
from fem.report.text.numbers import shown


def lengths_table(
    headings: Sequence[str], effects: Sequence[tuple[str, float, float, tuple[float | None, ...]]], untold: str
) -> Table:
    """Show key, length [m], how much more [m] and what that changes as shares, down to a hundredth of a per cent."""
    table = Table(box=None, padding=(0, 3, 0, 0), pad_edge=False)
    for heading in ("length", "is", "more by", *headings):
        table.add_column(Text(heading), justify="left" if heading == "length" else "right")
    for key, length, more, changes in effects:
        if any(change is None or abs(change) >= 1e-4 for change in changes):
            # a share that rounds to nothing has no sign of its own: + 0.0 makes of -0.0 what it is
            told = [untold if change is None else f"{round(100 * change, 2) + 0.0:+.2f} %" for change in changes]
            table.add_row(key, shown(length, "m"), shown(more, "m"), *told)
    return table


def lengths_chapter(effects: Sequence[LengthEffect]) -> RenderableType:
    """Show which length an estimate depends on most."""
    table = lengths_table(
        ("peak flux\ndensity, no-load", "no-load\ncurrent", "current, lead\nends joined"),
        [(effect.key, effect.length, effect.more, effect.changes) for effect in effects],
        untold="not told",
    )
    heading = Rule("Which length to measure best", align="left", characters="-", style="none")
    note = Text("By the fields' derivatives, to first order; the most effective first. Turns stay.", style="dim")
    return Group(Text(), heading, table, note)
