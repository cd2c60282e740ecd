"""Tasks to workers and rows back: as many under way as there is room for, none lost with a worker that dies."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol

from fem.sweeps.rows.store import Row
from fem.sweeps.workers.task import Task, failed, singles

BEAT = 1.0
"""How long to wait for rows before workers are counted again [s]."""


class WorkersGone(Exception):
    """All workers are out of reach for good; the message says whose."""


@dataclass(frozen=True, slots=True)
class Ended:
    """A task that came to an end: with its rows, else why not.

    Parameters
    ----------
    task
        The task.
    rows
        None where there are none.
    fault
        What went wrong in it; empty where it was only forgotten, as by a scheduler that began anew.
    died
        Whether a worker died that had it.
    """

    task: Task
    rows: list[Row] | None = None
    fault: str = ""
    died: bool = False


class Workers(Protocol):
    """Who computes tasks."""

    @property
    def patience(self) -> int:
        """With how many deaths of workers that had it a task is suspected to be their cause."""
        ...

    def room(self) -> int:
        """Return for how many more tasks there is room now; raise `WorkersGone` where there are no workers any more."""
        ...

    def begin(self, task: Task) -> None:
        """Hand over a task."""
        ...

    def ended(self, seconds: float) -> Sequence[Ended]:
        """Return what has come to an end, waiting for it no longer than that."""
        ...

    def close(self) -> None:
        """Let go of all workers and of what they are doing."""
        ...


def dispatch(workers: Workers, tasks: Iterable[Task]) -> Iterator[list[Row]]:
    """Yield rows as tasks come to an end.

    A task whose worker dies is handed over again. One that keeps losing its workers is cut into its points, each of
    which then runs alone: the point that kills is found and fails, and no other is taken for it.

    Raises
    ------
    WorkersGone
        As `Workers.room`.
    """
    waiting, suspects, under_way = deque(tasks), deque[Task](), 0
    deaths: Counter[tuple[int, ...]] = Counter()
    alone = False
    while waiting or suspects or under_way:
        room = workers.room()
        if suspects and room and not under_way:
            workers.begin(suspects.popleft())
            under_way, alone = 1, True
        while waiting and room > 0 and not suspects and not alone:
            workers.begin(waiting.popleft())
            under_way, room = under_way + 1, room - 1
        for end in workers.ended(BEAT):
            under_way, was_alone, alone = under_way - 1, alone, False
            task = end.task
            if end.rows is not None:
                yield end.rows
            elif end.died:
                deaths[task.positions] += 1
                if deaths[task.positions] < workers.patience:
                    (suspects if was_alone else waiting).appendleft(task)
                elif was_alone:
                    yield failed(task, "the worker that computed it died")
                else:
                    del deaths[task.positions]
                    suspects.extend(singles(task))
            elif not end.fault:
                (suspects if was_alone else waiting).appendleft(task)
            elif len(task.keys) > 1:
                waiting.extendleft(singles(task))
            else:
                yield failed(task, end.fault)
