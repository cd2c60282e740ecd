"""The protocol for the bench on the screen or on paper, and the empty file of readings that goes with it."""

from __future__ import annotations

from collections.abc import Iterator
from io import StringIO
from itertools import groupby

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.quantity import Band
from fem.readings.conditions import Coil, Energised, Test
from fem.readings.described import Readings
from fem.readings.protocol import Box, Protocol, Step, boxes_of
from fem.report.text.numbers import shown
from fem.report.text.printable import printable
from fem.report.text.sure import with_band
from fem.report.text.sweep import SHORT_CAUTION
from geometries.described.quantities import format_quantity

EXPECTED = (
    "Expected: what the job lets these meters show, and between which values they do nine times out of ten, all that "
    "is in doubt of job, meters and conditions taken together. A reading beyond means that something is not as told."
)

_COLUMNS = 92
"""Of the page: A4 and Letter take as many."""


def protocol_pages(found: Protocol) -> RenderableType:
    """Show the protocol: its steps in order, each with how it is done and boxes to fill in."""
    parts: list[RenderableType] = [Text(printable(f"To measure: {found.title}"), style="bold"), Text(SHORT_CAUTION)]
    parts += [Text(EXPECTED), Text()]
    number = 0
    for heading, steps in (("Before cutting", found.before), ("After winding", found.after)):
        parts += [Text(heading, style="bold"), Text()]
        for step in steps:
            number += 1
            parts += [*_step(number, step), Text()]
    return Group(*parts)


_HEAD_OF_PAGE = """\
<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>To measure</title>
<style>
@page { margin: 12mm }
body { color: #111; background: #fff; margin: 1em auto; max-width: 52em }
pre { font: 10.5pt/1.35 "DejaVu Sans Mono", Menlo, Consolas, monospace; white-space: pre-wrap }
@media print { pre { font-size: 9pt } }
</style></head><body><pre>
"""


def protocol_sheet(found: Protocol) -> str:
    """Return the same as a page of HTML that needs nothing else; of the same protocol the same bytes."""
    page = Console(width=_COLUMNS, record=True, file=StringIO(), color_system=None, legacy_windows=False)
    page.print(protocol_pages(found))
    return f"{_HEAD_OF_PAGE}{page.export_html(code_format='{code}', inline_styles=True)}</pre></body></html>\n"


def _step(number: int, step: Step) -> Iterator[RenderableType]:
    yield Text(f"{number}. {step.title}", style="bold")
    yield Text(step.how)
    table = Table.grid(padding=(0, 2, 0, 0), expand=False)
    table.add_column(width=3)
    table.add_column(ratio=1)
    table.add_column(justify="right", no_wrap=True)
    table.add_column(no_wrap=True)
    for box in step.boxes:
        unit = box.unit if box.reading is None else _unit(box)
        table.add_row("[ ]", Text(box.words), expected(box), f"________ {unit}" if unit else "")
    yield table
    if step.off:
        yield Text(f"If it is off: {step.off}")


def _unit(box: Box) -> str:
    assert box.reading is not None
    return shown(box.expected, box.reading.unit).split()[-1] if box.expected == box.expected else box.reading.unit


def expected(box: Box) -> str:
    """Write what is expected of a reading, with its band."""
    if box.reading is None:
        return ""
    if box.expected != box.expected:
        return "beyond the data"
    unit = box.reading.unit
    if box.low != box.low:
        return shown(box.expected, unit)
    value, band = with_band(box.expected, Band(low=box.low, high=box.high), unit)
    return f"{value} ({band.replace(f' {value.split()[-1]} to', ' to')})"


_HEAD = """\
# Readings of: {title}
# Take the # off the lines of what was read and put the number between the quotes, its unit behind it; what the meter is
# off may follow: "1.35 A +-2 %". Leave the rest as it is. A table may stand as often as it was measured.

[bench]
# temperature = "20 degC +-3 K"    # of the windings: the room's, after a night there
# meter = "averaging"              # amperes; "true r.m.s." where its face says so; "peak hold", "peak hold as r.m.s."
# voltmeter = "averaging"

# [instruments]                      # what there is to measure with, for what rewound fit says to measure next
# multimeter = true
# wattmeter = true
# variable_transformer = true
# heater = true                      # of some 2 kW, to load the socket
# lamp = "300 W"
# clamp = "600 A"                    # its largest range
# direct_current = "5 A"             # of a supply, for resistances by volts and amperes
"""
_MORE = """
# A load on the lead ends: its ohms in `load`, or the amperes that it took.
# [[loaded]]
# current = ""
# voltage = ""
# primary_current = ""
# power = ""

# A burst into the work piece of the job, from a cold machine.
# [[burst]]
# duration = ""            # how long the current flowed
# to_dull_red = ""         # to_visible_red, to_flow (of solder), to_melting, to_parting as well
# breaker_opens = ""
# primary_resistance = ""  # at once afterwards, unplugged
"""


def readings_text(found: Protocol) -> str:
    """Return a readings file in which every table is a comment, its conditions told and its readings empty."""
    text = _HEAD.format(title=printable(" ".join(found.title.split())))
    boxes = [(box.reading.key.rpartition(".")[0], box) for box in boxes_of(found) if box.reading is not None]
    order = {name: place for place, name in enumerate(Readings.model_fields)}
    boxes.sort(key=lambda pair: (order[pair[0].partition(".")[0]], pair[0]))
    for key, of_one in groupby(boxes, key=lambda pair: pair[0]):
        text += "\n".join(["", f"# [[{key.partition('.')[0]}]]", *_lines([box for _, box in of_one]), ""])
    return text + _MORE


def _lines(boxes: list[Box]) -> Iterator[str]:
    assert boxes[0].reading is not None
    test = boxes[0].reading.test
    read = {box.reading.quantity: box for box in boxes if box.reading is not None}
    for key in type(test).model_fields:
        value = getattr(test, key)
        if key in read:
            yield f'# {key} = ""    # expected {expected(read[key])}'
        elif value is not None and (told := _told(test, key, value)):
            yield f"# {key} = {told}"


def _told(test: Test, key: str, value: object) -> str:
    """Write a condition that is told; what was filled in from the bench or is as usual is left out."""
    if key in ("temperature", "meter", "voltmeter"):
        return ""
    if key == "leads_together":
        return '""    # what the meter shows with its probes touched together'
    if isinstance(value, float):
        unit = {"primary_voltage": "V", "voltage": "V", "lamp": "W"}.get(key, "A")
        return f'"{format_quantity(value, unit)}"'
    if isinstance(value, int):
        return str(value)
    told = getattr(value, "value", "")
    return "" if isinstance(test, Energised) and value is Coil.PRIMARY else f'"{told}"'
