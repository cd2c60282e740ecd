"""Rows as a store has them: what the rows of a block have in common once, every text with its digest."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

from pydantic import TypeAdapter
from pydantic_core import to_json

from fem.sweeps.rows.cells import Cells, Columns, Parted
from fem.sweeps.rows.row import Row, Status

_ROW = TypeAdapter(Row)


def read_rows(connection: sqlite3.Connection, order: str) -> Iterator[tuple[int, Row | None]]:
    """Yield the number of each row in its table and the row, None where it is not whole."""

    @lru_cache(maxsize=4096)
    def common(digest: str) -> Common | None:
        try:
            found = connection.execute("SELECT results FROM shared WHERE digest = ?", (digest,)).fetchone()
        except sqlite3.DatabaseError:
            return None
        if found is None or _digest(found) != digest:
            return None
        results = json.loads(found[0])
        apart = (key for key, value in results.items() if value == APART)
        return results, {key: place for place, key in enumerate(apart)}

    for number, *told, digest in connection.execute(
        f"SELECT rowid, key, position, shared, row, digest FROM points ORDER BY {order}"
    ):
        yield number, _read(told[2], told[3], common) if digest == _digest(told) else None


def _read(shared: str, row: str, common: Callable[[str], Common | None]) -> Row | None:
    """Return a row, its results those that it has in common with others and its own."""
    if not shared:
        return _ROW.validate_json(row)
    if (found := common(shared)) is None:
        return None
    told = json.loads(row)
    return Row(**{**told, "status": Status(told["status"]), "results": Parted(*found, told["results"])})


Common = tuple[dict[str, Any], dict[str, int]]
"""What rows of a block have in common, and at which place each finds its own."""
APART = ["apart"]
"""What stands among results in common for one that is a row's own: no result is a list."""


def in_common(rows: Iterable[Row]) -> dict[Columns, tuple[str, str]]:
    """Return what the rows of each block have in common, its digest before it."""
    found: dict[Columns, tuple[str, str]] = {}
    for row in rows:
        if isinstance(row.results, Cells) and (columns := row.results.columns) not in found:
            told = dict(columns.told) | dict.fromkeys(columns.apart, APART)
            text = to_json(told).decode()
            found[columns] = _digest([text]), text
    return found


def written(rows: Iterable[Row], shared: Mapping[Columns, tuple[str, str]]) -> Iterator[tuple[object, ...]]:
    """Yield rows as their table has them, and their digests."""
    for row in rows:
        results, digest = row.results, ""
        if isinstance(results, Cells):
            digest = shared[results.columns][0]
            text = f"[{','.join(results.columns.texts(results.place, _json))}]"
        else:
            text = _json(dict(results))
        head = {
            "key": row.key,
            "position": row.position,
            "point": dict(row.point),
            "status": row.status.value,
            "reason": row.reason,
        }
        told = (row.key, row.position, digest, f'{_json(head)[:-1]},"results":{text}}}')
        yield (*told, _digest(told))


def _json(value: object) -> str:
    return to_json(value).decode()


def _digest(told: Sequence[object]) -> str:
    return hashlib.sha256("\0".join(map(str, told)).encode()).hexdigest()
