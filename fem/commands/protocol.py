"""The command `protocol`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, write_output
from fem.commands.terminal import BAD_INPUT, finishing, say, show
from fem.report.files.whole import write_text


def protocol(
    job: Annotated[Path, typer.Argument(help="Job file, or - for standard input.")],
    readings: Annotated[
        Path | None,
        typer.Option("--readings", metavar="FILE", help="Also write an empty file of readings, to fill in."),
    ] = None,
    sheet: Annotated[
        Path | None, typer.Option("--sheet", metavar="FILE", help="Also write it as a page to print, HTML.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Print what to measure on a salvaged core before it is cut and after it is wound, with what to expect.

    Example: rewound protocol my.toml --readings read.toml
    """
    from fem.design.ring import in_use
    from fem.estimation.case import Case
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.readings.protocol import protocol as compute
    from fem.report.text.protocol import protocol_pages, protocol_sheet, readings_text

    design = read(job, quiet)
    check_places(
        {"--readings": readings, "--sheet": sheet}, inputs_of(job, {"core": {"bh_table": design.core.bh_table}})
    )
    tell = (lambda _: None) if quiet else say
    found = compute(Case(design=in_use(design), source=Kept(folder=default_folder()), tell=tell))
    with finishing():
        printed = show(protocol_pages(found))
        written = readings is None or write_output(readings, lambda path: write_text(path, readings_text(found)), quiet)
        written &= sheet is None or write_output(sheet, lambda path: write_text(path, protocol_sheet(found)), quiet)
    return printed if written else BAD_INPUT
