"""A sweep from start to end: the points of a job file, where its rows are kept, who computes them."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence, Set
from concurrent.futures import Executor
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from fem.study.axes import Axis, AxisError, job_at, points
from fem.study.design import Design
from fem.study.estimate import Part, versions
from fem.study.job import JobError, read_tables
from fem.study.store import Row, Store, StoreError
from fem.study.sweep import process_pool, sweep, varied
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


def run_sweep(plan: Plan, watch: Watch) -> Outcome:
    """Run a sweep; whatever happens, the rows that are computed are kept.

    Raises
    ------
    JobError
        If the job cannot be read, or a varied key or value is wrong at every point.
    AxisError
        If the axes do not go together.
    StoreError
        If the store is there already and is not to be resumed, or is none.
    """
    job = read_tables(plan.job)
    every = points(plan.axes, zipped=plan.zipped)
    _check(plan.job, job, every)
    if plan.store is not None and plan.store.exists() and not plan.resume:
        msg = f"{plan.store} is there already: --resume goes on with it, or name another"
        raise StoreError(msg)
    rows: list[Row] = []
    notes: list[str] = []
    stopped = False
    with ExitStack() as stack:
        store = stack.enter_context(Store(plan.store)) if plan.store is not None else None
        known: set[str] = set()
        if store is not None:
            notes += _about(store, job)
            known = store.done()
        executor, again = _executor(plan, stack)
        done = 0
        try:
            for found in sweep(
                varied(job, every),
                wanted=plan.wanted,
                executor=executor,
                workers=plan.workers,
                known=known,
                new_executor=again,
                job_file=True,
            ):
                if store is not None:
                    store.add(found)
                rows += found
                done += len(found)
                watch(done, len(every))
        except KeyboardInterrupt:
            stopped = True
            if executor is not None:
                executor.shutdown(wait=False, cancel_futures=True)
        if store is not None:
            kept = list(store.rows())
            taken = len(kept) - len(rows)
            if taken > 0:
                notes.append(f"{taken} rows taken over from {plan.store}")
            rows = kept
    return Outcome(rows=tuple(sorted(rows, key=lambda row: row.position)), stopped=stopped, notes=tuple(notes))


def _check(path: Path, job: dict[str, Any], every: Sequence[dict[str, Any]]) -> None:
    """Refuse a sweep whose keys or values are wrong, by its first and its last point."""
    found: list[list[Fault]] = []
    for point in (every[0], every[-1]) if every else ():
        try:
            Design.model_validate(job_at(job, point), context={"job_file": True})
        except ValidationError as error:
            found.append(faults(error))
        else:
            return
    if not every:
        msg = "nothing to sweep: give at least one --vary"
        raise AxisError(msg)
    raise JobError(str(path), found[0])


def _about(store: Store, job: dict[str, Any]) -> list[str]:
    """Note the job and the versions in the store; say what differs from last time."""
    digest = hashlib.sha256(json.dumps(job, sort_keys=True, default=str).encode()).hexdigest()
    now = ", ".join(f"{name} {number}" for name, number in versions().items())
    notes = []
    before = store.note("job", digest)
    if before is not None and before != digest:
        notes.append("the job has changed since this store was made: its points are computed anew beside the old rows")
    before = store.note("versions", now)
    if before is not None and before != now:
        notes.append(f"versions have changed since (then {before}): all points are computed anew")
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
