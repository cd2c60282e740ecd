"""Many designs: points grouped by what the field depends on, computed here or by workers, told as they come."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from time import monotonic
from typing import Any

from fem.estimation.parts import Part
from fem.sweeps.axes import Point, job_at
from fem.sweeps.rows.store import Row
from fem.sweeps.workers.dispatch import Workers, dispatch
from fem.sweeps.workers.task import Digests, Task, rows_of

CHUNK = 32
"""Points with costly parts that are handed to a worker at a time."""
BLOCK = 512
"""Points without them: they are solved side by side, a fifth of a second for all."""
SHARES = 16
"""Tasks that workers share, at least, where there are points enough."""
GEOMETRIES = 4
"""Cores or arrangements among them, at most: each costs as much as some 300 points."""
AHEAD = 8
"""Cores or arrangements whose fields are solved, by whichever worker is free, before the rest of their points."""
LONGEST = 1.0
"""After which rows that are computed here are told, so that no more than these are lost [s]."""
MOST_TABLES = 4096
"""Tables at some point that are remembered for the next."""
GEOMETRY = ("core", "windings", "shunt")
"""Tables of a job that a field can depend on; within them a winding's turns and wires may or may not."""
Entry = tuple[int, str, Point, Mapping[str, Any]]
"""A point to compute: its position, its key, what is varied and the whole job."""


def sweep(
    jobs: Iterable[tuple[Point, Mapping[str, Any]]],
    *,
    wanted: Set[Part] = frozenset(),
    workers: Workers | None = None,
    known: Set[str] = frozenset(),
    job_file: bool = False,
    along: tuple[str, str] | None = None,
) -> Iterator[list[Row]]:
    """Estimate many designs; yield rows as they come.

    Parameters
    ----------
    jobs
        What was varied, with the tables of the whole job (SI numbers, or texts with units).
    wanted
        Costly parts to compute.
    workers
        Who computes; here, one after the other, where None.
    known
        Keys of points that are not computed again.
    job_file
        Whether the tables come from a job file, in which bare numbers are refused where a unit is needed.
    along
        A result and a length by which its derivative is wanted too.

    Raises
    ------
    WorkersGone
        If the workers are out of reach.
    """
    tasks = _tasks(jobs, wanted, known, job_file, along, shared=workers is not None)
    yield from _here(tasks) if workers is None else dispatch(workers, tasks)


def _here(tasks: Iterable[Task]) -> Iterator[list[Row]]:
    """Compute in this process; Ctrl-C takes no row that is computed."""
    for task in tasks:
        found: list[Row] = []
        since = monotonic()
        try:
            for row in rows_of(task):
                found.append(row)
                if monotonic() - since > LONGEST:
                    yield found
                    found, since = [], monotonic()
        except KeyboardInterrupt:
            yield found
            raise
        yield found


def _tasks(
    jobs: Iterable[tuple[Point, Mapping[str, Any]]],
    wanted: Set[Part],
    known: Set[str],
    job_file: bool,
    along: tuple[str, str] | None = None,
    *,
    shared: bool = False,
) -> Iterator[Task]:
    """Group points by core and windings, so that a worker solves a field once for as many of them as can be.

    Where they are shared among workers, into so many tasks that there is one for each.
    """
    digests = Digests(wanted)
    groups: dict[tuple[str, ...], list[Entry]] = {}
    for position, (point, job) in enumerate(jobs):
        key = digests.key(job)
        if key not in known:
            same = tuple(digests.text(job.get(name)) for name in GEOMETRY)
            groups.setdefault(same, []).append((position, key, point, job))
    names = tuple(sorted(part.name for part in wanted))
    many = sum(map(len, groups.values())) // SHARES if shared else BLOCK
    for entries in _chunks(list(groups.values()), CHUNK if wanted else min(max(many, CHUNK), BLOCK)):
        yield _task(entries, names, job_file, along)


def _chunks(groups: Sequence[list[Entry]], most: int) -> Iterator[list[Entry]]:
    """Cut groups of one field each into chunks, so that no two workers solve the same field at the same time."""
    for first in range(0, len(groups), AHEAD):
        ahead = groups[first : first + AHEAD]
        chunk: list[Entry] = []
        held = 0
        for group in ahead:
            if held == GEOMETRIES or len(chunk) + len(group[:most]) > most:
                yield chunk
                chunk, held = [], 0
            chunk, held = chunk + group[:most], held + 1
        yield chunk
        for group in ahead:
            for start in range(most, len(group), most):
                yield group[start : start + most]


def _task(entries: Sequence[Entry], wanted: tuple[str, ...], job_file: bool, along: tuple[str, str] | None) -> Task:
    positions, keys, points, jobs = zip(*entries, strict=True)
    return Task(positions=positions, keys=keys, points=points, jobs=jobs, wanted=wanted, job_file=job_file, along=along)


def varied(job: Mapping[str, Any], points: Iterable[Point]) -> Iterator[tuple[Point, dict[str, Any]]]:
    """Yield each point with the job's tables at it; a table that many points have is one for all of them."""
    made: dict[tuple[object, ...], Any] = {}
    for point in points:
        by_table: dict[str, list[str]] = {}
        for key in point:
            by_table.setdefault(key.partition(".")[0], []).append(key)
        found = dict(job)
        for name, keys in by_table.items():
            same = tuple((key, point[key], type(point[key])) for key in keys)
            if same not in made:
                if len(made) == MOST_TABLES:
                    made.clear()
                made[same] = job_at(job, {key: point[key] for key in keys})[name]
            found[name] = made[same]
        yield point, found
