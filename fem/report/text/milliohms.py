"""Where the milliohms are, as tables for a console."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rich.console import RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.text.numbers import shown
from fem.report.verdict.answer import INTO
from fem.report.verdict.largest import MilliohmRow, rows

LABEL = 16
"""Columns of the parts' names."""
MEANING = (
    "As they appear at the secondary. R and X add up to the impedance that the volts of the mains drive the current "
    "through, watts to what the mains give. The core's are what its own current takes in supply and primary; its X is "
    "below 0, as that current lags and falls mostly across ohms. Its watts are core loss, and copper loss by "
    "that current."
)


def milliohms(estimate: Estimate) -> Iterator[RenderableType]:
    """Yield a table for each state there is, and what they mean."""
    told = estimate.milliohms
    yield Rule("Where the milliohms are", align="left", characters="-", style="none")
    for name, words in INTO.items():
        state = told if isinstance(told, Unknown) else getattr(told, name)
        if not isinstance(state, Unknown):
            heading = f"{words}: {shown(state.current_rms, 'A')}, {shown(state.voltage, 'V')}"
            yield Text(f"{heading} over {1e3 * state.impedance:.3f} mohm", style="bold")
            yield Padding(milliohm_table("", rows(state, most=len(state.parts))), (0, 0, 1, 0))
        elif state.gap:
            yield Text(f"{words}: not known: {state.reason}")
    note = f"none: {told.reason}" if isinstance(told, Unknown) else MEANING
    yield Padding(Text(note, style="dim"), (0, 0, 1, 0))


def milliohm_table(heading: str, told: Iterable[MilliohmRow]) -> Table:
    """Return rows of the milliohm table for a console, six columns within 80."""
    table = Table.grid(padding=(0, 2))
    table.add_column(width=LABEL, no_wrap=True)
    for _ in range(5):
        table.add_column(justify="right", no_wrap=True, min_width=8)
    table.add_row(Text(heading), *map(Text, ("mohm R", "mohm X", "V", "W", "of W")))
    for row in told:
        part, *numbers = cells(row)
        table.add_row(Text(f"  {part}"), *map(Text, numbers))
    return table


def cells(row: MilliohmRow) -> tuple[str, ...]:
    """Return a row's part, R, X, volts, watts and their share."""
    x = "-" if row.reactance is None else _mohm(row.reactance)
    volts, watts = shown(row.voltage, "V").split()[0], shown(row.power, "W").split()[0]
    return row.part, _mohm(row.resistance), x, volts, watts, f"{row.percent} %"


def _mohm(ohms: float) -> str:
    """Write milliohms to a microohm."""
    return f"{round(1e3 * ohms, 3) + 0.0:.3f}"
