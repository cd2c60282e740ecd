"""The command `estimate`."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fem.commands.job import read
from fem.commands.output import check_places, inputs_of, json_place, write_output
from fem.commands.terminal import BAD_INPUT, GAPS, PROGRAM, console, finishing, put, say, show
from fem.report.files.whole import write_text

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
    vtu: Annotated[Path | None, typer.Option(metavar="FILE", help="Also write the idle field as VTU.")] = None,
    lengths: Annotated[
        bool, typer.Option("--lengths", help="Also tell what a little more of each length does.")
    ] = False,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
    verbose: Annotated[bool, typer.Option("--verbose", "-v", help="Say each step that is under way.")] = False,
) -> int:
    """Estimate one transformer from its job file.

    Saturation and what cures it, idle current, leakage, currents with the lead ends joined and with a load, and what
    to mind. Exit code 1 if some of it could not be computed; the rest is there.

    Example: rewound estimate my.toml --figures drawings
    """
    from fem.examples import example as job_file

    design = read(job, quiet)
    file = json_place(json_file)
    inputs = inputs_of(job or Path(str(job_file())), {"core": {"bh_table": design.core.bh_table}})
    check_places({"--json": file, "--vtu": vtu}, inputs, figures=figures)
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.report.files.json import to_json
    from fem.report.text.estimate import WIDTH, beginning, report, rest

    begun: list[int] = []

    def begin(so_far: Any) -> None:
        if json_file != "-":
            begun.append(show(beginning(so_far), width=WIDTH))

    kept, tell = Kept(folder=default_folder()), say if verbose else _unheard
    if lengths:  # fields with derivatives first: both are then solved together
        from fem.estimation.by_length import by_length, solve_fields
        from fem.report.text.lengths import lengths_chapter

        solve_fields(design, kept, tell)
    found = _estimated(design, kept, quiet, verbose, begin, drawn=figures is not None or vtu is not None)
    effects = by_length(design, source=kept, progress=tell) if lengths else ()
    wanted: list[tuple[Path | None, Callable[[Path], None]]] = [
        (file, lambda path: write_text(path, to_json(found, effects))),
        (figures, lambda folder: _write_figures(found, folder)),
        (vtu, lambda path: _write_vtu(found, path)),
    ]
    with finishing():
        told = [
            *begun,
            put(to_json(found, effects)) if json_file == "-" else show((rest if begun else report)(found), width=WIDTH),
        ]
        if effects and json_file != "-":
            told.append(show(lengths_chapter(effects), width=WIDTH))
        written = [write_output(path, write, quiet) for path, write in wanted if path is not None]
    if found.gaps:
        say(f"{PROGRAM}: could not be computed: {', '.join(found.gaps)}")
    return BAD_INPUT if not all(written) else max(told) or (GAPS if found.gaps else 0)


def _unheard(_: str) -> None:
    """Tell nobody."""


def _estimated(
    design: Design, kept: Kept, quiet: bool, verbose: bool, begin: Callable[[Any], None], *, drawn: bool
) -> Estimate:
    """Estimate, and `begin` as soon as what the report begins with is known."""
    from fem.estimation.one_design import estimate as compute
    from fem.estimation.parts import Part
    from fem.report.text.estimate import FIRST

    wanted = {part for part in Part if drawn or part is not Part.PICTURES}
    # A spinner on a terminal; a pipe or a file gets nothing.
    silent = quiet or verbose or sys.stderr is None or not sys.stderr.isatty()
    with nullcontext() if silent else console(sys.stderr).status("meshing", spinner="line") as status:

        def tell(step: str) -> None:
            if verbose:
                say(step)
            elif status is not None:
                status.update(step)

        def known(section: str, so_far: Any) -> None:
            if section == FIRST:
                if status is not None:
                    status.stop()
                begin(so_far)
                if status is not None:
                    status.start()

        return compute(design, wanted=wanted, characteristics=kept, progress=tell, known=known)


def _write_figures(found: Estimate, folder: Path) -> None:
    from fem.report.figures.estimate import figures_of, save

    for name, draw in figures_of(found):
        save(draw(found), folder, name)


def _write_vtu(found: Estimate, file: Path) -> None:
    from fem.report.files.vtu import write_vtu

    write_vtu(found, file)
