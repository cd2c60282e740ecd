"""A process that judges one seed after another, within limits of memory and processor time, and says what it found.

What is not caught ends the process: its traceback is then the fault of that seed, and another process goes on.
"""

from __future__ import annotations

import json
import os
import re
import resource
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

MEMORY = 2 * 2**30
"""Address space [B]."""


@dataclass(kw_only=True)
class Verdict:
    """What became of one seed.

    Parameters
    ----------
    status
        "accepted", "refused" or "stated gap".
    faults
        What does not hold, one line each.
    note
        What was tried.
    """

    status: str
    faults: list[str] = field(default_factory=list)
    note: str = ""


def judge_of(part: str) -> Callable[[int], Verdict]:
    """Return what judges the seeds of a part."""
    if part == "designs":
        from tests.campaign.judge_design import judge
    elif part == "job-files":
        from tests.campaign.judge_job_file import judge
    else:
        from tests.campaign.judge_command_line import judge
    return judge


def main(part: str, processor_seconds: int) -> None:
    """Judge the seeds on standard input; answer each with a line of JSON."""
    # what the tool prints, or a library below it, must not get between the answers
    answers = os.fdopen(os.dup(1), "w")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    judge = judge_of(part)
    for line in sys.stdin:
        seed, start = int(line), time.process_time()
        # the kernel ends the process when it passes that, whatever it does
        resource.setrlimit(resource.RLIMIT_CPU, (int(start) + processor_seconds + 1, resource.RLIM_INFINITY))
        Path("/proc/self/clear_refs").write_text("5")
        found = judge(seed)
        record = {
            "part": part,
            "seed": seed,
            "status": "failed" if found.faults else found.status,
            "seconds": round(time.process_time() - start, 3),
            "megabytes": peak_megabytes(),
            "faults": found.faults,
            "note": found.note,
        }
        print(json.dumps(record), file=answers, flush=True)


def peak_megabytes() -> int:
    """Return the most memory held since the last reset [MB]."""
    found = re.search(r"VmHWM:\s+(\d+) kB", Path("/proc/self/status").read_text())
    return int(found[1]) // 1024 if found else 0


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))
