"""Sweeps that are killed: two of stand-ins in every run of the tests, fifty of estimates on request (`-m campaign`)."""

from pathlib import Path

import pytest

from tests.campaign.kills import Killed
from tests.support.clusters import RealCluster
from tests.support.seeds import FRESH


@pytest.fixture(autouse=True)
def shared_fields(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REWOUND_CACHE", str(tmp_path / "fields"))


def judged(killed: Killed, times: int) -> list[str]:
    killed.kill(times)
    print(f"\n{killed.summary()}")  # noqa: T201
    return killed.wrong


def test_kills_of_stand_ins(tmp_path: Path) -> None:
    assert judged(Killed(tmp_path, 1, 150, nap=0.02), 2) == []


@pytest.mark.campaign
@pytest.mark.parametrize("seed", [2, FRESH])
def test_kills_of_local_sweeps(seed: int, tmp_path: Path) -> None:
    assert judged(Killed(tmp_path, seed, 600), 15) == []


@pytest.mark.campaign
@pytest.mark.parametrize("seed", [2, FRESH])
def test_kills_of_sweeps_on_a_scheduler(seed: int, tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    (tmp_path / "cluster").mkdir()
    with RealCluster(tmp_path / "cluster", workers=2) as cluster:
        assert judged(Killed(tmp_path, seed, 600, cluster), 10) == []
