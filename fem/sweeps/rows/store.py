"""The rows of a sweep in an SQLite file: one row per point, written by one process, whole after any interruption.

A row carries the SHA-256 of all it says. A damaged one is as good as none, so no flipped bit becomes a number.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from pydantic import TypeAdapter
from pydantic_core import to_json

from fem.sweeps.rows.cells import Cells, Columns, Parted


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


APPLICATION = int.from_bytes(b"rwnd", "big")
"""SQLite's application_id, which tells a store from any other SQLite file."""
SCHEMA = 3
"""SQLite's user_version."""
PATIENCE = 10.0
"""How long another process may hold the file [s]."""
_TABLES = {
    "points": "CREATE TABLE points (key TEXT PRIMARY KEY, position INTEGER NOT NULL, shared TEXT NOT NULL, "
    "row TEXT NOT NULL, digest TEXT NOT NULL)",
    "shared": "CREATE TABLE shared (digest TEXT PRIMARY KEY, results TEXT NOT NULL)",
    "about": "CREATE TABLE about (name TEXT PRIMARY KEY, value TEXT NOT NULL)",
}
_ROW = TypeAdapter(Row)


class StoreError(ValueError):
    """A file that is no store of a sweep, or cannot be read or written."""


class Unwritable(StoreError):
    """A store that does not take what is written: its disk is full, perhaps."""


class DamagedStore(StoreError):
    """A store that SQLite finds damaged."""


class Store:
    """Rows on disk; every row is on the disk before the next is asked for. Use it as a context manager.

    Parameters
    ----------
    path
        The file; made if it is not there.

    Raises
    ------
    DamagedStore
        If it is a store, but damaged: `salvage.salvage` makes a new one of what is whole.
    StoreError
        If the file is something else, of another version, locked, or cannot be read and written.
    """

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        if self.path.is_dir() or not self.path.absolute().parent.is_dir():
            msg = f"{self.path} cannot be a sweep's store: no such place for a file"
            raise StoreError(msg)
        try:
            self._connection = connect(self.path)
        except sqlite3.Error as error:
            raise _plainly(self.path, error) from error
        try:
            self._open()
        except (sqlite3.Error, StoreError) as error:
            self._connection.close()
            raise error if isinstance(error, StoreError) else _plainly(self.path, error) from error

    def _open(self) -> None:
        ask = self._connection.execute
        tables = dict(ask("SELECT name, sql FROM sqlite_master WHERE type = 'table'").fetchall())
        (application,), (schema,) = ask("PRAGMA application_id").fetchone(), ask("PRAGMA user_version").fetchone()
        if tables or application:
            if application != APPLICATION:
                msg = f"{self.path} is not a sweep's store: it is an SQLite file of something else"
                raise StoreError(msg)
            if schema != SCHEMA:
                msg = f"{self.path} is a sweep's store of version {schema}, this is version {SCHEMA}: name another file"
                raise StoreError(msg)
            told = ask("PRAGMA quick_check(1)").fetchone()[0] if tables == _TABLES else "its tables are not as made"
            if told != "ok":
                msg = f"{self.path} is damaged: {' '.join(told.split())}"
                raise DamagedStore(msg)
        ask("PRAGMA journal_mode=WAL")
        ask("PRAGMA synchronous=FULL")
        with self._connection:
            ask("BEGIN IMMEDIATE")  # tells whether it can be written
            if tables != _TABLES:
                for table in _TABLES.values():
                    ask(table.replace("TABLE", "TABLE IF NOT EXISTS", 1))
                ask(f"PRAGMA application_id = {APPLICATION}")
                ask(f"PRAGMA user_version = {SCHEMA}")

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
        """Write rows; a row with the same key is replaced.

        Raises
        ------
        StoreError
            If they cannot be written; then none of them is.
        """
        try:
            with self._connection:
                shared = _shared(rows)
                self._connection.executemany("INSERT OR REPLACE INTO shared VALUES (?, ?)", shared.values())
                self._connection.executemany(
                    "INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?)", list(_told(rows, shared))
                )
        except sqlite3.Error as error:
            raise _plainly(self.path, error) from error

    def done(self) -> set[str]:
        """Return the keys of all points that need not be computed again."""
        return {row.key for row in self.rows() if row.status is not Status.FAILED}

    def rows(self) -> Iterator[Row]:
        """Yield all rows that are whole by their position.

        Raises
        ------
        DamagedStore
            If the file cannot be read to its end.
        """
        try:
            for _, row in read_rows(self._connection, "position, key"):
                if row is not None:
                    yield row
        except sqlite3.Error as error:
            raise _plainly(self.path, error) from error

    def drop_damaged(self) -> int:
        """Delete the rows that are not whole; return how many there were.

        Raises
        ------
        StoreError
            If they cannot be read or deleted.
        """
        try:
            damaged = [(number,) for number, row in read_rows(self._connection, "rowid") if row is None]
            with self._connection:
                self._connection.executemany("DELETE FROM points WHERE rowid = ?", damaged)
        except sqlite3.Error as error:
            raise _plainly(self.path, error) from error
        return len(damaged)

    def note(self, name: str, value: str) -> str | None:
        """Keep a word about the sweep; return what stood there before."""
        try:
            before = self._connection.execute("SELECT value FROM about WHERE name = ?", (name,)).fetchone()
            with self._connection:
                self._connection.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (name, value))
        except sqlite3.Error as error:
            raise _plainly(self.path, error) from error
        return None if before is None else str(before[0])


