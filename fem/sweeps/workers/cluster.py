"""A dask.distributed scheduler whose workers compute: as many tasks under way as keep all of them busy."""

from __future__ import annotations

import logging
import pickle
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from threading import Thread
from time import monotonic, sleep
from typing import Any

from fem.sweeps.rows.store import Row
from fem.sweeps.workers.dispatch import BEAT, Ended, WorkersGone
from fem.sweeps.workers.task import Task, run_task

REACH = 8.0
"""How long to try to reach a scheduler [s]."""
SILENCE = 30.0
"""How long a scheduler may leave questions unanswered [s]."""
EACH = 2
"""Tasks under way for each thread of a worker: one that runs and one that waits for it to end."""

_log = logging.getLogger(__name__)


class NoScheduler(ValueError):
    """A scheduler that cannot be used; the message says which and why."""


class Cluster:
    """The workers of a running scheduler, however many come and go. Close it when done.

    Parameters
    ----------
    address
        The scheduler's, such as tcp://host:8786.
    work
        What makes rows of a task.

    Raises
    ------
    NoScheduler
        If dask.distributed is not installed, or the scheduler does not answer.
    """

    patience = 1  # the scheduler has tried several workers before it tells of their deaths

    def __init__(self, address: str, work: Any = run_task) -> None:
        try:
            from distributed import Client, KilledWorker
        except ImportError:
            msg = "--scheduler needs dask.distributed: pip install 'rewound[dask]'"
            raise NoScheduler(msg) from None
        logging.getLogger("distributed").setLevel(logging.CRITICAL)  # what there is to say is said here
        # What listens there but is no scheduler may never answer, and the client would wait for it.
        reached: Future[Any] = Future()
        try:
            _check(address)
            Thread(target=_reach, args=(reached, lambda: Client(address, timeout=REACH)), daemon=True).start()
            self._client = reached.result(REACH + BEAT)
        except (OSError, ValueError, TimeoutError) as error:
            why = " ".join(str(error).split()) or "it says nothing that a scheduler would"
            msg = f"no scheduler answers at {address}: {why}"
            raise NoScheduler(msg) from None
        self._executor = self._client.get_executor(pure=False)
        self._address, self._work, self._deadly = address, work, KilledWorker
        self._under_way: dict[Future[bytes], Task] = {}
        self._threads = 0
        self._asked = self._answered = -SILENCE
        self._told = False

    def room(self) -> int:
        """Return how many more tasks keep every thread of every worker busy.

        Raises
        ------
        WorkersGone
            If the scheduler is out of reach.
        """
        now = monotonic()
        if self._asked < 0:
            self._answered = now
        if now - self._asked >= BEAT and self._client.status != "closed":
            self._asked = now
            self._ask()
        if self._client.status == "closed" or monotonic() - self._answered > SILENCE:
            msg = f"the scheduler at {self._address} is out of reach"
            raise WorkersGone(msg)
        return max(EACH * self._threads - len(self._under_way), 0)

    def _ask(self) -> None:
        """Count the threads of all workers; none where the scheduler does not answer."""
        try:
            found = self._client.sync(self._client.scheduler.ncores, workers=None, callback_timeout=REACH)
        except (OSError, TimeoutError, RuntimeError):  # the last where the client closed meanwhile
            self._threads = 0
            return
        if not found and not self._told:
            _log.warning("the scheduler at %s has no workers: waiting for some", self._address)
        self._threads, self._answered, self._told = sum(found.values()), monotonic(), not found

    def begin(self, task: Task) -> None:
        """Hand a task to the scheduler."""
        self._under_way[self._executor.submit(_packed, self._work, task)] = task

    def ended(self, seconds: float) -> Sequence[Ended]:
        """Return what has come to an end, waiting for it no longer than that [s]."""
        if not self._under_way:
            sleep(seconds)
        ready, _ = wait(self._under_way, seconds, return_when=FIRST_COMPLETED)
        return [self._end(future, self._under_way.pop(future)) for future in ready]

    def _end(self, future: Future[bytes], task: Task) -> Ended:
        if future.cancelled():
            return Ended(task)
        fault = future.exception()
        if fault is None:
            return Ended(task, pickle.loads(future.result()))
        if isinstance(fault, self._deadly):
            return Ended(task, died=True)
        return Ended(task, fault=f"{type(fault).__name__}: {' '.join(str(fault).split())}")

    def close(self) -> None:
        """Let go of the scheduler, which then forgets what it has not begun."""
        self._under_way.clear()
        self._client.close(timeout=2)


def _packed(work: Callable[[Task], list[Row]], task: Task) -> bytes:
    """Return the rows as one piece: a list would be sent row by row, each with the columns of its whole block."""
    return pickle.dumps(work(task))


def _check(address: str) -> None:
    """Raise ValueError where an address is none: a client that is made with it hangs when it is forgotten."""
    from distributed.comm.addressing import parse_address, parse_host_port
    from distributed.comm.registry import get_backend

    scheme, location = parse_address(address)
    get_backend(scheme)
    if scheme in {"tcp", "tls"}:
        parse_host_port(location)


def _reach(reached: Future[Any], connect: Callable[[], Any]) -> None:
    try:
        reached.set_result(connect())
    except (OSError, ValueError, TimeoutError) as error:
        reached.set_exception(error)
