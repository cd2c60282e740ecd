"""Sweeps whose parent, workers or both are killed at random moments and resumed: no row lost, doubled or other."""

from __future__ import annotations

import csv
import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from contextlib import suppress
from importlib.resources import files
from pathlib import Path

from fem.sweeps.axes import points, read_axis
from fem.sweeps.rows.store import Store
from tests.support.alike import same_row
from tests.support.alone import rows_alone
from tests.support.clusters import RealCluster, until
from tests.support.stand_in import COMMAND, NAP, drawn_alone

EXAMPLE = Path(str(files("fem.examples") / "bandsaw_brazing.toml"))
VARY = "leads.length=1:{:g}:0.01m"
ROOT = Path(__file__).parents[2]


class Killed:
    """Sweeps of one kind, killed as often as asked for; `wrong` holds what did not come out as without.

    With `nap` each row is a stand-in that costs so many seconds, else an estimate.
    """

    def __init__(
        self, folder: Path, seed: int, count: int, cluster: RealCluster | None = None, *, nap: float | None = None
    ) -> None:
        self._folder, self._draw, self._cluster, self._nap = folder, random.Random(seed), cluster, nap
        self._vary = VARY.format(0.99 + count / 100)
        every = points((read_axis(self._vary),))
        self._right = rows_alone(EXAMPLE, every) if nap is None else drawn_alone(EXAMPLE, every)
        self.kills: Counter[str] = Counter()
        self.wrong: list[str] = []
        self.rounds = 0

    def kill(self, times: int) -> None:
        """Sweep, kill and resume until so many are killed, then let the last sweep end."""
        while self.kills.total() < times:
            self._round(times)
            self.rounds += 1

    def _round(self, times: int) -> None:
        out, held = self._folder / f"{self.rounds}.csv", set[str]()
        for _ in range(1000):
            running = self._start(out)
            while running.poll() is None and self.kills.total() < times:
                time.sleep(self._draw.uniform(0.0, 3.0) ** 2 / 3)
                self._strike(running)
            code = running.wait()
            held = self._check(out.with_suffix(".sqlite"), held)
            if code >= 0:
                break
        self._check_end(out, code, held)

    def _start(self, out: Path) -> subprocess.Popen[bytes]:
        who = ["--workers", "2"] if self._cluster is None else ["--scheduler", self._cluster.address]
        command = ["-m", "fem"] if self._nap is None else COMMAND
        return subprocess.Popen(
            [sys.executable, *command, "sweep", EXAMPLE, "--vary", self._vary, "-q", "-o", out, "--resume", *who],
            env={**os.environ, "PYTHONPATH": str(ROOT), NAP: str(self._nap)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def _strike(self, running: subprocess.Popen[bytes]) -> None:
        """Kill one or both, if there is something to kill."""
        victim = self._draw.choice(("parent", "worker", "worker", "both"))
        if victim != "parent" and self._cluster is None:
            until(lambda: _workers(running.pid) or running.poll() is not None)
            time.sleep(self._draw.uniform(0.0, 3.0))
        workers = _workers(running.pid)
        if running.poll() is not None or (victim != "parent" and self._cluster is None and not workers):
            return
        self.kills[victim] += 1
        if victim != "parent":
            if self._cluster is None:
                _end(self._draw.choice(workers))
            else:
                self._cluster.kill_worker()
                self._cluster.hire()
        if victim != "worker":
            running.kill()
            running.wait()
            until(lambda: not any(map(_alive, workers)), 20.0)

    def _check(self, file: Path, held: set[str]) -> set[str]:
        """Compare what the store has with what it should; return its keys."""
        if not file.exists():
            return held
        with Store(file) as store:
            rows = list(store.rows())
        keys = {row.key for row in rows}
        if not held <= keys:
            self.wrong.append(f"{file.name}: {len(held - keys)} rows are gone")
        if len(keys) < len(rows) or not all(same_row(self._right.get(row.key), row) for row in rows):
            self.wrong.append(f"{file.name}: a doubled or other row")
        return keys

    def _check_end(self, out: Path, code: int, held: set[str]) -> None:
        with out.open(newline="", encoding="utf-8") as file:
            lines = list(csv.DictReader(file))
        if code != 0 or held != set(self._right):
            self.wrong.append(f"{out.name}: exit code {code}, {len(held)} of {len(self._right)} rows")
        if [line["position"] for line in lines] != [str(k) for k in range(len(self._right))]:
            self.wrong.append(f"{out.name}: not each point once")

    def summary(self) -> str:
        """Say in a line what was killed and what came of it."""
        told = ", ".join(f"{count} {name}" for name, count in sorted(self.kills.items()))
        where = "local" if self._cluster is None else "scheduler"
        return f"{self.kills.total()} kills ({told}) in {self.rounds} {where} sweeps: {len(self.wrong)} wrong"


def _workers(parent: int) -> list[int]:
    """Return the numbers of the processes that a pool's parent has started, but for the keeper of its semaphores."""
    found = []
    with suppress(FileNotFoundError, ProcessLookupError):
        for child in Path(f"/proc/{parent}/task/{parent}/children").read_text("ascii").split():
            with suppress(FileNotFoundError, ProcessLookupError):
                if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                    found.append(int(child))
    return found


def _end(number: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(number, signal.SIGKILL)


def _alive(number: int) -> bool:
    try:
        return Path(f"/proc/{number}/stat").read_text("ascii").rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False
