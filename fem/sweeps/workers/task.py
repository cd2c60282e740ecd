"""Points as they are handed to whoever computes them, and what comes back: a row for each, whatever happens to it."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass
from functools import cache
from typing import Any

from pydantic import ValidationError

from fem.design.transformer import Design
from fem.errors import DoesNotFit, NotConverged, OutOfRange
from fem.estimation.fields.kept import Kept, default_folder
from fem.estimation.one_design import estimate
from fem.estimation.parts import Part
from fem.estimation.provenance import computed_by
from fem.materials.user_table import MOST_BYTES
from fem.plain_file import read_plain
from fem.sweeps.axes import Point
from fem.sweeps.rows.store import Row, Status
from fem.threads import one_thread
from geometries.described.faults import faults

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
    for one in singles(task):
        (key,), (job,) = one.keys, one.jobs
        if point_key(job, wanted) != key:
            yield from failed(one, "computed with other versions, or another table, than the sweep was started with")
        else:
            yield _run(one.positions[0], key, one.points[0], job, wanted, task.job_file)


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


def singles(task: Task) -> list[Task]:
    """Return a task for each of its points."""
    return [
        Task(positions=(p,), keys=(k,), points=(v,), jobs=(j,), wanted=task.wanted, job_file=task.job_file)
        for p, k, v, j in zip(task.positions, task.keys, task.points, task.jobs, strict=True)
    ]


def failed(task: Task, reason: str) -> list[Row]:
    """Return the rows of a task that could not be computed."""
    return [
        Row(key=key, position=position, point=point, status=Status.FAILED, reason=reason, results={})
        for key, position, point in zip(task.keys, task.positions, task.points, strict=True)
    ]
