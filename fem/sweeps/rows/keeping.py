"""The rows of a sweep while it runs: in memory, and in a store as far as that takes them."""

from __future__ import annotations

import hashlib
import json
import signal
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from threading import current_thread, main_thread
from time import monotonic
from typing import Any

from fem.estimation.provenance import computed_by, versions
from fem.sweeps.axes import Point
from fem.sweeps.rows.salvage import salvage
from fem.sweeps.rows.store import DamagedStore, Row, Status, Store, StoreError, Unwritable

AGAIN = 30.0
"""Time after which a store that could not be written is tried again [s]."""
LOT = 512
"""Rows written at once; fewer and fewer where a full disk does not take so many."""


class Keeping:
    """Rows that are computed and where they are kept. Close it when done: what the store lacks is tried once more.

    Parameters
    ----------
    path
        The store; rows stay in memory where None.
    resume
        Go on with a store that is there already.
    job
        The job's tables, whose digest is noted.

    Raises
    ------
    StoreError
        If the store is there already and is not to be resumed, is none, or cannot be read and written.
    """

    def __init__(self, path: Path | None, *, resume: bool, job: Mapping[str, Any]) -> None:
        self.notes: list[str] = []
        self._unkept: list[Row] = []
        self._fault, self._failed = "", -AGAIN
        self._store: Store | None = None
        if path is None:
            return
        if path.exists() and not resume:
            msg = f"{path} is there already: --resume goes on with it, or name another"
            raise StoreError(msg)
        self._store = self._opened(path)
        self._about(job)

    def _opened(self, path: Path) -> Store:
        """Open the store; what is damaged in it goes, and is said."""
        try:
            store = Store(path)
            try:
                if count := store.drop_damaged():
                    self.notes.append(f"{count} damaged rows in {path} are computed anew")
            except StoreError:
                store.close()
                raise
            return store
        except DamagedStore as error:
            aside, count = salvage(path)
            self.notes.append(f"{error}; {count} of its rows are whole and stay, the damaged file is now {aside}")
            return Store(path)

    def _about(self, job: Mapping[str, Any]) -> None:
        """Note the job and what computes it in the store; say what differs from last time."""
        assert self._store is not None
        digest = hashlib.sha256(json.dumps(job, sort_keys=True, default=str).encode()).hexdigest()
        now = ", ".join(f"{name} {number}" for name, number in versions().items()) + f", sources {computed_by()[:12]}"
        before = self._store.note("job", digest)
        if before is not None and before != digest:
            text = (
                "the job has changed since this store was made: all points are computed anew, the old rows stay in it"
            )
            self.notes.append(text)
        before = self._store.note("versions", now)
        if before is not None and before != now:
            self.notes.append(f"versions or sources have changed since (then {before}): all points are computed anew")

    def known(self, every: Iterable[tuple[Point, str]]) -> list[Row]:
        """Return the rows there are of these points and keys, at their positions; what failed is tried again."""
        if self._store is None:
            return []
        found = {row.key: row for row in self._store.rows() if row.status is not Status.FAILED}
        if not found:
            return []
        return [
            replace(found[key], position=position, point=point)
            for position, (point, key) in enumerate(every)
            if key in found
        ]

    def add(self, rows: list[Row]) -> None:
        """Put rows into the store, or keep them for later where it does not take them."""
        if self._store is None:
            return
        self._unkept += rows
        if self._fault and monotonic() - self._failed < AGAIN:
            return
        self._put_away()

    def _put_away(self) -> None:
        assert self._store is not None
        lot = LOT
        while self._unkept:
            try:
                with unstopped():
                    self._store.add(self._unkept[:lot])
                    del self._unkept[:lot]
            except StoreError as error:
                if lot == 1 or not isinstance(error, Unwritable):
                    self._fault, self._failed = str(error), monotonic()
                    return
                lot = max(lot // 8, 1)
        self._fault = ""

    def close(self) -> str:
        """Try once more what the store lacks, and close it; return what there is to say of rows it did not take."""
        if self._store is None:
            return ""
        self._put_away()
        self._store.close()
        count = len(self._unkept)
        return f"{self._fault}: {count} rows are not in it" if count else ""


@contextmanager
def unstopped() -> Iterator[None]:
    """Let something end before Ctrl-C or SIGTERM count."""
    if current_thread() is not main_thread():
        yield
        return
    pressed: list[int] = []
    before = {
        number: signal.signal(number, lambda number, frame: pressed.append(number))
        for number in (signal.SIGINT, signal.SIGTERM)
    }
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    if pressed:
        signal.raise_signal(pressed[0])
