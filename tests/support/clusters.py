"""A real dask.distributed scheduler and workers, each a process of its own on the loopback."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[2]


class RealCluster:
    """A scheduler and as many one-thread workers as are asked for. Use it as a context manager."""

    def __init__(self, folder: Path, workers: int, failures: int = 3) -> None:
        self._file, self._folder, self._failures = folder / "scheduler.json", folder, failures
        self.scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0", "--scheduler-file", self._file)
        until(self._file.exists)
        self.workers: list[subprocess.Popen[bytes]] = []
        for _ in range(workers):
            self.hire()

    @property
    def address(self) -> str:
        import json

        return str(json.loads(self._file.read_text("ascii"))["address"])

    def hire(self) -> None:
        """Start one more worker."""
        given = ("--scheduler-file", self._file, "--nthreads", "1", "--no-nanny", "--local-directory", self._folder)
        self.workers.append(self._start("worker", *given))

    def kill_worker(self) -> None:
        """Kill the worker that came last."""
        worker = self.workers.pop()
        worker.kill()
        worker.wait()

    def _start(self, what: str, *given: object) -> "subprocess.Popen[bytes]":
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}  # one thread, as the tests themselves
        environment["DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES"] = str(self._failures)
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.dask_{what}", "--no-dashboard", *map(str, given)],
            env=environment,
            cwd=self._folder,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def __enter__(self) -> "RealCluster":
        return self

    def __exit__(self, *_: object) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
        for process in (*self.workers, self.scheduler):
            process.wait()


def until(true: Callable[[], object], seconds: float = 60.0) -> None:
    """Wait until something is true."""
    deadline = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < deadline, "waited in vain"
        time.sleep(0.02)
