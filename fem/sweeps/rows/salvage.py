"""What can be read of a damaged store: its whole rows go into a new one, the damaged file is kept beside it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from fem.sweeps.rows.store import Row, Store, StoreError, connect
from fem.sweeps.rows.written import read_rows

_BESIDE = ("-wal", "-shm")
"""What SQLite keeps beside a file while it is open; left there, it would be taken for the new file's."""


def salvage(path: Path) -> tuple[Path, int]:
    """Make a new store of the rows of a damaged one that are whole, and put the damaged one aside.

    Returns
    -------
    tuple of Path and int
        Where the damaged file is now, and how many rows the new one has.

    Raises
    ------
    StoreError
        If the new one cannot be written; then the damaged one is where it was.
    """
    rows: dict[str, Row] = {}
    for order in ("rowid ASC", "rowid DESC"):  # from either end to where it cannot be read
        try:
            connection = connect(path)
            try:
                for _, row in read_rows(connection, order):
                    if row is not None:
                        rows[row.key] = row
            finally:
                connection.close()
        except sqlite3.Error:
            continue
    new, aside = path.with_name(f"{path.name}.new"), path.with_name(f"{path.name}.damaged")
    try:
        _forget(new)
        with Store(new) as store:
            store.add(list(rows.values()))
        _forget(aside)
        for ending in _BESIDE:
            if (file := path.with_name(path.name + ending)).exists():
                file.replace(aside.with_name(aside.name + ending))
        path.replace(aside)
        new.replace(path)
    except OSError as error:
        msg = f"{path} is damaged, and a new one cannot be made: {error.strerror or error}"
        raise StoreError(msg) from error
    return aside, len(rows)


def _forget(path: Path) -> None:
    for ending in ("", *_BESIDE):
        path.with_name(path.name + ending).unlink(missing_ok=True)
