"""The cluster path against local processes, four workers of one thread each; what a task costs a scheduler."""

import os
import pickle
import time
from collections.abc import Iterator
from concurrent.futures import FIRST_COMPLETED, Future, wait
from contextlib import closing
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from fem.design.tables import read_tables
from fem.sweeps.axes import Axis, points
from fem.sweeps.points import BLOCK, sweep, varied
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers.cluster import EACH, Cluster
from fem.sweeps.workers.dispatch import Ended, Workers
from fem.sweeps.workers.pool import Pool
from fem.sweeps.workers.task import Task
from tests.benchmarks.side_by_side import tell
from tests.support.clusters import RealCluster, until
from tests.support.timed import FOLDER, WORK, bare, tasks, timed, used

pytestmark = [
    pytest.mark.bench,
    pytest.mark.skipif(find_spec("distributed") is None, reason="distributed is not installed"),
    pytest.mark.filterwarnings("default"),
]
JOB = read_tables(str(files("fem.examples") / "bandsaw_brazing.toml"))
WORKERS = 4
STACKS, LEADS, LOADS = 25, 10, 10
LOTS = "local", "cluster", "cluster", "local"


@pytest.fixture(scope="module")
def times(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Return where workers leave their times; they keep fields in a folder that all of them share."""
    folder = tmp_path_factory.mktemp("times")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(FOLDER, str(folder))
        patch.setenv("REWOUND_CACHE", str(tmp_path_factory.mktemp("fields")))
        yield folder


@pytest.fixture(scope="module")
def real(times: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealCluster]:
    with RealCluster(tmp_path_factory.mktemp("cluster"), workers=WORKERS) as found:
        yield found


def designs(first: float, stacks: int, leads: int = LEADS, loads: int = LOADS):  # type: ignore[no-untyped-def]
    """Return the points and jobs of some stacks from a depth on [mm], each with leads and loads crossed."""
    axes = (
        Axis(key="core.stack_depth", values=tuple(1e-3 * (first + 0.1 * k) for k in range(stacks))),
        Axis(key="leads.length", values=tuple(np.linspace(0.8, 1.7, leads).tolist())),
        Axis(key="load.resistance", values=tuple(np.linspace(1e-3, 1e-2, loads).tolist())),
    )
    return varied(JOB, points(axes))


def done(rows: list[Row]) -> int:
    return sum(row.status is Status.DONE for row in rows)


def ready(workers: Workers, room: int) -> None:
    """Wait until all workers are there, and have loaded what they need and met the section."""
    until(lambda: workers.room() == room)
    list(sweep(designs(50.0, 2 * WORKERS, 8, 8), workers=workers))


def test_as_fast_a_worker_as_here(real: RealCluster, times: Path) -> None:
    """10,000 designs over 100 stacks, a quarter of them at a time by either in turn, all fields solved on the way.

    By the clock a worker's rate is what it does in a second between the begin of its first and the end of its last
    task. With more workers than cores that tells what else the machine did. On a core of its own a worker gives to
    designs what its other threads (messages, heartbeats, their sampling) and its waiting for tasks leave, both by the
    clock: rate = (1 - others - waiting) / own processor time of a design.
    """
    found: dict[str, list[tuple[float, ...]]] = {"local": [], "cluster": []}
    with closing(Pool(WORKERS, WORK)) as pool, closing(Cluster(real.address, timed)) as cluster:
        ready(pool, WORKERS)
        ready(cluster, EACH * WORKERS)
        for lot, name in enumerate(LOTS):
            since = time.time()
            rows = sweep(designs(55.0 + 3 * lot, STACKS), workers=pool if name == "local" else cluster)
            assert sum(done(some) for some in rows) == STACKS * LEADS * LOADS
            by_worker = [np.array(told) for told in tasks(times, since)]
            assert len(by_worker) == WORKERS
            clock = sum(told[-1, 1] - told[0, 0] for told in by_worker)
            waiting = 1 - sum(np.sum(told[:, 1] - told[:, 0]) for told in by_worker) / clock
            own, count = (sum(told[:, k].sum() for told in by_worker) for k in (4, 5))
            others = (sum(told[-1, 3] - told[0, 2] for told in by_worker) - own) / clock
            found[name].append((count / clock, own / count, others, waiting, (1 - others - waiting) / own * count))
    told = {name: np.mean(lots, axis=0) for name, lots in found.items()}
    for name, (rate, own, others, waiting, alone) in told.items():
        tell(
            f"{name}, {WORKERS} workers on {os.cpu_count()} cores: {rate:.1f} designs a second and worker by the clock "
            f"({', '.join(f'{one[0]:.1f}' for one in found[name])}); own {own * 1e3:.2f} ms each "
            f"({', '.join(f'{one[1] * 1e3:.2f}' for one in found[name])}), other threads {others:.2%} of a core, "
            f"waiting {waiting:.2%}: {alone:.1f} a second on a core of its own"
        )
    by_clock, alone = (told["cluster"] / told["local"])[[0, 4]]
    tell(f"cluster against local: {alone:.2f} on cores of their own, {by_clock:.2f} by the clock")
    assert alone > 0.9


def test_what_a_task_costs_a_scheduler(real: RealCluster, times: Path) -> None:
    """Of bare tasks, and of full blocks of a kept field; bytes as they are pickled."""
    scheduler, full = real.scheduler.pid, list(designs(50.0, 1, 64, 512))
    sizes: list[tuple[int, int]] = []

    class Weighed(Cluster):
        def ended(self, seconds: float) -> list[Ended]:
            ends = list(super().ended(seconds))
            sizes.extend((len(pickle.dumps(end.task)), len(pickle.dumps(end.rows))) for end in ends)
            return ends

    with closing(Weighed(real.address, timed)) as cluster:
        ready(cluster, EACH * WORKERS)
        sizes.clear()
        list(sweep(full[:BLOCK], workers=cluster))
    with closing(Cluster(real.address, bare)) as cluster:
        until(cluster.room)
        empty = Task(positions=(), keys=(), points=(), jobs=(), wanted=(), job_file=False)
        count, before, here = 2000, used(scheduler), time.process_time()
        begun = ended = 0
        while ended < count:
            for _ in range(min(cluster.room(), count - begun)):
                cluster.begin(empty)
                begun += 1
            ended += len(cluster.ended(1.0))
        each, here = (used(scheduler) - before) / count, (time.process_time() - here) / count
    with closing(Cluster(real.address, timed)) as cluster:
        until(lambda: cluster.room() == EACH * WORKERS)
        before, client = used(scheduler), time.process_time()
        rows = sum(done(some) for some in sweep(full, workers=cluster))
        per_block, client = (used(scheduler) - before) / (rows / BLOCK), (time.process_time() - client) / rows
    assert rows == len(full)
    task, back = np.sum(sizes, axis=0) / BLOCK
    tell(
        f"a bare task: {each * 1e3:.2f} ms of the scheduler, {here * 1e3:.2f} ms of who asks; a block of {BLOCK}: "
        f"{per_block * 1e3:.2f} ms of the scheduler, {client * 1e6:.0f} us a row of who asks; {task:.0f} bytes a row "
        f"out and {back:.0f} back, pickled by {len(sizes)} tasks"
    )
    assert each < 5e-3


def test_waiting_for_a_thousand_workers() -> None:
    """What it takes to look for the one that is done of two thousand tasks under way: once a task, at most."""
    under_way = [Future[None]() for _ in range(EACH * 1000)]
    under_way[-1].set_result(None)
    start = time.process_time()
    for _ in range(50):
        wait(under_way, 1.0, return_when=FIRST_COMPLETED)
    each = (time.process_time() - start) / 50
    tell(f"one of {len(under_way)} tasks under way is found in {each * 1e3:.2f} ms")
    assert each < 0.02
