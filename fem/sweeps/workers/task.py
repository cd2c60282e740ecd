"""Points as they are handed to whoever computes them, and what comes back: a row for each, whatever happens to it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

from pydantic_core import to_json

from fem.estimation.fields.kept import Kept, default_folder
from fem.estimation.parts import Part
from fem.estimation.provenance import computed_by
from fem.materials.user_table import MOST_BYTES
from fem.plain_file import read_plain
from fem.sweeps.axes import Point
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers.solving import Solver
from fem.threads import one_thread

MOST_TEXTS = 4096
"""Tables whose text is kept."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Task:
    """Points for one worker: positions, keys, what was varied, and the whole job of each, as plain values.

    `job_file` says whether bare numbers are refused where a unit is needed, as in a job file, `along` of which
    result the derivative by which length is wanted too.
    """

    positions: tuple[int, ...]
    keys: tuple[str, ...]
    points: tuple[Point, ...]
    jobs: tuple[Mapping[str, Any], ...]
    wanted: tuple[str, ...]
    job_file: bool
    along: tuple[str, str] | None = None


def _sorted(table: object) -> object:
    """Return a table, and those in it, with their keys in order."""
    return {key: _sorted(table[key]) for key in sorted(table)} if isinstance(table, dict) else table


class Digests:
    """The digests of many jobs that share most of their tables; each table is written down once.

    Parameters
    ----------
    wanted
        What is asked for.
    """

    def __init__(self, wanted: Set[Part]) -> None:
        self._rest = "\0".join([computed_by(), *sorted(part.name for part in wanted)])
        self._texts: dict[int, tuple[object, str]] = {}

    def text(self, table: object) -> str:
        """Return a table as JSON, its keys sorted."""
        found = self._texts.get(id(table))
        if found is None or found[0] is not table:
            if len(self._texts) > MOST_TEXTS:
                self._texts.clear()
            found = table, to_json(_sorted(table), fallback=str).decode()
            self._texts[id(table)] = found  # which keeps the table, and so its number
        return found[1]

    def key(self, job: Mapping[str, Any]) -> str:
        """Return the digest of a whole job with its B-H table, of what computes it and of what is asked for."""
        told = [self._rest]
        for name in sorted(job):
            told += name, self.text(job[name])
        core = job.get("core")
        table = core.get("bh_table") if isinstance(core, Mapping) else None
        told += [_content(table)] if isinstance(table, str) else []
        return hashlib.sha256("\0".join(told).encode()).hexdigest()


def point_key(job: Mapping[str, Any], wanted: Set[Part]) -> str:
    """Return `Digests.key` of one job."""
    return Digests(wanted).key(job)


@cache
def _content(file: str) -> str:
    """Return a digest of a file as it is when first asked for; empty where it cannot be read, which the point says."""
    try:
        return hashlib.sha256(read_plain(file, MOST_BYTES)).hexdigest()
    except (OSError, ValueError):
        return ""


@cache
def _kept() -> Kept:
    """Return this process's store of characteristics, on a disk it shares with the others."""
    return Kept(folder=default_folder())


@one_thread()
def run_task(task: Task) -> list[Row]:
    """Estimate the points of a task; a point that fails becomes a row with its reason."""
    return list(rows_of(task))


def rows_of(task: Task) -> Iterator[Row]:
    """Yield the rows of a task as they are computed."""
    wanted = frozenset(Part[name] for name in task.wanted)
    digests = Digests(wanted)
    fit = [at for at, (key, job) in enumerate(zip(task.keys, task.jobs, strict=True)) if digests.key(job) == key]
    if len(fit) < len(task.keys):
        for at, one in enumerate(singles(task)):
            if at not in fit:
                yield from failed(
                    one, "computed with other versions, or another table, than the sweep was started with"
                )
    solver = Solver(wanted=wanted, source=_kept(), job_file=task.job_file, along=task.along)
    with one_thread():
        for places, outcomes in solver.outcomes([task.jobs[at] for at in fit], digests.text):
            for place, (status, reason, results) in zip(places, outcomes, strict=True):
                at = fit[place]
                yield Row(
                    key=task.keys[at],
                    position=task.positions[at],
                    point=task.points[at],
                    status=status,
                    reason=reason,
                    results=results,
                )


def singles(task: Task) -> list[Task]:
    """Return a task for each of its points."""
    return [
        replace(task, positions=(p,), keys=(k,), points=(v,), jobs=(j,))
        for p, k, v, j in zip(task.positions, task.keys, task.points, task.jobs, strict=True)
    ]


def failed(task: Task, reason: str) -> list[Row]:
    """Return the rows of a task that could not be computed."""
    return [
        Row(key=key, position=position, point=point, status=Status.FAILED, reason=reason, results={})
        for key, position, point in zip(task.keys, task.positions, task.points, strict=True)
    ]
