"""The command line: each command is one library call and the printing of what it returns."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from enum import Enum
from importlib.metadata import version
from importlib.resources import as_file
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from rich.console import Console

    from fem.study.design import Design
    from fem.study.results import Estimate

PROGRAM = "rewound"
# typer keeps its parser to itself; all that is wrong with a command line derives from this.
UsageError: Any = typer.BadParameter.__bases__[0]

CHECK_FAILED = POINTS_FAILED = 1
BAD_INPUT, NOT_CONVERGED, NO_MESHER, STOPPED = 2, 3, 69, 130

app = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)


class Listing(Enum):
    """What can be listed."""

    STEELS = "steels"
    CONDUCTORS = "conductors"
    LAMINATIONS = "laminations"
    METALS = "metals"


def main() -> None:
    """Run the command line and leave with its exit code."""
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run one command and return its exit code: 0, or as the constants above say."""
    from fem.errors import NotConverged, OutOfRange
    from fem.examples import UnknownExample
    from geometries.mesh import MesherUnavailable

    try:
        code = int(app(args=arguments, prog_name=PROGRAM, standalone_mode=False) or 0)
        if code == STOPPED:  # newer typer turns Ctrl-C into its code without a word, older raises Abort
            _say(f"{PROGRAM}: stopped")
        return code
    except UsageError as error:
        command = error.ctx.command_path if error.ctx is not None else PROGRAM
        _say(f"{command}: {' '.join(error.format_message().split()).rstrip('.')} (see {command} --help)")
    except (_Refused, UnknownExample, OutOfRange) as error:
        _say(str(error))
    except NotConverged as error:
        _say(f"{PROGRAM}: no convergence: {error}")
        return NOT_CONVERGED
    except MesherUnavailable as error:
        _say(f"{PROGRAM}: {error}")
        return NO_MESHER
    except (KeyboardInterrupt, typer.Abort):
        _say(f"{PROGRAM}: stopped")
        return STOPPED
    return BAD_INPUT


class _Refused(Exception):
    """What ends a command with one line for each fault."""


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
    to mind.

    Example: rewound estimate my.toml --figures drawings
    """
    from fem.report.json import to_json
    from fem.report.text import WIDTH, report

    design = _read(job, quiet)
    found = _estimated(design, quiet, verbose)
    if json_file == "-":
        sys.stdout.write(to_json(found))
    else:
        console = _console()
        console.print(report(found), width=min(console.width, WIDTH))
    wanted: list[tuple[Path | None, Callable[[Path], None]]] = [
        (Path(json_file) if json_file not in {None, "-"} else None, lambda file: _write_json(found, file)),
        (figures, lambda folder: _write_figures(found, folder)),
        (vtu, lambda file: _write_vtu(found, file)),
    ]
    written = [_written(path, write, quiet) for path, write in wanted if path is not None]
    return 0 if all(written) else BAD_INPUT


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
    _console().print(tables[what]())


@app.command()
def schema() -> None:
    """Print the JSON schema of a job file for editors.

    Example: rewound schema > rewound.schema.json
    """
    from fem.study.schema import job_schema

    print(json.dumps(job_schema(), indent=2, ensure_ascii=False))


@app.command()
def sweep(
    job: Annotated[Path, typer.Argument(help="Job file.")],
    vary: Annotated[
        list[str], typer.Option(metavar="KEY=VALUES", help="What to vary: a:b, a:b:step, a:b:log9, or a list.")
    ],
    zipped: Annotated[bool, typer.Option("--zip", help="One value of each at a time; else every combination.")] = False,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE.csv", help="Write all rows, and keep them as .sqlite.")
    ] = None,
    resume: Annotated[bool, typer.Option(help="Go on with the rows kept beside --out.")] = False,
    workers: Annotated[int, typer.Option(min=1, max=256, help="Local processes.")] = 1,
    scheduler: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="A dask.distributed scheduler in place of local processes.")
    ] = None,
    with_part: Annotated[
        list[str] | None, typer.Option("--with", metavar="PART", help="Also compute a costly part; see the README.")
    ] = None,
    sort: Annotated[str | None, typer.Option(metavar="RESULT", help="Greatest first; -RESULT for least first.")] = None,
    keep: Annotated[
        list[str] | None, typer.Option(metavar="CONDITION", help="Show only rows that meet it: 'breaker holds'.")
    ] = None,
    pareto: Annotated[
        str | None, typer.Option("--front", metavar="GOALS", help="Show only what no row beats: key:max,key:min.")
    ] = None,
    most: Annotated[int, typer.Option("--top", min=1, help="Rows to show.")] = 20,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Estimate many designs: vary any keys of a job.

    Every point becomes a row; one that fails says why. Ctrl-C keeps what is computed; --resume goes on.

    Example: rewound sweep my.toml --vary windings.secondary.turns=1:6 --vary leads.area=35,50,70mm2 -o rows.csv
    """
    from fem.report.sweep_table import COLUMNS, summary, sweep_table, write_csv
    from fem.study.axes import AxisError, read_axis
    from fem.study.estimate import Part
    from fem.study.job import JobError
    from fem.study.select import SelectionError, check_keys, front, kept, ordered, read_condition, read_front
    from fem.study.store import Status, StoreError
    from fem.study.sweep_run import Plan, run_sweep

    try:
        goals = read_front(pareto) if pareto else ()
        conditions = [read_condition(text) for text in keep or ()]
        names = {part.name.lower().replace("_", "-"): part for part in Part}
        if unknown := [name for name in with_part or () if name not in names]:
            msg = f'{PROGRAM} sweep: no part "{unknown[0]}"; parts are {", ".join(names)}'
            raise _Refused(msg)
        plan = Plan(
            job=job,
            axes=tuple(read_axis(text) for text in vary),
            zipped=zipped,
            wanted=frozenset(names[name] for name in with_part or ()),
            workers=workers,
            scheduler=scheduler,
            store=out.with_suffix(".sqlite") if out is not None else None,
            resume=resume,
        )
        with _counter(quiet) as watch:
            found = run_sweep(plan, watch)
        for note in found.notes:
            _say(f"{PROGRAM}: {note}")
        wanted_keys = [key.lstrip("-") for key in (sort or "",) if key] + [goal.key for goal in goals]
        check_keys(found.rows, wanted_keys)
    except JobError as error:
        raise _Refused("\n".join(error.lines)) from error
    except (AxisError, SelectionError, StoreError) as error:
        msg = f"{PROGRAM} sweep: {error}"
        raise _Refused(msg) from error
    shown = kept(found.rows, conditions)
    shown = front(shown, goals) if goals else shown
    if sort:
        shown = ordered(shown, sort.lstrip("-"), least_first=sort.startswith("-"))
    columns = list(dict.fromkeys([*wanted_keys, *COLUMNS]))
    _console().print(sweep_table(shown, columns, most=most))
    if not quiet:
        _say(f"{PROGRAM}: {summary(found.rows)}")
    if out is not None and not _written(out, lambda path: write_csv(found.rows, path), quiet):
        return BAD_INPUT
    if found.stopped:
        return STOPPED
    return POINTS_FAILED if any(row.status is Status.FAILED for row in found.rows) else 0


