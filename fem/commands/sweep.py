"""The command `sweep`."""

from __future__ import annotations

import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from threading import current_thread, main_thread
from typing import TYPE_CHECKING, Annotated

import typer

from fem.commands.output import check_places, inputs_of, store_beside, write_output
from fem.commands.terminal import (
    BAD_INPUT,
    POINTS_FAILED,
    PROGRAM,
    STOPPED,
    Refused,
    console,
    finishing,
    say,
    show,
)

if TYPE_CHECKING:
    from rich.progress import Task
    from rich.text import Text

    from fem.report.figures.sweep import Charts
    from fem.sweeps.rows.store import Row
    from fem.sweeps.select import Condition, Goal


def sweep(
    job: Annotated[Path, typer.Argument(help="Job file, or - for standard input.")],
    vary: Annotated[
        list[str] | None, typer.Option(metavar="KEY=VALUES", help="What to vary: a:b, a:b:step, a:b:log9, or a list.")
    ] = None,
    zipped: Annotated[bool, typer.Option("--zip", help="One value of each at a time; else every combination.")] = False,
    within: Annotated[
        list[str] | None,
        typer.Option(
            metavar="KEY[=+-TOLERANCE]",
            help="Draw at random within this of the job: core.stack_depth=+-1mm; a key alone: within its own.",
        ),
    ] = None,
    samples: Annotated[
        int, typer.Option("--sample", min=1, max=1_000_000, help="How many to draw with --within.")
    ] = 100,
    seed: Annotated[int, typer.Option(min=0, max=1_000_000_000, help="Another gives other draws.")] = 0,
    find: Annotated[
        str | None, typer.Option(metavar="RESULT=VALUE", help="Find where a result takes a value; with --along.")
    ] = None,
    along: Annotated[
        str | None, typer.Option(metavar="KEY=LEAST:GREATEST", help="The key to search: leads.length=0.5:3m.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", "-o", metavar="FILE.csv", help="Write all rows, and keep them as .sqlite.")
    ] = None,
    figures: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Also draw charts into this folder, as SVG and PNG.")
    ] = None,
    store: Annotated[Path | None, typer.Option(metavar="FILE", help="Keep rows here instead of beside --out.")] = None,
    resume: Annotated[bool, typer.Option("--resume", help="Go on with the rows that are kept.")] = False,
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
    most: Annotated[int, typer.Option("--top", min=1, max=1_000_000, help="Rows to show.")] = 20,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No messages but errors.")] = False,
) -> int:
    """Estimate many designs: vary any keys of a job.

    Every point becomes a row; one that fails says why. Ctrl-C and SIGTERM keep what is computed; --resume goes on.

    Example: rewound sweep my.toml --vary windings.secondary.turns=1:6 --vary leads.area=35,50,70mm2 -o rows.csv

    Example: rewound sweep my.toml --within core.stack_depth=+-1mm --sample 200

    Example: rewound sweep my.toml --vary windings.secondary.turns=1:4 --find
    short_circuit.secondary_current_rms_A=1500 --along leads.length=0.5:4m
    """
    from rich.console import Group
    from rich.text import Text

    from fem.design.tables import JobError, read_tables
    from fem.estimation.parts import Part
    from fem.report.text.sweep import COLUMNS, SHORT_CAUTION, spread_table, summary, sweep_table, write_csv
    from fem.sweeps.axes import AxisError, read_axis
    from fem.sweeps.rows.store import Status, StoreError
    from fem.sweeps.run import Plan, run_search, run_sweep
    from fem.sweeps.sample import read_tolerance
    from fem.sweeps.search import missed, read_along, read_target
    from fem.sweeps.select import SelectionError, check_keys, front, kept, ordered, read_condition, read_front
    from fem.sweeps.workers.cluster import NoScheduler

    if (find is None) is not (along is None):
        msg = f"{PROGRAM} sweep: --find says what is wanted, --along what to search for it: give both"
        raise Refused(msg)
    names = {part.name.lower().replace("_", "-"): part for part in Part}
    if unknown := [name for name in with_part or () if name not in names]:
        msg = f'{PROGRAM} sweep: no part "{unknown[0]}"; parts are {", ".join(names)}'
        raise Refused(msg)
    try:
        goals = read_front(pareto) if pareto else ()
        conditions = [read_condition(text) for text in keep or ()]
        target = read_target(find) if find else None
        search = read_along(along) if along else None
        plan = Plan(
            job=job,
            axes=tuple(read_axis(text) for text in vary or ()),
            zipped=zipped,
            tolerances=tuple(read_tolerance(text) for text in within or ()),
            samples=samples,
            seed=seed,
            wanted=frozenset(names[name] for name in with_part or ()),
            workers=workers,
            scheduler=scheduler,
            store=store or (store_beside(out) if out is not None else None),
            resume=resume,
        )
        given = [value for axis in plan.axes if axis.key == "core.bh_table" for value in axis.values]
        wanted = [key.lstrip("-") for key in (sort or "",) if key] + [goal.key for goal in goals]
        wanted += [condition.key for condition in conditions if condition.key is not None]
        wanted += [target.key] if target is not None else []
        tables = read_tables(job)
        charts = None if figures is None else _charts(wanted, conditions, goals, "" if search is None else search.key)
        files = () if charts is None else charts.files
        check_places({"-o": out}, inputs_of(job, tables, given), store=plan.store, figures=figures, files=files)
        with termination_as_interrupt(), counter(quiet) as watch:
            if target is not None and search is not None:
                found = run_search(plan, target, search, watch)
            else:
                found = run_sweep(plan, watch)
        with finishing():
            for note in (*found.notes, *filter(None, (found.gone, found.unkept))):
                say(f"{PROGRAM}: {note}")
            saved = out is None or write_output(out, lambda path: write_csv(found.rows, path), quiet)
            check_keys(found.rows, wanted)
            shown = kept(found.rows, conditions)
            shown = front(shown, goals) if goals else shown
            if sort:
                shown = ordered(shown, sort.lstrip("-"), least_first=sort.startswith("-"))
            columns = list(dict.fromkeys([*wanted, *COLUMNS]))
            spread = [spread_table(shown, columns)] if within and shown else []
            printed = show(Group(sweep_table(shown, columns, most=most), *spread, Text(f"\n{SHORT_CAUTION}")))
            if figures is not None and charts is not None:
                saved &= _draw(charts, found.rows, str(tables.get("title", "")), figures, quiet)
    except JobError as error:
        raise Refused("\n".join(error.lines)) from error
    except (AxisError, NoScheduler, SelectionError, StoreError) as error:
        msg = f"{PROGRAM} sweep: {error}"
        raise Refused(msg) from error
    if not quiet:
        say(f"{PROGRAM}: {summary(found.rows)}")
    if not saved or found.unkept:
        return BAD_INPUT
    if found.stopped:
        return STOPPED
    without = list(missed(found.rows)) if target is not None else []
    for line in without[:most]:
        say(f"{PROGRAM} sweep: {line}")
    if len(without) > most:
        say(f"{PROGRAM} sweep: nothing found at {len(without[most:])} more points")
    failed = without or found.gone or any(row.status is Status.FAILED or row.has_gaps for row in found.rows)
    return printed or (POINTS_FAILED if failed else 0)