def connect(path: Path) -> sqlite3.Connection:
    """Open a file with SQLite; texts that are no UTF-8 come back as something else, whatever their damage."""
    connection = sqlite3.connect(path, timeout=PATIENCE)
    connection.text_factory = lambda text: text.decode("utf-8", "replace")
    return connection


def read_rows(connection: sqlite3.Connection, order: str) -> Iterator[tuple[int, Row | None]]:
    """Yield the number of each row in its table and the row, None where it is not whole."""

    @lru_cache(maxsize=4096)
    def in_common(digest: str) -> Common | None:
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
        yield number, _read(told[2], told[3], in_common) if digest == _digest(told) else None


def _read(shared: str, row: str, in_common: Callable[[str], Common | None]) -> Row | None:
    """Return a row, its results those that it has in common with others and its own."""
    if not shared:
        return _ROW.validate_json(row)
    if (found := in_common(shared)) is None:
        return None
    told = json.loads(row)
    return Row(**{**told, "status": Status(told["status"]), "results": Parted(*found, told["results"])})


Common = tuple[dict[str, Any], dict[str, int]]
"""What rows of a block have in common, and at which place each finds its own."""
APART = ["apart"]
"""What stands among results in common for one that is a row's own: no result is a list."""


def _shared(rows: Iterable[Row]) -> dict[Columns, tuple[str, str]]:
    """Return what the rows of each block have in common, its digest before it."""
    found: dict[Columns, tuple[str, str]] = {}
    for row in rows:
        if isinstance(row.results, Cells) and (columns := row.results.columns) not in found:
            told = dict(columns.told) | dict.fromkeys(columns.apart, APART)
            text = to_json(told).decode()
            found[columns] = _digest([text]), text
    return found


def _told(rows: Iterable[Row], shared: Mapping[Columns, tuple[str, str]]) -> Iterator[tuple[object, ...]]:
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


def _plainly(path: Path, error: sqlite3.Error) -> StoreError:
    """Say in a line what SQLite ran into."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code == sqlite3.SQLITE_NOTADB:
        return StoreError(f"{path} is not a sweep's store: {error}")
    if code == sqlite3.SQLITE_CORRUPT:
        return DamagedStore(f"{path} is damaged: {error}")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreError(f"{path} is in use by another program: {error}")
    return Unwritable(f"{path} cannot be written: {error}")
