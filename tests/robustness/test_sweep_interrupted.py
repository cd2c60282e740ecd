"""Sweeps that are killed: a worker, the parent, a cluster's worker; what is computed is never lost, nothing differs."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from importlib.resources import files
from pathlib import Path

import pytest

from fem.design.tables import read_tables
from fem.sweeps.axes import points, read_axis
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.store import Row, Status, Store
from fem.sweeps.workers.pool import Pool
from tests.support.alike import alike
from tests.support.alone import rows_alone
from tests.support.clusters import RealCluster, until
from tests.support.stand_in import WORK, jobs

EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))
VARY = ("leads.length=1:2.19:0.01m", "mains.voltage=220:249:1V")
AXES = tuple(map(read_axis, VARY))
COMMAND = [sys.executable, "-m", "fem", "sweep", str(EXAMPLE), "--vary", VARY[0], "--vary", VARY[1], "-q", "-o"]


@pytest.fixture(autouse=True, scope="module")
def shared_fields(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let all processes of these tests share solved fields: that the same numbers come back is part of the test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("REWOUND_CACHE", str(tmp_path_factory.mktemp("fields")))
        yield


@pytest.fixture(scope="module")
def serial() -> dict[str, dict[str, object]]:
    return {key: dict(row.results) for key, row in rows_alone(EXAMPLE, points(AXES)).items()}


@pytest.mark.slow
def test_a_killed_worker_costs_no_row(serial: dict[str, dict[str, object]]) -> None:
    job = read_tables(EXAMPLE)
    found: list[Row] = []
    with closing(Pool(2)) as pool:
        killed = False
        for rows in sweep(varied(job, points(AXES)), workers=pool, job_file=True):
            found += rows
            if not killed:
                os.kill(pool.processes[0], signal.SIGKILL)
                killed = True
    assert len(found) == len(serial)
    assert all(alike(row.results, serial[row.key]) for row in found)


def test_a_point_that_kills_its_worker_fails_and_one_with_a_bug_too_and_no_other() -> None:
    given = jobs(30)
    given[7][1]["poison"], given[20][1]["bug"] = True, True
    with closing(Pool(2, WORK)) as pool:
        found = {row.position: row for rows in sweep(given, workers=pool) for row in rows}
    assert sorted(found) == list(range(30))
    assert [n for n in sorted(found) if found[n].status is Status.FAILED] == [7, 20]
    assert "died" in found[7].reason
    assert found[20].reason == "LookupError: nothing here"


@pytest.mark.slow
def test_workers_that_grow_old_are_replaced(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr("fem.sweeps.workers.pool.TASKS_PER_LIFE", 3)
    with closing(Pool(1, WORK)) as pool:
        found = [row for rows in sweep(jobs(28, marks=str(tmp_path)), workers=pool) for row in rows]
    assert len(found) == 28
    assert len(list(tmp_path.iterdir())) == 3  # seven tasks


@pytest.mark.parametrize(
    "end",
    [
        pytest.param(signal.SIGKILL, marks=pytest.mark.slow),
        signal.SIGTERM,
        pytest.param(signal.SIGINT, marks=pytest.mark.slow),
    ],
)
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
    assert rows.keys() == serial.keys()
    assert all(alike(rows[key], serial[key]) for key in serial)
    assert before <= set(rows)


@pytest.mark.slow
@pytest.mark.filterwarnings("default")
def test_a_cluster_goes_on_when_the_parent_is_killed_and_resumed(
    tmp_path: Path, serial: dict[str, dict[str, object]]
) -> None:
    pytest.importorskip("distributed")
    with RealCluster(tmp_path, workers=2) as real:
        command = [*COMMAND, str(tmp_path / "rows.csv"), "--scheduler", real.address]
        before = _interrupted(command, tmp_path, signal.SIGKILL)
        done = subprocess.run(
            [*command, "--resume"], cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120
        )
    assert done.returncode == 0, done.stderr
    with Store(tmp_path / "rows.sqlite") as kept:
        rows = {r.key: dict(r.results) for r in kept.rows()}
    assert rows.keys() == serial.keys()
    assert all(alike(rows[key], serial[key]) for key in serial)
    assert before <= set(rows)


def test_workers_end_with_a_killed_parent(tmp_path: Path) -> None:
    """Whatever they are doing: here a nap of a minute."""
    code = (
        "from fem.sweeps.workers.pool import Pool\nfrom fem.sweeps.points import sweep\n"
        "from tests.support.stand_in import *\n"
        f"list(sweep(jobs(8, nap=60.0, marks={str(tmp_path)!r}), workers=Pool(2, WORK)))"
    )
    parent = subprocess.Popen([sys.executable, "-c", code], cwd=Path(__file__).parents[2])
    try:
        until(lambda: len(_children(parent.pid)) >= 2)
        children = _children(parent.pid)
        time.sleep(1.0)
    finally:
        parent.kill()
        parent.wait()
    until(lambda: not any(map(_alive, children)), 10.0)


def _children(parent: int) -> list[int]:
    """Return the numbers of a process's children."""
    return [int(n) for n in Path(f"/proc/{parent}/task/{parent}/children").read_text("ascii").split()]


def _alive(number: int) -> bool:
    try:
        return Path(f"/proc/{number}/stat").read_text("ascii").rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


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
    if end is not signal.SIGKILL:
        assert running.returncode in (130, 0)  # 0 where it was done before the signal came
    with Store(store) as kept:
        before = kept.done()
    assert len(before) >= 32
    return before
