"""Sweeps on a real scheduler: every worker busy as workers come and go, a killed one costs no row, a lost scheduler
is said. Naps stand in for estimates where only the bookkeeping is looked at."""

import socket
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from importlib import import_module
from importlib.resources import files
from importlib.util import find_spec
from pathlib import Path

import pytest

from fem.design.tables import read_tables
from fem.sweeps.axes import points, read_axis
from fem.sweeps.points import sweep, varied
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.workers import cluster
from fem.sweeps.workers.cluster import EACH, Cluster, NoScheduler
from fem.sweeps.workers.dispatch import WorkersGone
from tests.support.alone import rows_alone
from tests.support.clusters import RealCluster, until
from tests.support.stand_in import block, jobs, nap

pytestmark = [
    pytest.mark.skipif(find_spec("distributed") is None, reason="distributed is not installed"),
    pytest.mark.filterwarnings("default"),  # distributed leaves sockets to the garbage collector
]
EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealCluster]:
    with RealCluster(tmp_path_factory.mktemp("cluster"), workers=1) as found:
        yield found


def test_every_worker_is_busy_as_they_come_and_go_and_a_killed_one_costs_no_row(
    real: RealCluster, tmp_path: Path
) -> None:
    with closing(Cluster(real.address, nap)) as workers:
        until(lambda: workers.room() == EACH)
        found: list[Row] = []
        most: list[int] = []
        hired = False
        for rows in sweep(jobs(240, nap=0.02, marks=str(tmp_path)), workers=workers):
            most.append(len(workers._under_way) + 1)  # with the one that has just ended
            found += rows
            if len(real.workers) == 1 and not hired:
                real.hire()
                hired = True
                until(lambda: workers.room() + len(workers._under_way) == 2 * EACH)
                workers._client.run(import_module, nap.__module__)  # which takes seconds
            elif len(found) > 120 and len(real.workers) == 2:
                real.kill_worker()
    assert len(real.workers) == 1
    assert most[0] == EACH
    assert max(most) == 2 * EACH
    assert sorted(row.position for row in found) == list(range(240))
    assert all(row.results == {"twice": 2 * row.position} for row in found)
    marks = Counter(title for file in tmp_path.iterdir() for title in file.read_text("ascii").split())
    assert len(list(tmp_path.iterdir())) == 2
    assert len(marks) == 240
    assert sum(marks.values()) - 240 <= 2 * EACH * 4  # what the killed one had may have been computed twice


def test_rows_of_a_block_come_back_with_one_set_of_columns(real: RealCluster) -> None:
    """Sent row by row each would bring the columns of its whole block along: 65 MB for a block of 512."""
    with closing(Cluster(real.address, block)) as workers:
        (found,) = sweep([({"n": n}, {"core": 0, "n": n}) for n in range(3)], workers=workers)
    assert [row.results["twice"] for row in found] == [0.0, 2.0, 4.0]
    assert len({id(row.results.columns) for row in found}) == 1


@pytest.mark.slow
def test_real_designs_come_out_as_alone(real: RealCluster) -> None:
    job, every = read_tables(EXAMPLE), points((read_axis("leads.length=1:1.5:0.1m"),))
    alone = rows_alone(EXAMPLE, every)
    with closing(Cluster(real.address)) as workers:
        found = [row for rows in sweep(varied(job, every[::-1]), workers=workers, job_file=True) for row in rows]
    assert len(found) == len(every)
    assert all(row.status is Status.DONE for row in found)
    assert {row.key: dict(row.results) for row in found} == {key: dict(row.results) for key, row in alone.items()}


@pytest.mark.slow
def test_a_point_that_kills_workers_is_found_and_fails(tmp_path: Path) -> None:
    """With no more deaths than the scheduler allows a task, here one, before it tells of them, in company and alone."""
    given = jobs(40, nap=0.01)
    given[17][1]["poison"] = True
    with RealCluster(tmp_path, workers=5, failures=0) as real, closing(Cluster(real.address, nap)) as workers:
        until(lambda: workers.room() == 5 * EACH)
        found = [row for rows in sweep(given, workers=workers) for row in rows]
    assert sorted(row.position for row in found) == list(range(40))
    assert [row.position for row in found if row.status is Status.FAILED] == [17]


@pytest.mark.slow
def test_a_scheduler_that_goes_away_leaves_the_rows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "REACH", 2.0)
    found: list[Row] = []
    with RealCluster(tmp_path, workers=1) as real, closing(Cluster(real.address, nap)) as workers:

        def run() -> None:
            for rows in sweep(jobs(200, nap=0.01), workers=workers):
                found.extend(rows)
                real.scheduler.kill()

        with pytest.raises(WorkersGone, match="out of reach"):
            run()
    assert found
    assert len(found) < 200
    assert all(row.status is Status.DONE for row in found)


@pytest.mark.parametrize(
    ("address", "says"),
    [("tcp://127.0.0.1:9", "Timed out"), ("127.0.0.1", "port"), ("nothing://x", "unknown address")],
)
def test_what_is_no_scheduler_is_said_soon(address: str, says: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "REACH", 0.3)
    with pytest.raises(NoScheduler, match=rf"no scheduler answers at {address}: .*{says}"):
        Cluster(address)


def test_a_server_that_is_silent_is_no_scheduler(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "REACH", 0.3)
    with socket.create_server(("127.0.0.1", 0)) as server:
        address = f"tcp://127.0.0.1:{server.getsockname()[1]}"
        with pytest.raises(NoScheduler, match=f"no scheduler answers at {address}"):
            Cluster(address)
