"""One thread for linear algebra while the tool computes, so that digits do not depend on how many a machine offers.

Sums that are shared among threads are added up in another order. Sections as small as ours gain nothing by threads.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from threading import Lock
from typing import Any


@cache
def _libraries(fields: bool) -> Any:
    """Return the linear algebra of numpy and cvxopt, of scipy too for fields; looking for it takes a millisecond."""
    import cvxopt.lapack  # noqa: F401
    from threadpoolctl import ThreadpoolController

    if fields:
        import scipy.linalg  # noqa: F401

    return ThreadpoolController().select(user_api="blas")


def _apart(act: Callable[[], Any]) -> Any:
    """Do something in a thread that ends: of the living ones threadpoolctl lets only the first ever set a limit."""
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(act).result()


class _Holder:
    """How many computations are under way in this process, and what they found when the first began."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._inside = 0
        self._limits: list[Any] = []
        self._fields = False

    def enter(self) -> None:
        with self._lock:
            if self._inside == 0:
                self._fields = "scipy.linalg" in sys.modules
                self._hold()
            self._inside += 1

    def leave(self) -> None:
        with self._lock:
            self._inside -= 1
            while self._inside == 0 and self._limits:
                _apart(self._limits.pop().restore_original_limits)

    def hold_fields(self) -> None:
        with self._lock:
            if self._inside and not self._fields:
                self._fields = True
                self._hold()

    def _hold(self) -> None:
        self._limits.append(_apart(lambda: _libraries(self._fields).limit(limits=1)))


_HOLDER = _Holder()


hold_fields = _HOLDER.hold_fields
"""Take scipy's linear algebra in, if linear algebra is held: before its first use, as kept fields need none of it."""


@contextmanager
def one_thread() -> Iterator[None]:
    """Hold linear algebra to one thread, here or round a function; what was set before comes back with the last."""
    _HOLDER.enter()
    try:
        yield
    finally:
        _HOLDER.leave()
