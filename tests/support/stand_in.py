"""Points that cost a nap in place of an estimate, for the bookkeeping of sweeps; some kill whoever computes them."""

import os
import signal
import time
from pathlib import Path

from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers.task import Task

WORK = "tests.support.stand_in:nap"


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


def jobs(count: int, **given: object):  # type: ignore[no-untyped-def]
    """Yield points of as many geometries as there are points, so that a task holds few."""
    return [({"n": n}, {"title": str(n), "core": n, **given}) for n in range(count)]
