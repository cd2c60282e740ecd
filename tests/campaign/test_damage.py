"""Damaged fields and stores: some in every run, 3000 on request (`-m campaign`), half with a seed never used."""

from pathlib import Path

import pytest

from tests.campaign.damage import damaged_fields, damaged_stores
from tests.support.seeds import FRESH


def test_a_few_damaged_fields(tmp_path: Path) -> None:
    assert damaged_fields(60, 1, tmp_path) == []


def test_a_few_damaged_stores(tmp_path: Path) -> None:
    assert damaged_stores(60, 1, tmp_path) == []


@pytest.mark.campaign
@pytest.mark.parametrize("seed", [2, FRESH])
def test_damaged_fields(seed: int, tmp_path: Path) -> None:
    assert damaged_fields(750, seed, tmp_path) == []


@pytest.mark.campaign
@pytest.mark.parametrize("seed", [2, FRESH])
def test_damaged_stores(seed: int, tmp_path: Path) -> None:
    assert damaged_stores(750, seed, tmp_path) == []
