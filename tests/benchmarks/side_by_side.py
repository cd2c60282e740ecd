"""Timings side by side: each repetition runs both, so that what else the machine does meets both alike."""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np


@dataclass(frozen=True, kw_only=True, slots=True)
class Ratio:
    """How many times as long the other takes: median and quartiles over the repetitions; median seconds of both."""

    name: str
    median: float
    low: float
    high: float
    ours: float
    theirs: float
    goal: float


def compare(
    name: str, ours: Callable[[], object], theirs: Callable[[], object], *, goal: float, repeats: int = 7
) -> Ratio:
    """Time both in turn, after one run of each that does not count; print and return how they compare."""
    ours(), theirs()
    seconds = np.array([[_seconds(ours), _seconds(theirs)] for _ in range(repeats)])
    low, median, high = np.quantile(seconds[:, 1] / seconds[:, 0], (0.25, 0.5, 0.75))
    a, b = np.median(seconds, axis=0)
    found = Ratio(
        name=name, median=float(median), low=float(low), high=float(high), ours=float(a), theirs=float(b), goal=goal
    )
    tell(f"{name}: {median:.2f} ({low:.2f} to {high:.2f}) times, goal {goal:g}; {a:.4g} s against {b:.4g} s", found)
    return found


def tell(line: str, found: Ratio | None = None) -> None:
    """Print a line past pytest's capture, with the last minute's load; also to the file that REWOUND_BENCH names."""
    load = os.getloadavg()[0]
    os.write(2, f"\n    {line} [load {load:.1f}]\n".encode())
    file = os.environ.get("REWOUND_BENCH")
    if file is not None:
        with open(file, "a", encoding="utf-8") as out:  # noqa: PTH123
            out.write(json.dumps({"line": line, "load": load, **({} if found is None else asdict(found))}) + "\n")


def _seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start
