"""The command `estimate`."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.terminal import BAD_INPUT, GAPS, PROGRAM, Refused, console, finishing, put, say, show
from fem.report.files.whole import write_text
from fem.trust.caution import few

if TYPE_CHECKING:
    from fem.design.transformer import Design
    from fem.estimation.fields.kept import Kept
    from fem.estimation.result import Estimate


def estimate(
    job: Annotated[
        Path | None,
        typer.Argument(
            metavar="[JOB]", help="Job file, or - for standard input; without one the built-in example is estimated."
        ),
    ] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all results as JSON; - writes only that.")
    ] = None,
    figures: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Also draw figures into this folder, as SVG and PNG.")
    ] = None,
    sheet: Annotated[
        str | None,
        typer.Option(
            metavar="FILE",
            help="Also write two pages to print for the bench, with room for readings, as HTML; - writes only that.",
        ),
    ] = None,
    vtu: Annotated[Path | None, typer.Option(metavar="FILE", help="Also write the no-load field as VTU.")] = None,
    fields: Annotated[
        Path | None,
        typer.Option(
            metavar="DIR", help="Also write the fields of all states as VTU, curves and waves as CSV, into this folder."
        ),
    ] = None,
    lengths: Annotated[
        bool, typer.Option("--lengths", help="Also tell what a little more of each length does.")
    ] = False,
    whole: Annotated[bool, typer.Option("--whole", help="Tell everything, after the verdict.")] = False,
    section: Annotated[
        list[str] | None,
        typer.Option(
            metavar="NAME", help="Tell one section in place of the verdict; may be repeated. A wrong name lists all."
        ),
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
    verbose: Annotated[bool, typer.Option("--verbose", "-v", help="Say each step that is under way.")] = False,
) -> int:
    """Estimate one transformer from its job file.

    Tells the verdict, one screen: fit, volts and amperes, mains and breaker, heat, milliohms, what to mind. The rest
    follows with --whole or by --section. Exit code 1 if some of it could not be computed; the rest is there.

    Example: rewound estimate my.toml --section heat --section supply
    """
    from fem.examples import example as job_file

    check_sections(section or ())
    if json_file == sheet == "-":
        msg = f"{PROGRAM}: --json - and --sheet -: standard output takes one of them"
        raise Refused(msg)
    design = read(job, quiet)
    file, page = json_place(json_file), json_place(sheet)
    inputs = inputs_of(job or Path(str(job_file())), {"core": {"bh_table": design.core.bh_table}})
    check_places({"--json": file, "--sheet": page, "--vtu": vtu}, inputs, figures=figures, fields=fields)
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.report.files.json import to_json

    kept, tell = Kept(folder=default_folder()), _once() if verbose else _unheard
    if lengths:  # fields with derivatives first: both are then solved together
        from fem.estimation.by_length import by_length, solve_fields
        from fem.report.text.lengths import lengths_chapter

        solve_fields(design, kept, tell)
    found = _estimated(design, kept, quiet, tell if verbose else None, drawn=any((figures, sheet, vtu, fields)))
    effects = by_length(design, source=kept, progress=tell) if lengths else ()
    wanted: list[tuple[Path | None, Callable[[Path], None]]] = [
        (file, lambda path: write_text(path, to_json(found, effects))),
        (page, lambda path: write_text(path, _sheet(found))),
        (figures, lambda folder: _write_figures(found, folder)),
        (vtu, lambda path: _write_vtu(found, path)),
        (fields, lambda folder: _write_fields(found, folder)),
    ]
    with finishing():
        if "-" in (json_file, sheet):
            told = [put(to_json(found, effects) if json_file == "-" else _sheet(found))]
        else:
            told = [_show(found, section or (), whole)]
        if effects and "-" not in (json_file, sheet):
            told.append(show(lengths_chapter(effects)))
        written = [write_output(path, write, quiet) for path, write in wanted if path is not None]
    if found.gaps:
        say(f"{PROGRAM}: could not be computed: {few(found.gaps, 3)}")
    return BAD_INPUT if not all(written) else max(told) or (GAPS if found.gaps else 0)


def _unheard(_: str) -> None:
    """Tell nobody."""


def _once() -> Callable[[str], None]:
    """Return what says each step once: several results may need the same one, each for a part of it."""
    heard: set[str] = set()

    def tell(step: str) -> None:
        if step not in heard:
            heard.add(step)
            say(step)

    return tell


def check_sections(names: Sequence[str]) -> None:
    """Refuse names that no section of the report has.

    Raises
    ------
    Refused
        With a line for each.
    """
    from fem.report.text.estimate import NAMES

    if wrong := [name for name in names if name not in NAMES]:
        there = ", ".join(NAMES)
        raise Refused("\n".join(f"{PROGRAM}: --section {name}: no such section; there are {there}" for name in wrong))


def _show(found: Estimate, names: Sequence[str], whole: bool) -> int:
    """Print the verdict, with everything else on request, or the sections that are named."""
    from rich.console import Group

    from fem.report.text.estimate import WIDTH, report, sections
    from fem.report.text.verdict import verdict_screen
    from fem.report.verdict.whole import verdict

    if whole:
        return show(report(found), width=WIDTH)
    if names:
        return show(Group(*sections(found, names)), width=WIDTH)
    return show(verdict_screen(verdict(found)))


def _estimated(
    design: Design, kept: Kept, quiet: bool, heard: Callable[[str], None] | None, *, drawn: bool
) -> Estimate:
    """Estimate, and say what is under way."""
    from fem.estimation.one_design import estimate as compute
    from fem.estimation.parts import Part

    wanted = {part for part in Part if drawn or part is not Part.PICTURES}
    # A spinner on a terminal; a pipe or a file gets nothing.
    silent = quiet or heard is not None or sys.stderr is None or not sys.stderr.isatty()
    with nullcontext() if silent else console(sys.stderr).status("meshing", spinner="line") as status:

        def tell(step: str) -> None:
            if heard is not None:
                heard(step)
            elif status is not None:
                status.update(step)

        return compute(design, wanted=wanted, characteristics=kept, progress=tell)


def _sheet(found: Estimate) -> str:
    from fem.report.sheet.page import bench_sheet

    return bench_sheet(found)


def _write_figures(found: Estimate, folder: Path) -> None:
    from fem.report.figures.estimate import figures_of, save

    for name, draw in figures_of(found):
        save(draw(found), folder, name)


def _write_vtu(found: Estimate, file: Path) -> None:
    from fem.report.files.vtu import write_vtu

    write_vtu(found, file)


def _write_fields(found: Estimate, folder: Path) -> None:
    from fem.report.files.vtu import write_fields

    write_fields(found, folder)