@contextmanager
def _counter(quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Yield what shows the progress of a sweep on standard error, with rate and time left."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    if quiet:
        yield lambda done, whole: None
        return
    console = Console(stderr=True)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=console, transient=True) as progress:
        bar = progress.add_task("sweep", total=None)
        yield lambda done, whole: progress.update(bar, completed=done, total=whole)


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
    from fem.study.card import card as compute

    found = compute(_read(job, quiet), progress=None if quiet else _say)
    if json_file == "-":
        sys.stdout.write(card_json(found))
        return 0
    _console().print(card_table(found))
    if json_file is not None:
        file = Path(json_file)
        return 0 if _written(file, lambda path: _write_text(path, card_json(found)), quiet) else BAD_INPUT
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

    found = check(None if quiet else _say)
    if json_file == "-":
        sys.stdout.write(verify_json(found))
    else:
        console = _console()
        console.print(verify_table(found))
        if json_file is not None:
            file = Path(json_file)
            if not _written(file, lambda path: _write_text(path, verify_json(found)), quiet):
                return BAD_INPUT
    return 0 if found.passed else CHECK_FAILED


def _write_text(file: Path, text: str) -> None:
    file.write_text(text, "utf-8")


def _read(job: Path | None, quiet: bool) -> Design:
    from fem.examples import example as job_file
    from fem.study.job import JobError, read_job

    try:
        if job is not None:
            return read_job(job)
        if not quiet:
            _say(f"{PROGRAM}: no job file given, so the built-in example is estimated; rewound example prints it")
        with as_file(job_file()) as path:
            return read_job(path)
    except JobError as error:
        raise _Refused(str(error)) from None


def _estimated(design: Design, quiet: bool, verbose: bool) -> Estimate:
    from rich.console import Console

    from fem.study.estimate import estimate as compute

    # A spinner on a terminal; a pipe or a file gets nothing.
    messages = Console(stderr=True, markup=False, highlight=False)
    with nullcontext() if quiet or verbose else messages.status("meshing") as status:

        def tell(step: str) -> None:
            if verbose:
                _say(step)
            elif status is not None:
                status.update(step)

        return compute(design, progress=tell)


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


def _written(path: Path, write: Callable[[Path], None], quiet: bool) -> bool:
    """Write one of the outputs; results already printed are not lost where that fails."""
    try:
        write(path)
    except OSError as error:
        _say(f"{PROGRAM}: cannot write {path}: {error.strerror or error}")
        return False
    if not quiet:
        _say(f"{PROGRAM}: wrote {path}")
    return True


def _console() -> Console:
    """Return a console for results: as wide as the terminal, 100 columns into a file or a pipe."""
    from rich.console import Console

    piped = not sys.stdout.isatty() and "COLUMNS" not in os.environ
    return Console(width=100 if piped else None, markup=False, highlight=False, emoji=False)


def _say(line: str) -> None:
    print(line, file=sys.stderr)
