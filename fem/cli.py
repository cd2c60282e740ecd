"""The command line: each command is one library call and the printing of what it returns."""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Callable
from contextlib import nullcontext
from enum import Enum
from importlib.metadata import version
from importlib.resources import as_file
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fem.commands.output import check_places, inputs_of, write_output
from fem.commands.sweep import sweep
from fem.commands.terminal import (
    BAD_INPUT,
    CHECK_FAILED,
    GAPS,
    NO_MESHER,
    NOT_CONVERGED,
    PROGRAM,
    STOPPED,
    UNREAD,
    Refused,
    console,
    fill_closed,
    finishing,
    flush,
    put,
    say,
    show,
)
from fem.report.files.whole import write_text

if TYPE_CHECKING:
    from fem.design.transformer import Design
    from fem.estimation.result import Estimate

# typer keeps its parser to itself; all that is wrong with a command line derives from this.
UsageError: Any = typer.BadParameter.__bases__[0]

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)


class Listing(Enum):
    """What can be listed."""

    STEELS = "steels"
    CONDUCTORS = "conductors"
    LAMINATIONS = "laminations"
    METALS = "metals"
    WORK_PIECES = "work-pieces"


def main() -> None:
    """Run the command line and leave with its exit code."""
    fill_closed()
    if sys.stdout is None:
        say(f"{PROGRAM}: standard output is closed; /dev/null takes what nobody wants to read")
        sys.exit(BAD_INPUT)
    code = run(sys.argv[1:])
    flush()
    # Else the interpreter searches all that was ever loaded for cycles before it leaves: 0.15 s for nothing.
    gc.freeze()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, or as the constants above say."""
    from fem.errors import DoesNotFit, NotConverged, OutOfRange
    from fem.examples import UnknownExample
    from geometries.assembly.mesh import MesherUnavailable, MeshFailed

    try:
        code = int(app(args=arguments, prog_name=PROGRAM, standalone_mode=False) or 0)
        if code == STOPPED:  # newer typer turns Ctrl-C into its code without a word, older raises Abort
            say(f"{PROGRAM}: stopped")
        return code
    except UsageError as error:
        command = error.ctx.command_path if error.ctx is not None else PROGRAM
        say(f"{command}: {' '.join(error.format_message().split()).rstrip('.')} (see {command} --help)")
    except (Refused, UnknownExample, OutOfRange) as error:
        say(str(error))
    except DoesNotFit as error:
        for key, text in error.faults:
            say(f"{PROGRAM}: {key}: {text}")
    except NotConverged as error:
        say(f"{PROGRAM}: no convergence: {error}")
        return NOT_CONVERGED
    except MeshFailed as error:
        say(f"{PROGRAM}: no mesh: {error}")
        return NOT_CONVERGED
    except MesherUnavailable as error:
        say(f"{PROGRAM}: {error}")
        return NO_MESHER
    except (KeyboardInterrupt, typer.Abort):
        say(f"{PROGRAM}: stopped")
        return STOPPED
    except SystemExit:  # what typer makes of a reader of its help that stops early
        return UNREAD
    except OSError as error:
        say(": ".join(filter(None, (PROGRAM, error.filename, error.strerror or str(error)))))
    return BAD_INPUT


def _print_version(wanted: bool) -> None:
    if wanted:
        raise typer.Exit(put(f"{PROGRAM} {version(PROGRAM)}\n"))


@app.callback(invoke_without_command=True)
def top(
    context: typer.Context,
    show_version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_print_version, is_eager=True)
    ] = False,
) -> None:
    """What a salvaged E-I transformer does after it is rewound with a few turns of thick cable.

    Begin with: rewound estimate; then: rewound example > my.toml, put in your own figures, rewound estimate my.toml.
    """
    if context.invoked_subcommand is None:
        raise typer.Exit(put(f"{context.get_help()}\n"))


@app.command()
def estimate(
    job: Annotated[
        Path | None, typer.Argument(metavar="[JOB]", help="Job file; without one the built-in example is estimated.")
    ] = None,
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all results as JSON; - writes only that.")
    ] = None,
    figures: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Also draw figures into this folder, as SVG and PNG.")
    ] = None,
    vtu: Annotated[Path | None, typer.Option(metavar="FILE", help="Also write the idle field as VTU.")] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
    verbose: Annotated[bool, typer.Option("--verbose", "-v", help="Say each step that is under way.")] = False,
) -> int:
    """Estimate one transformer from its job file.

    Saturation and what cures it, idle current, leakage, currents with the lead ends joined and with a load, and what
    to mind. Exit code 1 if some of it could not be computed; the rest is there.

    Example: rewound estimate my.toml --figures drawings
    """
    from fem.examples import example as job_file
    from fem.report.files.json import to_json
    from fem.report.text.estimate import WIDTH, report

    design = _read(job, quiet)
    file = _file(json_file)
    inputs = inputs_of(job or Path(str(job_file())), {"core": {"bh_table": design.core.bh_table}})
    check_places({"--json": file, "--vtu": vtu}, inputs, figures=figures)
    found = _estimated(design, quiet, verbose, drawn=figures is not None or vtu is not None)
    wanted: list[tuple[Path | None, Callable[[Path], None]]] = [
        (file, lambda path: write_text(path, to_json(found))),
        (figures, lambda folder: _write_figures(found, folder)),
        (vtu, lambda path: _write_vtu(found, path)),
    ]
    with finishing():
        printed = put(to_json(found)) if json_file == "-" else show(report(found), width=WIDTH)
        written = [write_output(path, write, quiet) for path, write in wanted if path is not None]
    if found.gaps:
        say(f"{PROGRAM}: could not be computed: {', '.join(found.gaps)}")
    return BAD_INPUT if not all(written) else printed or (GAPS if found.gaps else 0)


@app.command()
def example(
    name: Annotated[str, typer.Argument(help="Which example.")] = "bandsaw_brazing",
) -> int:
    """Print an example job file to begin with.

    Example: rewound example > my.toml
    """
    from fem.examples import example as job_file

    return put(job_file(name).read_text("utf-8"))


@app.command("list")
def list_names(what: Annotated[Listing, typer.Argument(help="What to list.")]) -> int:
    """List what a job file may call by its name.

    Example: rewound list steels
    """
    from fem.report.text import lists

    tables = {
        Listing.STEELS: lists.steels,
        Listing.CONDUCTORS: lists.conductors,
        Listing.LAMINATIONS: lists.laminations,
        Listing.METALS: lists.metals,
        Listing.WORK_PIECES: lists.work_pieces,
    }
    return show(tables[what]())


@app.command()
def schema() -> int:
    """Print the JSON schema of a job file for editors.

    Example: rewound schema > rewound.schema.json
    """
    from fem.design.schema import job_schema

    return put(json.dumps(job_schema(), indent=2, ensure_ascii=False) + "\n")


app.command()(sweep)


@app.command()
def card(
    job: Annotated[Path, typer.Argument(help="Job file; its turns play no part.")],
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write the card as JSON; - writes only that.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Say what the field tells of a core and its arrangement, without turns: any secondary follows on paper.

    Example: rewound card my.toml
    """
    from fem.estimation.card import NotTurnFree
    from fem.estimation.card import card as compute
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.report.text.card import card_json, card_table

    design, file, kept = _read(job, quiet), _file(json_file), Kept(folder=default_folder())
    check_places({"--json": file}, inputs_of(job, {"core": {"bh_table": design.core.bh_table}}))
    try:
        found = compute(design, characteristics=kept, progress=None if quiet else say)
    except NotTurnFree as error:
        msg = f"{job}: {error}"
        raise Refused(msg) from error
    with finishing():
        printed = put(card_json(found)) if json_file == "-" else show(card_table(found))
        written = file is None or write_output(file, lambda path: write_text(path, card_json(found)), quiet)
    return printed if written else BAD_INPUT