def _charts(results: Sequence[str], conditions: Sequence[Condition], goals: Sequence[Goal], along: str) -> Charts:
    from fem.report.figures.sweep import Charts

    return Charts(results=tuple(results), conditions=tuple(conditions), goals=tuple(goals), along=along)


def _draw(charts: Charts, rows: Sequence[Row], title: str, folder: Path, quiet: bool) -> bool:
    from fem.report.figures.estimate import save

    drawn = list(charts.of(rows, title))
    if not drawn:
        say(f"{PROGRAM} sweep: no charts: no two points that differ have a number")
        return True

    def write(place: Path) -> None:
        for name, figure in drawn:
            save(figure, place, name)

    return write_output(folder, write, quiet)


@contextmanager
def termination_as_interrupt() -> Iterator[None]:
    """Answer SIGTERM as Ctrl-C is answered: what is computed is put away and shown."""

    def interrupt(number: int, frame: object) -> None:
        raise KeyboardInterrupt

    if current_thread() is not main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


@contextmanager
def counter(quiet: bool) -> Iterator[Callable[[int, int], None]]:
    """Yield what shows the progress of a sweep on standard error, with rate and time left."""
    if quiet or sys.stderr is None:
        yield lambda done, whole: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, ProgressColumn, TextColumn, TimeRemainingColumn
    from rich.text import Text

    class Rate(ProgressColumn):
        """Points a second."""

        def render(self, task: Task) -> Text:
            return Text("" if task.speed is None else f"{task.speed:.3g}/s")

    bar = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), Rate(), TimeRemainingColumn())
    messages = console(sys.stderr)
    with Progress(*bar, console=messages, transient=True, disable=not messages.is_terminal) as progress:
        task = progress.add_task("sweep", total=None)
        yield lambda done, whole: progress.update(task, completed=done, total=whole)
