"""Points that cost a nap in place of an estimate, for the bookkeeping of sweeps; some kill whoever computes them.

`python -m tests.support.stand_in sweep ...` is the command itself, with rows of `drawn` in place of estimates.
"""

import os
import random
import signal
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np

from fem.design.tables import read_tables
from fem.sweeps import points
from fem.sweeps.axes import Point
from fem.sweeps.rows.cells import Cells, Columns
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers.task import Task

WORK = "tests.support.stand_in:nap"
COMMAND = ("-m", "tests.support.stand_in")
NAP = "REWOUND_TEST_NAP"
"""How long `drawn` sleeps for each row [s]: the name of a variable of the environment."""
RESULTS = 200
"""Numbers in a row of `drawn`: 5 kB, as an estimate has; 32 of them go into 256 kB at once, 64 do not."""


def rows(task: Task) -> list[Row]:
    """Return a row for each point, its number doubled as its result."""
    return [
        Row(key=key, position=position, point=point, status=Status.DONE, reason="", results={"twice": 2 * point["n"]})
        for key, position, point in zip(task.keys, task.positions, task.points, strict=True)
    ]


def nap(task: Task) -> list[Row]:
    """Sleep as long as the points say; die or fail where one says so; leave a mark in its folder for each."""
    for job in task.jobs:
        if job.get("poison"):
            os.kill(os.getpid(), signal.SIGKILL)
        if job.get("bug"):
            raise LookupError("nothing here")
        time.sleep(job.get("nap", 0.0))
        if "marks" in job:
            with Path(job["marks"], str(os.getpid())).open("a", encoding="ascii") as file:
                file.write(f"{job['title']}\n")
    return rows(task)


def block(task: Task) -> list[Row]:
    """Return a row for each point, all of them of one block."""
    columns = Columns({"twice": np.array([2.0 * point["n"] for point in task.points])})
    return [replace(row, results=Cells(columns, place)) for place, row in enumerate(rows(task))]


def jobs(count: int, **given: object):  # type: ignore[no-untyped-def]
    """Yield points of as many geometries as there are points, so that a task holds few."""
    return [({"n": n}, {"title": str(n), "core": n, **given}) for n in range(count)]


def drawn(task: Task) -> Iterator[Row]:
    """Yield a row for each point, its results drawn from its key, after a nap."""
    for key, position, point in zip(task.keys, task.positions, task.points, strict=True):
        time.sleep(float(os.environ.get(NAP, "0")))
        draw = random.Random(key)
        results = {f"r{k}": draw.random() for k in range(RESULTS)}
        yield Row(key=key, position=position, point=point, status=Status.DONE, reason="", results=results)


def all_drawn(task: Task) -> list[Row]:
    """Return the rows of `drawn`."""
    return list(drawn(task))


def drawn_alone(job: Path, every: Sequence[Point]) -> dict[str, Row]:
    """Return the rows of `drawn` for a job's points by key, computed here."""
    with patch.object(points, "rows_of", drawn):
        found = points.sweep(points.varied(read_tables(job), every), job_file=True)
        return {row.key: row for rows in found for row in rows}


if __name__ == "__main__":
    from fem.cli import main
    from fem.sweeps import run

    points.rows_of = drawn
    run.Pool = partial(run.Pool, work="tests.support.stand_in:all_drawn")
    main()
