"""Seeds handed to a worker one by one; what it says is kept in a file, so that a run goes on where it stopped."""

from __future__ import annotations

import json
import os
import selectors
import subprocess
import sys
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from tests.support.seeds import FRESH

ROOT = Path(__file__).parents[2]
PARTS = {"job-files": 20, "command-lines": 60, "designs": 90}
"""Parts of the campaign, with the most processor time a seed may take [s]."""
PATIENCE = 10
"""Wall time over that, on a machine that does other things [-]."""

Record = dict[str, Any]


@dataclass
class _Worker:
    process: subprocess.Popen[str]
    errors: IO[str]

    @classmethod
    def start(cls, part: str, folder: Path) -> _Worker:
        errors = tempfile.TemporaryFile("w+", dir=folder)  # noqa: SIM115 (closed by stop)
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "REWOUND_CACHE": str(folder / "fields")}
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.campaign.worker", part, str(PARTS[part])],
            cwd=ROOT,
            env={**environment, "TMPDIR": str(folder)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            text=True,
        )
        return cls(process, errors)

    def ask(self, part: str, seed: int) -> Record:
        """Return the worker's answer, or what ended it."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        print(seed, file=self.process.stdin, flush=True)
        with selectors.DefaultSelector() as ready:
            ready.register(self.process.stdout, selectors.EVENT_READ)
            hangs = not ready.select(PARTS[part] * PATIENCE)
        if not hangs and (line := self.process.stdout.readline()):
            answer: Record = json.loads(line)
            return answer
        if hangs:
            self.process.kill()
        code = self.process.wait()
        self.errors.seek(0)
        said = [line for line in self.errors.read().splitlines() if line.strip()]
        what = f"no answer for {PARTS[part] * PATIENCE} s" if hangs else _ended(code, part)
        ours = ("/fem/", "/geometries/")
        where = [
            line.strip()
            for line in said
            if line.strip().startswith("File ") and any(p in line for p in (*ours, "/tests/"))
        ]
        reason = " | ".join([what, *where[-1:], *said[-1:]])
        return {"part": part, "seed": seed, "status": "failed", "seconds": None, "faults": [reason], "note": ""}

    def stop(self) -> None:
        if self.process.poll() is None:
            assert self.process.stdin is not None
            self.process.stdin.close()
            self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self.errors):
            if pipe is not None:
                pipe.close()


def _ended(code: int, part: str) -> str:
    reasons = {-24: f"more than {PARTS[part]} s of processor time", -9: "killed", -11: "segmentation fault"}
    return reasons.get(code, f"ended with code {code}")


def run(part: str, seeds: Iterable[int], state: Path | None = None) -> Iterator[Record]:
    """Judge seeds of a part; yield their records as they come, those of an earlier run first.

    Parameters
    ----------
    part
        One of `PARTS`.
    seeds
        Whole numbers.
    state
        File of records, one JSON a line: those of these seeds are taken, new ones added.
    """
    wanted = dict.fromkeys(seeds)
    for record in records(state):
        if record["part"] == part and record["seed"] in wanted:
            del wanted[record["seed"]]
            yield record
    worker: _Worker | None = None
    with tempfile.TemporaryDirectory(prefix="campaign-") as folder:
        try:
            for seed in wanted:
                if worker is not None and worker.process.poll() is not None:
                    worker.stop()
                    worker = None
                if worker is None:
                    worker = _Worker.start(part, Path(folder))
                record = worker.ask(part, seed)
                if state is not None:
                    with state.open("a") as file:
                        print(json.dumps(record), file=file)
                yield record
        finally:
            if worker is not None:
                worker.stop()


def records(state: Path | None) -> list[Record]:
    """Return what a file of records holds; a line cut short by a kill is left out."""
    if state is None or not state.exists():
        return []
    found = []
    for line in state.read_text().splitlines():
        try:
            found.append(json.loads(line))
        except json.JSONDecodeError:
            continue
    return found


def seeds_of(count: int, *, fresh: bool) -> range:
    """Return seeds: from 0, or where no one has looked yet (REWOUND_TEST_SEED repeats them)."""
    start = 1_000_000 + FRESH % 1_000_000_000 if fresh else 0
    start -= start % 100
    return range(start, start + count)


def summary(part: str, found: list[Record]) -> str:
    """Return one line: how many, what became of them, the worst time and memory."""
    counts = [(status, sum(r["status"] == status for r in found)) for status in sorted({r["status"] for r in found})]
    became = ", ".join(f"{count} {status}" for status, count in counts)
    timed = [record for record in found if record["seconds"] is not None]
    if not timed:
        return f"{part}: {len(found)} seeds: {became}"
    slow, large = (max(timed, key=lambda r: r[key]) for key in ("seconds", "megabytes"))
    return (
        f"{part}: {len(found)} seeds: {became}; processor time {sum(r['seconds'] for r in timed):.0f} s in all, most "
        f"{slow['seconds']:.1f} s (seed {slow['seed']}); most memory {large['megabytes']} MB (seed {large['seed']})"
    )
