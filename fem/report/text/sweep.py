"""The rows of a sweep: a table for the screen and a CSV with everything."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from functools import lru_cache
from io import StringIO
from pathlib import Path

import numpy as np
from pydantic_core import to_json
from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from fem.digits import digits
from fem.quantity import SUFFIX
from fem.report.files.whole import replacing
from fem.report.text.printable import cell
from fem.sweeps.rows.cells import Cells, Columns, keys_of
from fem.sweeps.rows.store import Row, Status

COLUMNS = (
    "saturation.peak_flux_density_T",
    "idle.current_rms_A",
    "open_circuit.secondary_voltage_rms_V",
    "short_circuit.secondary_current_rms_A",
    "short_circuit.primary_current_rms_A",
    "load.current_rms_A",
)
"""Results shown where none are chosen."""

SHORT_CAUTION = (
    "Computed estimates. The primary is live and can kill; bare metal burns; strong fields upset implants. Local "
    "electrical code and licensed practice decide; rewound estimate prints all cautions for one design."
)


def sweep_table(rows: Sequence[Row], columns: Sequence[str], *, most: int) -> RenderableType:
    """Show the first rows with what was varied and the chosen results."""
    if not rows:
        return Text("no row meets the conditions")
    shown = [key for key in columns if any(row.results.get(key) is not None for row in rows)]
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False)
    for key in (*rows[0].point, *shown):
        table.add_column(Text(_heading(key)), justify="right", vertical="bottom")
    for row in rows[:most]:
        cells = [*map(str, row.point.values()), *(_cell(row.results.get(key)) for key in shown)]
        table.add_row(*map(Text, cells))
    left = len(rows) - most
    return Group(table, Text(f"... and {left} more rows")) if left > 0 else table


def spread_table(rows: Sequence[Row], columns: Sequence[str]) -> RenderableType:
    """Show between which values the middle nine tenths of the rows lie, and their median."""
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, title_justify="left", title_style="")
    table.title = f"\nspread of {len(rows)} rows"
    for heading in ("", "5 % below", "median", "5 % above"):
        table.add_column(heading, justify="right" if heading else "left")
    for key in columns:
        values = [float(v) for v in (row.results.get(key) for row in rows) if isinstance(v, int | float)]
        if values:
            numbers = np.quantile(values, (0.05, 0.5, 0.95))
            table.add_row(Text(key), *(digits(float(value)) for value in numbers))
    return table


def _heading(key: str) -> str:
    """Write a dotted key so that it breaks between words, its unit in brackets last."""
    name, unit = key, ""
    for suffix in sorted(filter(None, SUFFIX.values()), key=len, reverse=True):
        if key.endswith(suffix):
            name, unit = key[: -len(suffix)], f" [{suffix[1:].replace('_per_', '/')}]"
            break
    return name.replace(".", "\n").replace("_", " ") + unit


def _cell(value: object) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return digits(float(value))
    return "-" if value is None else str(value)


def write_csv(rows: Iterable[Row], path: str | Path) -> None:
    """Write every row with all its results; the columns are the union of all rows', in their order.

    Texts that a spreadsheet would compute have an apostrophe before them.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    listed = list(rows)
    points = list(dict.fromkeys(key for row in listed for key in row.point))
    results = keys_of(row.results for row in listed)
    forms: dict[Columns, str] = {}
    with replacing(path) as stream:
        stream.write(_line(["position", *points, "status", "reason", *results]).encode())
        for row in listed:
            own = _line(
                [row.position, *(_written(row.point.get(key)) for key in points), row.status.value, cell(row.reason)]
            )
            told = row.results
            if not isinstance(told, Cells):
                text = _line(_written(told.get(key)) for key in results)
            else:
                columns = told.columns
                if columns not in forms:
                    forms[columns] = _form(columns, results)
                text = forms[columns] % tuple(columns.texts(told.place, _quoted))
            stream.write(f"{own.removesuffix(_END)},{text}".encode() if results else own.encode())


_END = "\r\n"


def _line(cells: Iterable[object]) -> str:
    """Return a line of a CSV file."""
    line = StringIO()
    csv.writer(line).writerow(cells)
    return line.getvalue()


def _form(columns: Columns, keys: Iterable[str]) -> str:
    """Return the line of any row of a block, `%s` for each of `Columns.texts`."""
    apart = set(columns.apart)
    cells = ("%s" if key in apart else _written(columns.told.get(key)).replace("%", "%%") for key in keys)
    return _line(cells)


@lru_cache(maxsize=256, typed=True)
def _quoted(value: object) -> str:
    """Return one cell of a line."""
    return _line([_written(value), ""]).removesuffix(f",{_END}")


def _written(value: object) -> str:
    if isinstance(value, str):
        return cell(value)
    return "" if value is None else to_json(value).decode() if type(value) is float else str(value)


def summary(rows: Sequence[Row]) -> str:
    """Say in one line how the points ended."""
    counts = {status: sum(row.status is status for row in rows) for status in Status}
    text = f"{len(rows)} points: {counts[Status.DONE]} done"
    for status in (Status.REFUSED, Status.FAILED):
        if counts[status]:
            first = next(row for row in rows if row.status is status)
            text += f", {counts[status]} {status.value} (the first: {first.reason})"
    return text
