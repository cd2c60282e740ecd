"""Many designs: points grouped by what the field depends on, computed here or by any executor, kept as they come."""

from __future__ import annotations

import hashlib
import json
import math
import os
import sys
from collections import OrderedDict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from typing import Any

from pydantic import ValidationError

from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.materials.bh import MOST_BYTES
from fem.plain_file import read_plain
from fem.study.axes import Point, job_at
from fem.study.cache import Kept, default_folder
from fem.study.design import Design, as_given
from fem.study.estimate import Part, estimate
from fem.study.provenance import computed_by
from fem.study.store import Row, Status
from geometries.errors import faults

CHUNK = 32
"""Points handed to a worker at a time."""
GEOMETRIES = 4
"""Cores or arrangements among them, at most: each costs as much as some 300 points."""
AHEAD = 8
"""Cores or arrangements whose fields are solved, by whichever worker is free, before the rest of their points."""
TASKS_PER_LIFE = 1600
"""Tasks a local worker does before another takes its place: at most 6400 fields or 51 200 points, minutes of work."""
WINDOW = 3
"""Chunks under way per worker."""
GEOMETRY = ("core", "windings", "shunt")
"""Tables of a job that a field can depend on; within them a winding's turns and wires may or may not."""
Entry = tuple[int, str, Point, Mapping[str, Any]]
"""A point to compute: its position, its key, what is varied and the whole job."""
LEFT_OUT = ("title", "bands", "reasons", "gaps", "cautions", "provenance")


@dataclass(frozen=True, kw_only=True, slots=True)
class Task:
    """Points for one worker: positions, keys, what was varied, and the whole job of each, as plain values.

    `job_file` says whether bare numbers are refused where a unit is needed, as in a job file.
    """

    positions: tuple[int, ...]
    keys: tuple[str, ...]
    points: tuple[Point, ...]
    jobs: tuple[Mapping[str, Any], ...]
    wanted: tuple[str, ...]
    job_file: bool


def sweep(
    jobs: Iterable[tuple[Point, Mapping[str, Any]]],
    *,
    wanted: Set[Part] = frozenset(),
    executor: Executor | None = None,
    workers: int = 1,
    known: Set[str] = frozenset(),
    new_executor: Callable[[], Executor] | None = None,
    job_file: bool = False,
) -> Iterator[list[Row]]:
    """Estimate many designs; yield rows as they come.

    Parameters
    ----------
    jobs
        What was varied, with the tables of the whole job (SI numbers, or texts with units).
    wanted
        Costly parts to compute.
    executor
        Any executor; here, one after the other, where None.
    workers
        How many the executor has.
    known
        Keys of points that are not computed again.
    new_executor
        Makes another executor, should a worker die; after the second death suspects are run alone.
    job_file
        Whether the tables come from a job file, in which bare numbers are refused where a unit is needed.
    """
    tasks = _tasks(jobs, wanted, known, job_file)
    if executor is None:
        for task in tasks:
            yield run_task(task)
        return
    yield from _through(executor, list(tasks), workers, new_executor)


def point_key(job: Mapping[str, Any], wanted: Set[Part]) -> str:
    """Return the digest of a whole job with the B-H table it names, of what computes it and of what is asked for."""
    parts = [job, computed_by(), sorted(part.name for part in wanted)]
    core = job.get("core")
    table = core.get("bh_table") if isinstance(core, Mapping) else None
    if isinstance(table, str):
        parts.append(_content(table))
    return hashlib.sha256(json.dumps(parts, sort_keys=True, default=str).encode()).hexdigest()


@cache
def _content(file: str) -> str:
    """Return a digest of a file as it is when first asked for; empty where it cannot be read, which the point says."""
    try:
        return hashlib.sha256(read_plain(file, MOST_BYTES)).hexdigest()
    except (OSError, ValueError):
        return ""


def of_designs(designs: Iterable[Design]) -> Iterator[tuple[Point, Mapping[str, Any]]]:
    """Yield designs as `sweep` takes them; the point is a design's number among them."""
    for number, design in enumerate(designs):
        yield {"design": number}, as_given(design)


def _tasks(
    jobs: Iterable[tuple[Point, Mapping[str, Any]]], wanted: Set[Part], known: Set[str], job_file: bool
) -> Iterator[Task]:
    """Group points by core and windings, so that a worker solves a field once for as many of them as can be."""
    groups: OrderedDict[str, list[Entry]] = OrderedDict()
    for position, (point, job) in enumerate(jobs):
        key = point_key(job, wanted)
        if key not in known:
            same = json.dumps([job.get(name) for name in GEOMETRY], sort_keys=True, default=str)
            groups.setdefault(same, []).append((position, key, point, job))
    names = tuple(sorted(part.name for part in wanted))
    for entries in _chunks(list(groups.values())):
        yield _task(entries, names, job_file)


def _chunks(groups: Sequence[list[Entry]]) -> Iterator[list[Entry]]:
    """Cut groups of one field each into chunks, so that no two workers solve the same field at the same time."""
    for first in range(0, len(groups), AHEAD):
        ahead = groups[first : first + AHEAD]
        chunk: list[Entry] = []
        held = 0
        for group in ahead:
            if held == GEOMETRIES or len(chunk) + len(group[:CHUNK]) > CHUNK:
                yield chunk
                chunk, held = [], 0
            chunk, held = chunk + group[:CHUNK], held + 1
        yield chunk
        for group in ahead:
            for start in range(CHUNK, len(group), CHUNK):
                yield group[start : start + CHUNK]


def _task(entries: Sequence[Entry], wanted: tuple[str, ...], job_file: bool) -> Task:
    positions, keys, points, jobs = zip(*entries, strict=True)
    return Task(positions=positions, keys=keys, points=points, jobs=jobs, wanted=wanted, job_file=job_file)


