"""Rows that say the same: what is solved in another block differs by rounding."""

from collections.abc import Mapping
from math import isclose
from typing import Any

from fem.sweeps.rows.store import Row


def alike(one: Mapping[str, Any], other: Mapping[str, Any]) -> bool:
    """Return whether results are the same to 1e-12; what is a difference of two near ones, a dip, to 1e-13 of these."""
    return one.keys() == other.keys() and all(
        isclose(value, other[key], rel_tol=1e-12, abs_tol=1e-13)
        if isinstance(value, float) and isinstance(other[key], float)
        else value == other[key]
        for key, value in one.items()
    )


def same_row(one: Row | None, other: Row) -> bool:
    """Return whether two rows are of one point and say the same."""
    return one is not None and alike(one.results, other.results) and _rest(one) == _rest(other)


def _rest(row: Row) -> tuple[object, ...]:
    return row.key, row.position, dict(row.point), row.status, row.reason
