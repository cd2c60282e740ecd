"""A sweep from start to end: the points of a job file, where its rows are kept, who computes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pydantic import ValidationError

from fem.design.job import JOB_FILE, misfits, table_faults
from fem.design.tables import JobError, read_tables
from fem.design.transformer import Design
from fem.estimation.parts import Part
from fem.sweeps.axes import Axis, AxisError, Point, check_points, job_at, points
from fem.sweeps.points import GEOMETRY, sweep, varied
from fem.sweeps.rows.keeping import Keeping
from fem.sweeps.rows.store import Row, StoreError
from fem.sweeps.sample import Tolerance, sampled
from fem.sweeps.search import SCAN, Along, Slopes, Target, find
from fem.sweeps.workers.cluster import Cluster
from fem.sweeps.workers.dispatch import WorkersGone
from fem.sweeps.workers.pool import Pool
from fem.sweeps.workers.solving import slope_key
from fem.sweeps.workers.task import point_key
from geometries.described.faults import Fault, faults

Watch = Callable[[int, int], None]
"""Told how many points are done, and how many there are to do in all."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """What to sweep and how.

    Parameters
    ----------
    job
        The job file.
    axes, zipped
        What is varied; crossed unless zipped.
    tolerances, samples, seed
        Random points round each of these, within tolerances; none where there are no tolerances.
    wanted
        Costly parts to compute.
    workers
        Local processes; 1 computes here.
    scheduler
        Address of a running dask.distributed scheduler, in place of local processes.
    store
        File to keep rows in; in memory only where None.
    resume
        Go on with a store that is there already.
    """

    job: Path
    axes: tuple[Axis, ...]
    zipped: bool = False
    tolerances: tuple[Tolerance, ...] = ()
    samples: int = 100
    seed: int = 0
    wanted: Set[Part] = frozenset()
    workers: int = 1
    scheduler: str | None = None
    store: Path | None = None
    resume: bool = False


@dataclass(frozen=True, kw_only=True, slots=True)
class Outcome:
    """All rows of a sweep by their position, and what is to be said about it.

    Parameters
    ----------
    rows
        As far as they are computed.
    stopped
        Whether Ctrl-C ended it.
    gone
        Why it ended before all were computed, where its workers are out of reach; else empty.
    unkept
        Why rows are not in the store and how many; empty if all are.
    notes
        What the user should know: rows taken over, a changed job or version.
    """

    rows: tuple[Row, ...]
    stopped: bool
    gone: str
    unkept: str
    notes: tuple[str, ...]


class Run:
    """A job with its rows on disk and whoever computes them, for one set of points after another.

    Use it as a context manager.

    Parameters
    ----------
    plan
        What to sweep and how.
    watch
        Told of the progress.

    Raises
    ------
    JobError
        If the job cannot be read.
    NoScheduler
        If a scheduler is asked for that does not answer.
    StoreError
        If the store is there already and is not to be resumed, or is none.
    """

    def __init__(self, plan: Plan, watch: Watch) -> None:
        self.job = read_tables(plan.job)
        self.stopped = False
        self.gone = ""
        self.unkept = ""
        self.taken_over = 0
        self._plan, self._watch = plan, watch
        self._workers = _workers(plan)
        try:
            self._keeping = Keeping(plan.store, resume=plan.resume, job=self.job)
        except StoreError:
            self._let_go()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._let_go()
        self.unkept = self._keeping.close()

    @property
    def notes(self) -> list[str]:
        """What there is to say about the store."""
        return self._keeping.notes

    def rows_at(self, every: Sequence[Point], along: tuple[str, str] | None = None) -> list[Row]:
        """Return the rows of points in their order: taken from the store, or computed and put there.

        Those that are computed with the derivative of a result by a length, if that is asked for and there is one.

        After Ctrl-C, or where the workers are gone, as far as they are computed; `stopped` and `gone` say so.
        """
        rows = self._keeping.known((point, point_key(job, self._plan.wanted)) for point, job in varied(self.job, every))
        self.taken_over += len(rows)
        if self.stopped or self.gone:
            return sorted(rows, key=lambda row: row.position)
        known = {row.key for row in rows}
        try:
            for found in sweep(
                varied(self.job, every),
                wanted=self._plan.wanted,
                workers=self._workers,
                known=known,
                job_file=True,
                along=along,
            ):
                rows += found
                self._keeping.add(found)
                self._watch(len(rows), len(every))
        except KeyboardInterrupt:
            self.stopped = True
            self._let_go()
        except WorkersGone as error:
            self.gone = str(error)
        return sorted(rows, key=lambda row: row.position)

    def _let_go(self) -> None:
        if self._workers is not None:
            self._workers.close()
            self._workers = None


def run_sweep(plan: Plan, watch: Watch) -> Outcome:
    """Run a sweep; whatever happens, the rows that are computed are kept.

    Raises
    ------
    JobError
        If the job cannot be read, or a varied key or value is wrong, or a winding does not fit, at every point.
    AxisError
        If the axes do not go together.
    StoreError
        If the store is there already and is not to be resumed, or is none.
    """
    job = read_tables(plan.job)
    every = _points(plan, job)
    _check(plan.job, job, every)
    with Run(plan, watch) as run:
        rows = run.rows_at(every)
    return _outcome(run, plan, rows)


def run_search(plan: Plan, goal: Target, along: Along, watch: Watch) -> Outcome:
    """Find, at every point of a sweep, where along one more key a result takes a value; see `search.find`.

    Raises
    ------
    JobError, AxisError, StoreError
        As `run_sweep`.
    """
    job = read_tables(plan.job)
    every = _points(plan, job) if plan.axes or plan.tolerances else [{}]
    if any(along.key in point for point in every):
        msg = f"{along.key} is searched along and varied too"
        raise AxisError(msg)
    check_points((len(every), SCAN))
    _check(plan.job, job, [{**every[0], along.key: along.value(0.0)}, {**every[-1], along.key: along.value(1.0)}])
    with Run(plan, watch) as run:
        asked = (goal.key, along.key)
        slopes = None
        if along.is_length and asked[1].partition(".")[0] in GEOMETRY and not plan.wanted:
            slopes = Slopes(evaluate=partial(run.rows_at, along=asked), key=slope_key(*asked))
        rows = find(run.rows_at, every, goal, along, slopes)
    return _outcome(run, plan, rows)


def _points(plan: Plan, job: dict[str, Any]) -> list[Point]:
    every = points(plan.axes, zipped=plan.zipped)
    if plan.tolerances:
        return sampled(job, every, plan.tolerances, count=plan.samples, seed=plan.seed)
    if not plan.axes:
        msg = "nothing to sweep: give at least one --vary or --within"
        raise AxisError(msg)
    return every


def _outcome(run: Run, plan: Plan, rows: list[Row]) -> Outcome:
    taken = [f"{run.taken_over} rows taken over from {plan.store}"] if run.taken_over else []
    gone = f"{run.gone}: {len(rows)} rows are there, --resume goes on" if run.gone else ""
    return Outcome(rows=tuple(rows), stopped=run.stopped, gone=gone, unkept=run.unkept, notes=(*run.notes, *taken))


def _check(path: Path, job: dict[str, Any], every: Sequence[dict[str, Any]]) -> None:
    """Refuse a sweep whose keys or values are wrong, by its first and its last point, or none of whose points fits."""
    found: list[list[Fault]] = []
    for point in (every[0], every[-1]):
        tables = job_at(job, point)
        try:
            Design.model_validate(tables, context=JOB_FILE)
        except ValidationError as error:
            found.append(faults(error))
        else:
            break
    else:
        raise JobError(str(path), found[0])
    same = set(tables) - {key.partition(".")[0] for key in every[0]}
    wrong = misfits(tables) if same.issuperset(set(GEOMETRY) & set(tables)) else []
    wrong += table_faults(tables) if {"core", "windings", "mains"} <= same else []
    if wrong:
        raise JobError(str(path), wrong)


def _workers(plan: Plan) -> Cluster | Pool | None:
    if plan.scheduler is not None:
        return Cluster(plan.scheduler)
    return Pool(plan.workers) if plan.workers > 1 else None
