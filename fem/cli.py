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

from fem.commands.sweep import sweep
from fem.commands.terminal import (
    BAD_INPUT,
    CHECK_FAILED,
    GAPS,
    NO_MESHER,
    NOT_CONVERGED,
    PROGRAM,
    STOPPED,
    Refused,
    result_console,
    say,
    write_output,
    write_text,
)

if TYPE_CHECKING:
    from fem.study.design import Design
    from fem.study.results import Estimate

# typer keeps its parser to itself; all that is wrong with a command line derives from this.
UsageError: Any = typer.BadParameter.__bases__[0]

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)


class Listing(Enum):
    """What can be listed."""

    STEELS = "steels"
    CONDUCTORS = "conductors"
    LAMINATIONS = "laminations"
    METALS = "metals"


def main() -> None:
    """Run the command line and leave with its exit code."""
    code = run(sys.argv[1:])
    # Else the interpreter searches all that was ever loaded for cycles before it leaves: 0.15 s for nothing.
    gc.freeze()
    sys.exit(code)


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, or as the constants above say."""
    from fem.errors import NotConverged, OutOfRange
    from fem.examples import UnknownExample
    from geometries.mesh import MesherUnavailable

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
    except NotConverged as error:
        say(f"{PROGRAM}: no convergence: {error}")
        return NOT_CONVERGED
    except MesherUnavailable as error:
        say(f"{PROGRAM}: {error}")
        return NO_MESHER
    except (KeyboardInterrupt, typer.Abort):
        say(f"{PROGRAM}: stopped")
        return STOPPED
    return BAD_INPUT


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"{PROGRAM} {version(PROGRAM)}")
        raise typer.Exit


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
        print(context.get_help())


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
    from fem.report.json import to_json
    from fem.report.text import WIDTH, report

    design = _read(job, quiet)
    found = _estimated(design, quiet, verbose, drawn=figures is not None or vtu is not None)
    if json_file == "-":
        sys.stdout.write(to_json(found))
    else:
        screen = result_console()
        screen.print(report(found), width=min(screen.width, WIDTH))
    wanted: list[tuple[Path | None, Callable[[Path], None]]] = [
        (Path(json_file) if json_file not in {None, "-"} else None, lambda file: _write_json(found, file)),
        (figures, lambda folder: _write_figures(found, folder)),
        (vtu, lambda file: _write_vtu(found, file)),
    ]
    written = [write_output(path, write, quiet) for path, write in wanted if path is not None]
    if found.gaps:
        say(f"{PROGRAM}: could not be computed: {', '.join(found.gaps)}")
    return BAD_INPUT if not all(written) else GAPS if found.gaps else 0


@app.command()
def example(
    name: Annotated[str, typer.Argument(help="Which example.")] = "bandsaw_brazing",
) -> None:
    """Print an example job file to begin with.

    Example: rewound example > my.toml
    """
    from fem.examples import example as job_file

    sys.stdout.write(job_file(name).read_text("utf-8"))


@app.command("list")
def list_names(what: Annotated[Listing, typer.Argument(help="What to list.")]) -> None:
    """List what a job file may call by its name.

    Example: rewound list steels
    """
    from fem.report import lists

    tables = {
        Listing.STEELS: lists.steels,
        Listing.CONDUCTORS: lists.conductors,
        Listing.LAMINATIONS: lists.laminations,
        Listing.METALS: lists.metals,
    }
    result_console().print(tables[what]())


@app.command()
def schema() -> None:
    """Print the JSON schema of a job file for editors.

    Example: rewound schema > rewound.schema.json
    """
    from fem.study.schema import job_schema

    print(json.dumps(job_schema(), indent=2, ensure_ascii=False))


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
    from fem.report.card import card_json, card_table
    from fem.study.cache import Kept, default_folder
    from fem.study.card import NotTurnFree
    from fem.study.card import card as compute

    kept = Kept(folder=default_folder())
    try:
        found = compute(_read(job, quiet), characteristics=kept, progress=None if quiet else say)
    except NotTurnFree as error:
        msg = f"{job}: {error}"
        raise Refused(msg) from error
    if json_file == "-":
        sys.stdout.write(card_json(found))
        return 0
    result_console().print(card_table(found))
    if json_file is not None:
        file = Path(json_file)
        return 0 if write_output(file, lambda path: write_text(path, card_json(found)), quiet) else BAD_INPUT
    return 0


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
    from fem.report.verify_table import verify_json, verify_table
    from fem.study.verify import verify as check

    found = check(None if quiet else say)
    if json_file == "-":
        sys.stdout.write(verify_json(found))
    else:
        screen = result_console()
        screen.print(verify_table(found))
        if json_file is not None:
            file = Path(json_file)
            if not write_output(file, lambda path: write_text(path, verify_json(found)), quiet):
                return BAD_INPUT
    return 0 if found.passed else CHECK_FAILED


def _read(job: Path | None, quiet: bool) -> Design:
    from fem.examples import example as job_file
    from fem.study.job import JobError, read_job

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
    from rich.console import Console

    from fem.study.cache import Kept, default_folder
    from fem.study.estimate import Part
    from fem.study.estimate import estimate as compute

    wanted = {part for part in Part if drawn or part is not Part.PICTURES}
    # A spinner on a terminal; a pipe or a file gets nothing.
    messages = Console(stderr=True, markup=False, highlight=False)
    with nullcontext() if quiet or verbose else messages.status("meshing") as status:

        def tell(step: str) -> None:
            if verbose:
                say(step)
            elif status is not None:
                status.update(step)

        return compute(design, wanted=wanted, characteristics=Kept(folder=default_folder()), progress=tell)


def _write_json(found: Estimate, file: Path) -> None:
    from fem.report.json import to_json

    file.write_text(to_json(found), "utf-8")


def _write_figures(found: Estimate, folder: Path) -> None:
    from fem.report.figures import figures_of, save

    for name, draw in figures_of(found):
        save(draw(found), folder, name)


def _write_vtu(found: Estimate, file: Path) -> None:
    from fem.report.vtu import write_vtu

    write_vtu(found, file)
