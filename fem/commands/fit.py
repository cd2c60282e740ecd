"""The command `fit`."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.terminal import BAD_INPUT, PROGRAM, Refused, console, finishing, put, say, show
from fem.report.files.whole import write_text


def fit(
    job: Annotated[Path, typer.Argument(help="Job file, as far as the machine is known; or - for standard input.")],
    readings: Annotated[Path, typer.Argument(help="File of readings taken on the bench.")],
    counted: Annotated[
        bool, typer.Option("--counted", help="The primary's turns were counted: hold them as the job has them.")
    ] = False,
    secondary: Annotated[
        bool, typer.Option("--secondary", help="Ask how many turns the secondary has, too: nobody counted them.")
    ] = False,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE", help="Also write the job as the readings leave it.")
    ] = None,
    advise: Annotated[
        bool, typer.Option("--next", help="Show all that can be measured next, what it would tell, how it is done.")
    ] = False,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all as JSON; - writes only that.")
    ] = None,
    figures: Annotated[
        Path | None, typer.Option("--figures", metavar="FOLDER", help="Also draw readings and unknowns into a folder.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Say what readings taken on the bench tell of a machine: its turns, gap, steel, losses, and what contradicts.

    All that is in doubt is fitted together, turns as whole numbers; what no reading decides stays in doubt.

    Example: rewound fit my.toml bench.toml -o fitted.toml
    """
    from fem.advising.advice import advice
    from fem.advising.causes import of_causes
    from fem.design.tables import JobError, read_tables
    from fem.errors import NotConverged, OutOfRange
    from fem.estimation.case import Case
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.fitting.corrected import corrected
    from fem.fitting.fit import fit_of
    from fem.fitting.no_load import no_load_curves
    from fem.fitting.steel import steel_table
    from fem.readings.file import far_off, read_readings
    from fem.readings.reading import readings_of
    from fem.report.text.fit import fit_json, fit_report

    if str(job) == str(readings) == "-":
        msg = f"{PROGRAM} fit: job and readings cannot both come from standard input"
        raise Refused(msg)
    if str(job) == "-" and out is not None:
        msg = f"{PROGRAM} fit: --out changes a job file; save the job to one first"
        raise Refused(msg)
    design, file = read(job, quiet), json_place(json_file)
    inputs = [*inputs_of(job, {"core": {"bh_table": design.core.bh_table}}), ("the readings", readings)]
    table = None if out is None else out.with_name(f"{out.stem}_steel.csv")
    check_places({"--json": file, "--out": out, "--out, its steel": table}, inputs, figures=figures)
    try:
        described = read_readings(readings, design)
        taken = readings_of(described)
        tables, text = ({}, "") if out is None else (read_tables(job), job.read_text(encoding="utf-8-sig"))
    except JobError as error:
        raise Refused(str(error)) from None
    if not taken:
        msg = f"{readings}: no readings; give [[no_load]], [[search_coil]], [[resistance]], [[joined]] ..."
        raise Refused(msg)
    for fault in () if quiet else far_off(taken, design):
        say(f"{PROGRAM} fit: {fault.key}: {fault.message}: a unit, a meter or the job's turns? It is fitted as read")
    # A spinner on a terminal; a pipe or a file gets nothing.
    source = Kept(folder=default_folder())
    silent = quiet or sys.stderr is None or not sys.stderr.isatty()
    with nullcontext() if silent else console(sys.stderr).status("fields", spinner="line") as status:
        found = fit_of(
            design,
            taken,
            primary=not counted,
            secondary=secondary,
            source=source,
            progress=(lambda _: None) if status is None else status.update,
        )
        try:
            case = Case(design=found.design, wanted=frozenset(), source=source)
            may_be = of_causes(case, found.ranked, found.measured, taken)
            ahead = advice(found, described, source, causes=may_be, burst=advise, most=None if advise else 1)
        except (NotConverged, OutOfRange):  # what the readings say stands without it
            ahead = None
    with finishing():
        printed = put(fit_json(found, ahead)) if json_file == "-" else show(fit_report(found, ahead, whole=advise))
        written = file is None or write_output(file, lambda path: write_text(path, fit_json(found, ahead)), quiet)
        if out is not None and table is not None:
            if (curve := steel_table(found.steel)) is not None:
                written &= write_output(table, lambda path: write_text(path, curve), quiet)
            new = corrected(text, tables, found, table.name)
            written &= write_output(out, lambda path: write_text(path, new), quiet)
        if figures is not None:
            from fem.fitting.causes.cause import rows
            from fem.fitting.causes.ranked import NOTHING
            from fem.report.figures.causes import causes
            from fem.report.figures.estimate import save
            from fem.report.figures.fit import fitted, no_load

            curves = no_load_curves(found, taken, source)

            def drawn(folder: Path) -> None:
                save(fitted(found), folder, "fit")
                each = [(one.words, one.bench, one.probability) for one in found.causes]
                save(causes(found.title, each, rows()[NOTHING].words), folder, "fit_causes")
                if curves:
                    save(no_load(found, curves), folder, "fit_no_load")

            written &= write_output(figures, drawn, quiet)
    return printed if written else BAD_INPUT
