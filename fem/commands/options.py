"""The command `options`."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.sweep import counter, termination_as_interrupt
from fem.commands.terminal import BAD_INPUT, GAPS, STOPPED, finishing, put, say, show
from fem.report.files.whole import write_text


def options(
    job: Annotated[Path | None, typer.Argument(metavar="[JOB]", help="Job file; without one the example.")] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all as JSON; - writes only that.")
    ] = None,
    csv_file: Annotated[Path | None, typer.Option("--csv", metavar="FILE", help="Also write the table as CSV.")] = None,
    bands: Annotated[bool, typer.Option(help="How sure the best's numbers are.")] = True,
    workers: Annotated[int, typer.Option(min=1, max=256, help="Local processes.")] = min(os.cpu_count() or 1, 4),
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """What shall I wind: every secondary that fits this core beside the primary that stays, the best first.

    Of the conductors in [shop], for what [wish] asks. Each number of turns, conductor, wires in hand and lay is tried
    for size and screened; the best are computed to the end. Ctrl-C keeps what is computed.

    Example: rewound options my.toml --csv rows.csv
    """
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.options.winding import winding_options
    from fem.report.text.options import options_csv, options_json, options_report

    design, file = read(job, quiet), json_place(json_file)
    inputs = inputs_of(job, {"core": {"bh_table": design.core.bh_table}}) if job is not None else []
    check_places({"--json": file, "--csv": csv_file}, inputs)
    with termination_as_interrupt(), counter(quiet) as watch:
        found = winding_options(
            design,
            kept=Kept(folder=default_folder()),
            workers=workers,
            bands=bands,
            progress=(lambda _: None) if quiet else say,
            watch=watch,
        )
    with finishing():
        told = put(options_json(found, design)) if json_file == "-" else show(options_report(found, design))
        written = [
            write_output(path, lambda path, text=text: write_text(path, text), quiet)  # type: ignore[misc]
            for path, text in ((file, options_json(found, design)), (csv_file, options_csv(found)))
            if path is not None
        ]
    if not all(written):
        return BAD_INPUT
    return STOPPED if found.stopped else told or (GAPS if found.failed else 0)
