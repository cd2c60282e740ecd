"""The cautions of an estimate as a list for a console, the worst first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rich.console import RenderableType
from rich.rule import Rule
from rich.table import Table
from rich.text import Text

from fem.report.text.printable import printable
from fem.trust.caution import Caution, Danger

HEADINGS = {
    Danger.KILLS: "what can kill",
    Danger.BURNS: "what burns, blinds, poisons or sets fire",
    Danger.DAMAGES: "what damages machine or work",
    Danger.DISTURBS: "what trips a breaker, or leaves numbers in doubt",
}


def listed(cautions: Sequence[Caution]) -> Iterator[RenderableType]:
    """Yield cautions that are in order under a heading for each danger, general ones last."""
    yield Rule("Cautions", align="left", characters="-", style="none")
    for heading, some in groupby(cautions, lambda one: "always" if one.general else HEADINGS[one.danger]):
        table = Table.grid(padding=(0, 2))
        table.add_column(no_wrap=True, min_width=16)
        table.add_column(overflow="fold")
        for caution in some:
            table.add_row(Text(caution.about), Text(printable(caution.told)))
        yield Text(heading, style="bold")
        yield table
        yield Text()