@app.command()
def verify(
    json_file: Annotated[
        str | None, typer.Option("--json", metavar="FILE", help="Also write all checks as JSON; - writes only that.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Check this installation against published values; exit code 1 if one is missed.

    Fields, circuits, tables and formulas against worked examples, standards and closed forms: half a minute.

    Example: rewound verify --json checks.json
    """
    from fem.report.text.verify import verify_json, verify_table
    from fem.verification.run import verify as check

    file = _file(json_file)
    check_places({"--json": file}, ())
    found = check(None if quiet else say)
    with finishing():
        printed = put(verify_json(found)) if json_file == "-" else show(verify_table(found))
        written = file is None or write_output(file, lambda path: write_text(path, verify_json(found)), quiet)
    if not written:
        return BAD_INPUT
    return printed or (0 if found.passed else CHECK_FAILED)


def _read(job: Path | None, quiet: bool) -> Design:
    from fem.design.job import read_job
    from fem.design.tables import JobError
    from fem.examples import example as job_file

    try:
        if job is not None:
            return read_job(job)
        if not quiet:
            say(f"{PROGRAM}: no job file given, so the built-in example is estimated; rewound example prints it")
        with as_file(job_file()) as path:
            return read_job(path)
    except JobError as error:
        raise Refused(str(error)) from None


def _estimated(design: Design, quiet: bool, verbose: bool, *, drawn: bool) -> Estimate:
    from fem.estimation.fields.kept import Kept, default_folder
    from fem.estimation.one_design import estimate as compute
    from fem.estimation.parts import Part

    wanted = {part for part in Part if drawn or part is not Part.PICTURES}
    # A spinner on a terminal; a pipe or a file gets nothing.
    silent = quiet or verbose or sys.stderr is None or not sys.stderr.isatty()
    with nullcontext() if silent else console(sys.stderr).status("meshing", spinner="line") as status:

        def tell(step: str) -> None:
            if verbose:
                say(step)
            elif status is not None:
                status.update(step)

        return compute(design, wanted=wanted, characteristics=Kept(folder=default_folder()), progress=tell)


def _file(json_file: str | None) -> Path | None:
    return None if json_file in {None, "-"} else Path(str(json_file))


def _write_figures(found: Estimate, folder: Path) -> None:
    from fem.report.figures.estimate import figures_of, save

    for name, draw in figures_of(found):
        save(draw(found), folder, name)


def _write_vtu(found: Estimate, file: Path) -> None:
    from fem.report.files.vtu import write_vtu

    write_vtu(found, file)
