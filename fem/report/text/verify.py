"""The checks against published values, as a table and as JSON."""

from __future__ import annotations

from itertools import groupby

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.digits import digits
from fem.report.files.json import json_text
from fem.verification.published import Measure
from fem.verification.run import Outcome, Verification

HEADINGS = ("check", "expected", "computed", "deviation", "tolerance", "")


def verify_table(found: Verification) -> RenderableType:
    """Show every check under its chapter, and below them what the numbers in brackets stand for.

    Parameters
    ----------
    found
        The checks.
    """
    sources: list[str] = []
    parts: list[RenderableType] = []
    for chapter, outcomes in groupby(found.outcomes, key=lambda outcome: outcome.chapter):
        table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, title_justify="left", expand=True)
        for index, heading in enumerate(HEADINGS):
            table.add_column(Text(heading), justify="right" if 0 < index < 5 else "left", no_wrap=index > 0)
        for outcome in outcomes:
            row = outcome.published
            source = f"{row.source} ({row.status})"
            if source not in sources:
                sources.append(source)
            table.add_row(*(Text(cell) for cell in _cells(outcome, sources.index(source) + 1)))
        parts += [Text(chapter, style="bold"), table, Text()]
    parts += [
        Text("Sources", style="bold"),
        *(Text(f"[{k}] {text}") for k, text in enumerate(sources, start=1)),
        Text(),
    ]
    return Group(*parts, Text(summary(found)))


def _cells(outcome: Outcome, source: int) -> tuple[str, ...]:
    row = outcome.published
    unit = "" if row.unit == "1" else f" {row.unit}"
    computed = f"{outcome.computed:.6g}"
    least = row.measure is Measure.AT_LEAST
    return (
        f"{row.quantity} [{source}]",
        f"{'>= ' if least else ''}{row.expected}{unit}",
        computed,
        _difference(outcome.deviation, row.measure, signed=True),
        "-" if least else _difference(row.tolerance, row.measure),
        "pass" if outcome.passed else "FAIL",
    )


def _difference(value: float, measure: Measure, *, signed: bool = False) -> str:
    """Write a share in per cent, a difference in the value's own unit."""
    plus = "+" if signed and value > 0 else ""
    if measure is Measure.RELATIVE:
        return f"{plus}{digits(100 * value, 2)} %"
    return f"{plus}{digits(value, 2)}"


def summary(found: Verification) -> str:
    """Say in one line how many checks passed."""
    total, failed = len(found.outcomes), len(found.failed)
    if failed:
        names = ", ".join(outcome.published.key for outcome in found.failed)
        return f"{failed} of {total} checks FAILED in {found.seconds:.0f} s: {names}"
    return f"All {total} checks passed in {found.seconds:.0f} s."


def verify_json(found: Verification) -> str:
    """Return the checks as a JSON text that ends in a newline."""
    return json_text(found.to_dict())
