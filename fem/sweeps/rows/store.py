"""The rows of a sweep in an SQLite file: one row per point, written by one process, whole after any interruption.

A row carries the SHA-256 of all it says. A damaged one is as good as none, so no flipped bit becomes a number.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from types import TracebackType
from typing import Self

from fem.sweeps.rows.row import Row as Row
from fem.sweeps.rows.row import Status as Status
from fem.sweeps.rows.written import in_common, read_rows, written

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
                shared = in_common(rows)
                self._connection.executemany("INSERT OR REPLACE INTO shared VALUES (?, ?)", shared.values())
                self._connection.executemany(
                    "INSERT OR REPLACE INTO points VALUES (?, ?, ?, ?, ?)", list(written(rows, shared))
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
