"""Sweeps that are killed: a worker, the parent, a cluster's worker; what is computed is never lost, nothing differs."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest

from fem.study.axes import points, read_axis
from fem.study.job import read_tables
from fem.study.store import Status, Store
from fem.study.sweep import process_pool, sweep, varied
from tests.support.needed import needed

EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))
VARY = "leads.length=1:2.19:0.01m"
AXES = (read_axis(VARY),)
COMMAND = [sys.executable, "-m", "fem", "sweep", str(EXAMPLE), "--vary", VARY, "-q", "-o"]


@pytest.fixture(autouse=True, scope="module")
def shared_fields(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let all processes of these tests share solved fields: that the same numbers come back is part of the test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REWOUND_CACHE", str(tmp_path_factory.mktemp("fields")))
        yield


@pytest.fixture(scope="module")
def serial() -> dict[str, dict[str, object]]:
    job = read_tables(EXAMPLE)
    return {r.key: dict(r.results) for rows in sweep(varied(job, points(AXES)), job_file=True) for r in rows}


@pytest.mark.slow
def test_a_killed_worker_costs_no_row(serial: dict[str, dict[str, object]]) -> None:
    job = read_tables(EXAMPLE)
    found: dict[str, dict[str, object]] = {}
    with process_pool(2) as pool:
        killed = False
        for rows in sweep(
            varied(job, points(AXES)),
            executor=pool,
            workers=2,
            new_executor=lambda: process_pool(2),
            job_file=True,
        ):
            found.update({r.key: dict(r.results) for r in rows})
            if not killed:
                os.kill(next(iter(pool._processes)), signal.SIGKILL)  # type: ignore[attr-defined]
                killed = True
    assert found == serial


@pytest.mark.parametrize("end", [signal.SIGKILL, pytest.param(signal.SIGINT, marks=pytest.mark.slow)])
def test_a_killed_or_stopped_parent_is_resumed(
    end: signal.Signals, tmp_path: Path, serial: dict[str, dict[str, object]]
) -> None:
    out, store = tmp_path / "rows.csv", tmp_path / "rows.sqlite"
    before = _interrupted([*COMMAND, str(out)], tmp_path, end)
    done = subprocess.run(
        [*COMMAND, str(out), "--resume"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert out.read_text("utf-8").count("\n") == len(serial) + 1
    with Store(store) as kept:
        rows = {r.key: dict(r.results) for r in kept.rows()}
        assert all(r.status is Status.DONE for r in kept.rows())
    assert rows == serial
    assert before <= set(rows)


@pytest.fixture
def cluster() -> Iterator[Any]:
    """Yield a scheduler with two worker processes on the loopback, and its address."""
    distributed = needed("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, processes=True
    ) as found:
        yield found


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
@pytest.mark.parametrize("order", ["as it is", "shuffled"])
def test_a_cluster_that_loses_a_worker_gives_every_row(
    order: str, cluster: Any, serial: dict[str, dict[str, object]]
) -> None:
    from distributed import Client

    job, every = read_tables(EXAMPLE), points(AXES)
    if order == "shuffled":
        random.Random(5).shuffle(every)
    found: dict[str, dict[str, object]] = {}
    with Client(cluster) as client:
        executor = client.get_executor(pure=False)
        pid = next(iter(client.run(os.getpid).values()))
        killed = False
        for rows in sweep(varied(job, every), executor=executor, workers=2, job_file=True):
            found.update({r.key: dict(r.results) for r in rows})
            if not killed:
                os.kill(pid, signal.SIGKILL)
                killed = True
    assert found == serial


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_cluster_goes_on_when_the_parent_is_killed_and_resumed(
    cluster: Any, tmp_path: Path, serial: dict[str, dict[str, object]]
) -> None:
    command = [*COMMAND, str(tmp_path / "rows.csv"), "--scheduler", cluster.scheduler_address]
    before = _interrupted(command, tmp_path, signal.SIGKILL)
    done = subprocess.run(
        [*command, "--resume"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120
    )
    assert done.returncode == 0, done.stderr
    with Store(tmp_path / "rows.sqlite") as kept:
        rows = {r.key: dict(r.results) for r in kept.rows()}
    assert rows == serial
    assert before <= set(rows)


def _interrupted(command: list[str], folder: Path, end: signal.Signals) -> set[str]:
    """Start a sweep, end it after its first rows, and return their keys."""
    store = folder / "rows.sqlite"
    running = subprocess.Popen(command, cwd=folder, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        time.sleep(0.05)
        if store.exists():
            with Store(store) as kept:
                if len(kept.done()) >= 32:
                    break
    running.send_signal(end)
    running.communicate(timeout=60)
    if end is signal.SIGINT:
        assert running.returncode in (130, 0)  # 0 where it was done before the signal came
    with Store(store) as kept:
        before = kept.done()
    assert len(before) >= 32
    return before
