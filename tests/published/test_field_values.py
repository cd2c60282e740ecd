"""The table of published values itself: every row says where it is from, how sure that is and why its tolerance."""

import csv

import pytest

from tests.support.values import TABLE, published, published_keys


def test_rows_are_complete_and_unique() -> None:
    keys = published_keys("")
    with TABLE.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert len(keys) == len(rows)
    for row in rows:
        assert all(row.values()), f"{row['key']} has an empty cell"
    for key in keys:
        assert 0 < published(key).tolerance < 0.01


@pytest.mark.parametrize(
    ("key", "value"), [("wire_internal", 4e-7 / 8), ("slot_filled", 4e-7 * 3.141592653589793 * 30 / (3 * 10))]
)
def test_numbers_follow_from_their_formulas(key: str, value: float) -> None:
    assert published(key).number == pytest.approx(value, rel=1e-6)
