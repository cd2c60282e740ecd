"""Local worker processes, each with a pipe of its own: one that dies takes its own task with it and nothing else."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess

from fem.sweeps.workers.dispatch import Ended
from fem.sweeps.workers.process import serve
from fem.sweeps.workers.task import Task

TASKS_PER_LIFE = 1600
"""Tasks a worker does before another takes its place: at most 6400 fields or 51 200 points, minutes of work."""
WORK = "fem.sweeps.workers.task:run_task"


@dataclass(slots=True)
class _Worker:
    process: SpawnProcess
    calls: Connection
    task: Task | None = None
    begun: int = 0

    def end(self) -> None:
        self.process.kill()
        self.process.join()
        self.calls.close()


class Pool:
    """Processes on this machine, one thread each, replaced when they die or grow old. Close it when done.

    Parameters
    ----------
    count
        How many.
    work
        Function that makes rows of a task, as "module:name".
    """

    patience = 2

    def __init__(self, count: int, work: str = WORK) -> None:
        self._work = work
        self._workers = [_start(work) for _ in range(count)]

    @property
    def processes(self) -> list[int]:
        """Numbers of the processes."""
        return [worker.process.pid or 0 for worker in self._workers]

    def room(self) -> int:
        """Return how many workers have nothing to do."""
        return sum(worker.task is None for worker in self._workers)

    def begin(self, task: Task) -> None:
        """Hand a task to a worker that has nothing to do."""
        worker = next(worker for worker in self._workers if worker.task is None)
        if worker.begun >= TASKS_PER_LIFE:
            self._replace(worker)
            worker = self._workers[-1]
        worker.task, worker.begun = task, worker.begun + 1
        try:
            worker.calls.send(task)
        except OSError:  # it died with nothing to do, which is no fault of this task
            self._replace(worker)
            self.begin(task)

    def ended(self, seconds: float) -> Sequence[Ended]:
        """Return what has come to an end, waiting for it no longer than that [s]."""
        busy = {worker.calls: worker for worker in self._workers if worker.task is not None}
        found = []
        for calls in wait(list(busy), seconds):
            worker = busy[calls]  # type: ignore[index]
            task, worker.task = worker.task, None
            assert task is not None
            try:
                told = worker.calls.recv()
                found.append(Ended(task, fault=told) if isinstance(told, str) else Ended(task, told))
            except (EOFError, OSError):
                self._replace(worker)
                found.append(Ended(task, died=True))
        return found

    def close(self) -> None:
        """End all workers, whatever they are doing."""
        for worker in self._workers:
            worker.process.kill()
        for worker in self._workers:
            worker.end()
        self._workers = []

    def _replace(self, worker: _Worker) -> None:
        worker.end()
        self._workers.remove(worker)
        self._workers.append(_start(self._work))


def _start(work: str) -> _Worker:
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=serve, args=(theirs, os.getpid(), work), daemon=True)
    with _uninterrupted():
        process.start()
    theirs.close()
    return _Worker(process, ours)


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Start a process deaf to Ctrl-C, which goes to all of a terminal's processes: from its first moment on."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)
