"""What a computation takes as it grows: processor seconds and peak memory of each size in a process of its own."""

from __future__ import annotations

import ctypes
import gc
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path

import numpy as np

Prepared = tuple[int, Callable[[], object]]
"""How large it is, in what counts, and the computation; what it returns is told beside its cost."""
ENOUGH = 0.5
"""Short computations are repeated for so long, the quickest counts [processor seconds]."""
PAGE_STATUS, RESET_PEAK = Path("/proc/self/status"), Path("/proc/self/clear_refs")


@dataclass(frozen=True, kw_only=True, slots=True)
class Cost:
    """Of one size: the quickest run's processor time [s], what the first run took besides what was there [MB]."""

    size: int
    seconds: float
    megabytes: float
    result: object


def costs(prepare: Callable[[float], Prepared], sizes: Sequence[float]) -> list[Cost]:
    """Return what each size costs, preparation apart, each in a process of its own that forks off this one."""
    found = []
    for size in sizes:
        ours, theirs = get_context("fork").Pipe(duplex=False)
        process = get_context("fork").Process(target=_measure, args=(theirs, prepare, size), daemon=True)
        process.start()
        theirs.close()
        found.append(ours.recv())
        process.join()
    return found


def exponent(costs: Sequence[Cost], what: str, within: float = 12.0) -> float:
    """Return p of size^p as fitted to the sizes that are at most so many times smaller than the largest."""
    size, value = np.array([(cost.size, getattr(cost, what)) for cost in costs]).T
    large = size >= size.max() / within
    return float(np.polyfit(np.log(size[large]), np.log(value[large]), 1)[0])


def _measure(pipe: Connection, prepare: Callable[[float], Prepared], at: float) -> None:
    size, run = prepare(at)
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    RESET_PEAK.write_text("5", "ascii")
    before = _peak()
    start = time.process_time()
    result = run()
    seconds = [time.process_time() - start]
    peak = _peak() - before
    while sum(seconds) < ENOUGH and len(seconds) < 7:
        start = time.process_time()
        run()
        seconds.append(time.process_time() - start)
    pipe.send(Cost(size=size, seconds=min(seconds), megabytes=peak, result=result))


def _peak() -> float:
    """Return the largest resident memory since it was reset [MB]."""
    (line,) = (line for line in PAGE_STATUS.read_text("ascii").splitlines() if line.startswith("VmHWM"))
    return int(line.split()[1]) / 1024
