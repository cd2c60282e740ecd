"""A damaged job file: refused with a line for each fault and code 2, or taken for what it still says."""

from __future__ import annotations

import tempfile
import time
from functools import cache
from pathlib import Path

from fem.design.job import read_job
from fem.design.tables import JobError
from tests.campaign.commands import REFUSAL, command, misbehaviour, process
from tests.campaign.job_files import mutated
from tests.campaign.worker import Verdict

ESTIMATED = 100
"""One in so many seeds is estimated where it is accepted: seconds each."""
OWN_PROCESS = 100
"""One in so many is told the same by a process of its own."""
MOST_LINES = 60
"""A job has no more faults than keys."""


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="job-files-"))


def judge(seed: int) -> Verdict:
    """Return what holds for the damaged job file of a seed."""
    content, kind = mutated(seed)
    file = _folder() / "job.toml"
    file.write_bytes(content)
    start = time.process_time()
    try:
        read_job(file)
    except JobError as error:
        seconds = time.process_time() - start
        faults = [f"read in {seconds:.1f} s"] * (seconds > REFUSAL)
        done = command("estimate", str(file))
        faults += list(misbehaviour(done))
        if done.code != 2:
            faults.append(f"a job that cannot be read, code {done.code}")
        if done.out:
            faults.append("results of a job that is refused")
        lines = done.err.splitlines()
        if lines != list(error.lines):
            faults.append(f"said {lines[:2]} for {error.lines[:2]}")
        if not all(line.startswith(str(file)) for line in lines):
            faults.append(f"a line that does not name the file: {lines}")
        if len(lines) > MOST_LINES:
            faults.append(f"{len(lines)} lines")
        if seed % OWN_PROCESS == 1:
            own = process("estimate", str(file), folder=_folder())
            if (own.code, own.out, own.err) != (done.code, done.out, done.err):
                faults.append(f"as a process of its own: code {own.code}, {own.err[:200]!r}")
        return Verdict(status="refused", faults=faults, note=kind)
    if seed % ESTIMATED != ESTIMATED - 1:
        return Verdict(status="accepted", note=kind)
    done = command("estimate", "-q", str(file), "--json", "-")
    return Verdict(status=f"estimated with code {done.code}", faults=list(misbehaviour(done)), note=kind)
