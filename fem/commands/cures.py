"""The command `cures`."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.terminal import BAD_INPUT, GAPS, STOPPED, console, finishing, put, show
from fem.report.files.whole import write_text


def cures(
    job: Annotated[
        Path | None,
        typer.Argument(
            metavar="[JOB]", help="Job file, or - for standard input; without one the built-in example is taken."
        ),
    ] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all as JSON; - writes only that.")
    ] = None,
    bands: Annotated[bool, typer.Option(help="How sure each gain is.")] = True,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Say what would improve this transformer: leads, joints, jaws, turns, shunts, core, supply.

    Each cure is checked for room in the window and computed to the end, ranked by what it brings for [wish], else for
    the work; the best are also computed together. Ctrl-C keeps what is computed.

    Example: rewound cures my.toml
    """
    from fem.cures.table import Verdict, find_cures
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.report.text.cures import cures_json, cures_report

    design, file = read(job, quiet), json_place(json_file)
    inputs = [] if job is None else inputs_of(job, {"core": {"bh_table": design.core.bh_table}})
    check_places({"--json": file}, inputs)
    # A spinner on a terminal; a pipe or a file gets nothing.
    silent = quiet or sys.stderr is None or not sys.stderr.isatty()
    with nullcontext() if silent else console(sys.stderr).status("as it is", spinner="line") as status:
        found = find_cures(
            design,
            kept=Kept(folder=default_folder()),
            bands=bands,
            progress=(lambda _: None) if status is None else status.update,
        )
    with finishing():
        printed = put(cures_json(found)) if json_file == "-" else show(cures_report(found))
        written = file is None or write_output(file, lambda path: write_text(path, cures_json(found)), quiet)
    if not written:
        return BAD_INPUT
    failed = [row.name for row in found.rows if row.verdict is Verdict.FAILED]
    return STOPPED if found.stopped else printed or (GAPS if failed else 0)
