"""The rows of a sweep in an SQLite file: one row per point, written by one process, whole after any interruption."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from enum import Enum
from pathlib import Path
from types import TracebackType
from typing import Any, Self


class Status(Enum):
    """How a point ended."""

    DONE = "done"
    REFUSED = "refused"
    FAILED = "failed"


@dataclass(frozen=True, kw_only=True, slots=True)
class Row:
    """One point of a sweep.

    Parameters
    ----------
    key
        Digest of the whole design, the solver's version and what was asked for.
    position
        In the sweep.
    point
        What was varied, and its values.
    status, reason
        How it ended, and why where it did not end well; where it did, which results could not be computed and why.
    results
        Dotted JSON keys to numbers and texts; empty unless done.
    """

    key: str
    position: int
    point: Mapping[str, Any]
    status: Status
    reason: str
    results: Mapping[str, Any]

    @property
    def has_gaps(self) -> bool:
        """Whether a point that was done lacks results that could not be computed."""
        return self.status is Status.DONE and self.reason != ""


_TABLE = """
CREATE TABLE IF NOT EXISTS points (
    key TEXT PRIMARY KEY, position INTEGER NOT NULL, point TEXT NOT NULL, status TEXT NOT NULL, reason TEXT NOT NULL,
    results TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS about (name TEXT PRIMARY KEY, value TEXT NOT NULL);
"""


class StoreError(ValueError):
    """A file that is no store of a sweep."""


class Store:
    """Rows on disk; every row is on the disk before the next is asked for. Use it as a context manager.

    Parameters
    ----------
    path
        The file; made if it is not there.

    Raises
    ------
    StoreError
        If the file is something else.
    OSError
        If it cannot be opened.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        if self.path.is_dir() or not self.path.absolute().parent.is_dir():
            msg = f"{self.path} cannot be a sweep's store: no such place for a file"
            raise StoreError(msg)
        try:
            self._connection = _connected(self.path)
        except sqlite3.DatabaseError as error:
            msg = f"{self.path} is not a sweep's store: {error}"
            raise StoreError(msg) from error

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def add(self, rows: list[Row]) -> None:
        """Write rows; a row with the same key is replaced."""
        with self._connection:
            self._connection.executemany(
                "INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?, ?)",
                [
                    (
                        row.key,
                        row.position,
                        json.dumps(dict(row.point)),
                        row.status.value,
                        row.reason,
                        json.dumps(dict(row.results)),
                    )
                    for row in rows
                ],
            )

    def done(self) -> set[str]:
        """Return the keys of all points that need not be computed again."""
        query = "SELECT key FROM points WHERE status != ?"
        return {key for (key,) in self._connection.execute(query, (Status.FAILED.value,))}

    def rows(self) -> Iterator[Row]:
        """Yield all rows by their position."""
        for key, position, point, status, reason, results in self._connection.execute(
            "SELECT * FROM points ORDER BY position, key"
        ):
            yield Row(
                key=key,
                position=position,
                point=json.loads(point),
                status=Status(status),
                reason=reason,
                results=json.loads(results),
            )

    def note(self, name: str, value: str) -> str | None:
        """Keep a word about the sweep; return what stood there before."""
        before = self._connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
        with self._connection:
            self._connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (name, value))
        return None if before is None else str(before[0])


def _connected(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, timeout=30.0)
    try:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.executescript(_TABLE)
    except sqlite3.DatabaseError:
        connection.close()
        raise
    return connection
