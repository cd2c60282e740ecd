"""One result explained, for a console."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.estimation.explained import Explained, GoneIn
from fem.quantity import Band, Show, Unknown
from fem.report.text.numbers import percent, shown
from fem.report.text.printable import printable
from fem.report.text.sure import WORTH, leading, with_band


def explanation(said: Explained) -> RenderableType:
    """Return what a result is, its value with band, how it comes about, from what, and what drives the band."""
    table = Table.grid(padding=(0, 2))
    table.add_column(no_wrap=True, min_width=9)
    table.add_column(overflow="fold")
    above = ""
    for name, text in _lines(said):
        table.add_row(Text("" if name == above else name), Text(printable(text)))
        above = name
    parts: list[RenderableType] = [Text(said.key, style="bold"), table]
    if said.below:
        below = Table.grid(padding=(0, 2))
        for style in ("", "bold", "dim"):
            below.add_column(overflow="fold", no_wrap=not style, style=style)
        for one in said.below:
            below.add_row(Text(printable(one.key)), Text(printable(_told(one))), Text(one.label))
        parts.append(below)
    return Group(*parts)


def _lines(said: Explained) -> Iterator[tuple[str, str]]:
    yield "what", said.label
    band = said.band
    if said.value is None:
        yield "value", f"not known: {said.reason}"
    elif isinstance(band, Band):
        number, between = with_band(float(said.value), band, said.unit, said.show)
        yield "value", f"{number}  ({between}, nine times out of ten)" if between else number
    elif not said.below:
        yield "value", _written(said.value, said.unit, said.show)
    if isinstance(band, Unknown):
        yield "band", f"not known: {band.reason}"
    yield "formula", said.how
    for one in said.takes:
        yield "goes in", f"{one.key} = {_told(one)}" + (", of the job" if one.from_job else f", {one.label}")
    if isinstance(band, Band):
        yield from (("band by", f"{words} {100 * share:.0f} %") for words, share in leading(band))
        if band.why:
            yield "band by", band.why
        if band.measure and band.left < WORTH:
            yield "surer by", f"{band.measure}: narrows it to {100 * band.left:.0f} % of its width"
    if said.source:
        yield "source", said.source
    yield "computed", said.by


def _told(one: GoneIn) -> str:
    return one.told if one.from_job or one.value is None else _written(one.value, one.unit, one.show)


def _written(value: Any, unit: str, show: Show) -> str:
    """Write a value in its customary unit, texts as they are."""
    if isinstance(value, list):
        return ", ".join(_written(each, unit, show) for each in value) or "none"
    if isinstance(value, bool) or not isinstance(value, float | int):
        return "" if isinstance(value, Mapping) else str(value)
    if unit == "-" and show is Show.VALUE and value == int(value):
        return f"{value:.0f}"  # turns and counts, to the last one
    return percent(value) if show is Show.SHARE else shown(value, unit)
