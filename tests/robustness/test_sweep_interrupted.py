"""Sweeps that are killed: a worker, the parent, a cluster's worker; what is computed is never lost, nothing differs."""

import os
import signal
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest

from fem.study.axes import points, read_axis
from fem.study.job import read_tables
from fem.study.store import Status, Store
from fem.study.sweep import process_pool, sweep, varied

EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))
VARY = "leads.length=1:2.19:0.01m"
AXES = (read_axis(VARY),)
COMMAND = [sys.executable, "-m", "fem", "sweep", str(EXAMPLE), "--vary", VARY, "-q", "-o"]


@pytest.fixture(scope="module")
def serial() -> dict[str, dict[str, object]]:
    job = read_tables(EXAMPLE)
    return {r.key: dict(r.results) for rows in sweep(varied(job, points(AXES)), job_file=True) for r in rows}


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


@pytest.mark.parametrize("end", [signal.SIGKILL, signal.SIGINT])
def test_a_killed_or_stopped_parent_is_resumed(
    end: signal.Signals, tmp_path: Path, serial: dict[str, dict[str, object]]
) -> None:
    out, store = tmp_path / "rows.csv", tmp_path / "rows.sqlite"
    running = subprocess.Popen([*COMMAND, str(out)], cwd=tmp_path, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
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


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_cluster_that_loses_a_worker_gives_every_row(serial: dict[str, dict[str, object]]) -> None:
    distributed = pytest.importorskip("distributed")
    job = read_tables(EXAMPLE)
    found: dict[str, dict[str, object]] = {}
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None, processes=True
        ) as cluster,
        distributed.Client(cluster) as client,
    ):
        executor = client.get_executor(pure=False, retries=3)
        pid = next(iter(client.run(os.getpid).values()))
        killed = False
        for rows in sweep(varied(job, points(AXES)[::-1]), executor=executor, workers=2, job_file=True):
            found.update({r.key: dict(r.results) for r in rows})
            if not killed:
                os.kill(pid, signal.SIGKILL)
                killed = True
    assert found == serial