@cache
def _kept() -> Kept:
    """Return this process's store of characteristics, on a disk it shares with the others."""
    return Kept(folder=default_folder())


def run_task(task: Task) -> list[Row]:
    """Estimate the points of a task; a point that fails becomes a row with its reason."""
    wanted = frozenset(Part[name] for name in task.wanted)
    return [
        _run(position, key, point, job, wanted, task.job_file)
        for position, key, point, job in zip(task.positions, task.keys, task.points, task.jobs, strict=True)
    ]


def _run(position: int, key: str, point: Point, job: Mapping[str, Any], wanted: Set[Part], job_file: bool) -> Row:
    def row(status: Status, reason: str = "", results: Mapping[str, Any] | None = None) -> Row:
        return Row(key=key, position=position, point=point, status=status, reason=reason, results=results or {})

    try:
        design = Design.model_validate(job, context={"job_file": job_file})
    except ValidationError as error:
        return row(Status.REFUSED, "; ".join(f"{fault.key}: {fault.message}" for fault in faults(error)))
    try:
        found = estimate(design, wanted=wanted, characteristics=_kept())
    except (DoesNotFit, OutOfRange) as error:
        return row(Status.REFUSED, str(error))
    except (NotConverged, ValueError, ArithmeticError, OSError) as error:
        return row(Status.FAILED, f"{type(error).__name__}: {error}")
    gaps = "; ".join(f"{key}: {found.reasons[key]}" for key in found.gaps)
    return row(Status.DONE, gaps, flat(found.to_dict()))


def flat(values: Mapping[str, Any]) -> dict[str, float | int | str | None]:
    """Return an estimate's single numbers and texts by dotted key; lists and provenance are left out."""
    found: dict[str, float | int | str | None] = {}

    def walk(prefix: str, table: Mapping[str, Any]) -> None:
        for name, value in table.items():
            if isinstance(value, Mapping):
                walk(f"{prefix}{name}.", value)
            elif isinstance(value, int | float | str) or value is None:
                found[f"{prefix}{name}"] = value if not isinstance(value, float) or math.isfinite(value) else None

    walk("", {name: value for name, value in values.items() if name not in LEFT_OUT})
    return found


def varied(job: Mapping[str, Any], points: Iterable[Point]) -> Iterator[tuple[Point, dict[str, Any]]]:
    """Yield each point with the job's tables at it."""
    for point in points:
        yield point, job_at(job, point)


def process_pool(workers: int) -> ProcessPoolExecutor:
    """Return local worker processes: spawned, one thread each, recycled, gone when their parent is."""
    return ProcessPoolExecutor(
        max_workers=workers,
        mp_context=get_context("spawn"),
        initializer=_begin_worker,
        initargs=(os.getpid(),),
        max_tasks_per_child=TASKS_PER_LIFE,
    )


def _begin_worker(parent: int) -> None:
    import signal
    import threading
    import time

    for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's to answer

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(1.0)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _through(
    executor: Executor, tasks: list[Task], workers: int, new_executor: Callable[[], Executor] | None
) -> Iterator[list[Row]]:
    """Keep a window of tasks under way; after a worker's death go on with a new executor, then one point at a time."""
    waiting = list(reversed(tasks))
    under_way: dict[Future[list[Row]], Task] = {}
    alone = rebuilt = False
    current = executor
    try:
        while waiting or under_way:
            while waiting and len(under_way) < (1 if alone else WINDOW * max(workers, 1)):
                task = waiting.pop()
                under_way[current.submit(run_task, task)] = task
            ready, _ = wait(under_way, return_when=FIRST_COMPLETED)
            broken: list[Task] = []
            for future in ready:
                task = under_way.pop(future)
                try:
                    yield future.result()
                except BrokenExecutor:
                    broken.append(task)
                except _deaths():
                    # this executor goes on without its dead worker
                    if len(task.keys) == 1:
                        yield [_lost(task)]
                    else:
                        waiting += _singles(task)
            if not broken:
                continue
            if alone and len(broken) == 1 and len(broken[0].keys) == 1:
                yield [_lost(broken[0])]
                broken = []
            broken += under_way.values()
            under_way.clear()
            if new_executor is None:
                broken += reversed(waiting)
                waiting.clear()
                for task in broken:
                    yield [_lost(single) for single in _singles(task)]
                continue
            if current is not executor:
                current.shutdown(wait=False, cancel_futures=True)
            current = new_executor()
            if rebuilt:
                # whatever kills workers is among these: alone it is found and the others are not lost
                waiting += [single for task in broken for single in _singles(task)]
                alone = True
            else:
                waiting += broken
                rebuilt = True
    finally:
        for future in under_way:
            future.cancel()
        if current is not executor:
            current.shutdown(wait=False, cancel_futures=True)


def _deaths() -> tuple[type[BaseException], ...]:
    """Return what a cluster's executor raises for a task whose workers died, where a cluster is in use."""
    if "distributed" not in sys.modules:
        return ()
    from distributed import KilledWorker

    return (KilledWorker,)


def _singles(task: Task) -> list[Task]:
    return [
        Task(positions=(p,), keys=(k,), points=(v,), jobs=(j,), wanted=task.wanted, job_file=task.job_file)
        for p, k, v, j in zip(task.positions, task.keys, task.points, task.jobs, strict=True)
    ]


def _lost(task: Task) -> Row:
    return Row(
        key=task.keys[0],
        position=task.positions[0],
        point=task.points[0],
        status=Status.FAILED,
        reason="the worker that computed it died",
        results={},
    )
