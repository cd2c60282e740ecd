"""Tasks as workers do them, each with its times left in a file of its worker; and what a process has used."""

import json
import os
import time
from collections.abc import Iterator
from pathlib import Path

from fem.sweeps.rows.store import Row
from fem.sweeps.workers.task import Task, run_task

FOLDER = "REWOUND_TEST_TIMES"
"""Variable of the environment that names the folder of these files."""
WORK = "tests.support.timed:timed"


def timed(task: Task) -> list[Row]:
    """Return the rows of a task; leave when it began and ended, the worker's processor time at both, its own [s]."""
    begun, whole, own = time.time(), time.process_time(), time.thread_time()
    rows = run_task(task)
    told = [begun, time.time(), whole, time.process_time(), time.thread_time() - own, len(rows)]
    with (Path(os.environ[FOLDER]) / str(os.getpid())).open("a", encoding="ascii") as file:
        file.write(json.dumps(told) + "\n")
    return rows


def bare(_: Task) -> list[Row]:
    """Return nothing."""
    return []


def tasks(folder: Path, since: float) -> Iterator[list[list[float]]]:
    """Yield what `timed` left of each worker since then."""
    for file in sorted(folder.iterdir()):
        told = [json.loads(line) for line in file.read_text("ascii").splitlines()]
        late = [one for one in told if one[0] >= since]
        if late:
            yield late


def used(process: int) -> float:
    """Return the processor time of a process [s]."""
    fields = Path(f"/proc/{process}/stat").read_text("ascii").rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
