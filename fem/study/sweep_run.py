"""A sweep from start to end: the points of a job file, where its rows are kept, who computes them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence, Set
from concurrent.futures import Executor
from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pydantic import ValidationError

from fem.study.axes import Axis, AxisError, Point, check_points, job_at, points
from fem.study.design import Design
from fem.study.estimate import Part
from fem.study.job import JOB_FILE, JobError, misfits, read_tables, table_faults
from fem.study.provenance import computed_by, versions
from fem.study.sample import Tolerance, sampled
from fem.study.search import SCAN, Along, Target, find
from fem.study.store import Row, Store, StoreError
from fem.study.sweep import GEOMETRY, point_key, process_pool, sweep, varied
from geometries.errors import Fault, faults

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
    notes
        What the user should know: rows taken over, a changed job or version.
    """

    rows: tuple[Row, ...]
    stopped: bool
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
    AxisError
        If a scheduler is asked for whose library is not installed.
    StoreError
        If the store is there already and is not to be resumed, or is none.
    """

    def __init__(self, plan: Plan, watch: Watch) -> None:
        self.job = read_tables(plan.job)
        self.stopped = False
        self.notes: list[str] = []
        self.taken_over = 0
        self._plan, self._watch = plan, watch
        if plan.store is not None and plan.store.exists() and not plan.resume:
            msg = f"{plan.store} is there already: --resume goes on with it, or name another"
            raise StoreError(msg)
        with ExitStack() as stack:
            self._store = stack.enter_context(Store(plan.store)) if plan.store is not None else None
            if self._store is not None:
                self.notes += _about(self._store, self.job)
            self._executor, self._again = _executor(plan, stack)
            self._stack = stack.pop_all()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._stack.__exit__(kind, error, trace)

    def rows_at(self, every: Sequence[Point]) -> list[Row]:
        """Return the rows of points in their order: taken from the store, or computed and put there.

        After Ctrl-C as far as they are computed; `stopped` says so. A row that is computed is never lost.
        """
        rows = self._known(every)
        self.taken_over += len(rows)
        known = {row.key for row in rows}
        try:
            for found in sweep(
                varied(self.job, every),
                wanted=self._plan.wanted,
                executor=self._executor,
                workers=self._plan.workers,
                known=known,
                new_executor=self._again,
                job_file=True,
            ):
                if self._store is not None:
                    self._store.add(found)
                rows += found
                self._watch(len(rows), len(every))
        except KeyboardInterrupt:
            self.stopped = True
            if self._executor is not None:
                self._executor.shutdown(wait=False, cancel_futures=True)
        return sorted(rows, key=lambda row: row.position)

    def _known(self, every: Sequence[Point]) -> list[Row]:
        """Return the rows of these points that the store has, as points of this sweep; what failed is tried again."""
        done = self._store.done() if self._store is not None else set()
        if self._store is None or not done:
            return []
        places = {
            point_key(job, self._plan.wanted): (position, point)
            for position, (point, job) in enumerate(varied(self.job, every))
        }
        found = (row for row in self._store.rows() if row.key in done and row.key in places)
        return [replace(row, position=places[row.key][0], point=places[row.key][1]) for row in found]


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
        rows = find(run.rows_at, every, goal, along)
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
    return Outcome(rows=tuple(rows), stopped=run.stopped, notes=(*run.notes, *taken))


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


def _about(store: Store, job: dict[str, Any]) -> list[str]:
    """Note the job and what computes it in the store; say what differs from last time."""
    digest = hashlib.sha256(json.dumps(job, sort_keys=True, default=str).encode()).hexdigest()
    now = ", ".join(f"{name} {number}" for name, number in versions().items()) + f", sources {computed_by()[:12]}"
    notes = []
    before = store.note("job", digest)
    if before is not None and before != digest:
        text = "the job has changed since this store was made: all points are computed anew, the old rows stay in it"
        notes.append(text)
    before = store.note("versions", now)
    if before is not None and before != now:
        notes.append(f"versions or sources have changed since (then {before}): all points are computed anew")
    return notes


def _executor(plan: Plan, stack: ExitStack) -> tuple[Executor | None, Callable[[], Executor] | None]:
    if plan.scheduler is not None:
        try:
            from distributed import Client
        except ImportError:
            msg = "--scheduler needs dask.distributed: pip install 'rewound[dask]'"
            raise AxisError(msg) from None
        client = stack.enter_context(Client(plan.scheduler, timeout=10))
        return client.get_executor(pure=False), None
    if plan.workers <= 1:
        return None, None
    pool = stack.enter_context(process_pool(plan.workers))
    return pool, lambda: process_pool(plan.workers)
