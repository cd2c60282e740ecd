"""The published values: the table that ships with the tool, and those only the tests use (tests/published)."""

from functools import cache
from pathlib import Path

from fem.verification.published import Published, published_values, read_published

TABLE = Path(__file__).parents[1] / "published" / "values.csv"


@cache
def _rows() -> dict[str, Published]:
    rows, more = published_values(), read_published(TABLE)
    assert not rows.keys() & more.keys(), "a value stands in both tables"
    return rows | more


def published(key: str) -> Published:
    """Return a row of either table."""
    return _rows()[key]


def published_keys(prefix: str) -> list[str]:
    """Return the keys that begin so, in the tables' order."""
    return [key for key in _rows() if key.startswith(prefix)]
