"""One thread for linear algebra while the tool computes, so that digits do not depend on how many a machine offers.

Sums that are shared among threads are added up in another order. Sections as small as ours gain nothing by threads.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from threading import Lock
from typing import Any

from threadpoolctl import ThreadpoolController


@cache
def _libraries() -> ThreadpoolController:
    """Return the linear algebra of numpy, scipy and cvxopt; looking for it takes a millisecond."""
    import cvxopt.cholmod  # noqa: F401
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
        self._limits: Any = None

    def enter(self) -> None:
        with self._lock:
            if self._inside == 0:
                self._limits = _apart(lambda: _libraries().limit(limits=1))
            self._inside += 1

    def leave(self) -> None:
        with self._lock:
            self._inside -= 1
            if self._inside == 0:
                _apart(self._limits.restore_original_limits)


_HOLDER = _Holder()


@contextmanager
def one_thread() -> Iterator[None]:
    """Hold linear algebra to one thread, here or round a function; what was set before comes back with the last."""
    _HOLDER.enter()
    try:
        yield
    finally:
        _HOLDER.leave()
