"""The command line within this process: what it prints, its exit code, and whether the two go together."""

from __future__ import annotations

import io
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from fem.cli import run

CODES = {0, 1, 2, 3, 69, 130}
"""As the README says."""
REFUSAL = 2.0
"""Most processor time of a refusal [s]."""
LONGEST = 1000
"""Characters of one line on standard error; values are quoted in part."""


@dataclass(frozen=True, kw_only=True)
class Done:
    """A command that ended: exit code, texts, processor time [s]."""

    code: int
    out: str
    err: str
    seconds: float


def command(*arguments: str) -> Done:
    """Run a command here."""
    out, err = io.StringIO(), io.StringIO()
    start = time.process_time()
    with redirect_stdout(out), redirect_stderr(err):
        code = run(list(arguments))
    return Done(code=code, out=out.getvalue(), err=err.getvalue(), seconds=time.process_time() - start)


def process(*arguments: str, folder: Path, closed: bool = False) -> Done:
    """Run a command as a process of its own, where asked for with an output that nobody reads."""
    start = time.monotonic()
    reader, writer = os.pipe()
    if closed:
        os.close(reader)
    running = subprocess.Popen(
        [sys.executable, "-m", "fem", *arguments],
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stdout=writer if closed else subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    os.close(writer)
    if not closed:
        os.close(reader)
    out, err = running.communicate(timeout=300)
    return Done(code=running.returncode, out=out or "", err=err, seconds=time.monotonic() - start)


def misbehaviour(done: Done) -> Iterator[str]:
    """Yield what no command does, whatever it is given."""
    if done.code not in CODES:
        yield f"exit code {done.code}"
    for text in (done.out, done.err):
        if "Traceback (most recent call last)" in text or "Error: " in text:
            yield f"a traceback: {text.strip().splitlines()[-1][:200]}"
    lines = done.err.splitlines()
    if any(not line.strip() for line in lines):
        yield "an empty line on standard error"
    if any(len(line) > LONGEST for line in lines):
        yield f"a line of {max(map(len, lines))} characters on standard error"
    if any(not (char.isprintable() or char in "\n\t") for char in done.err):
        yield f"control characters on standard error: {done.err[:200]!r}"
    if len(set(lines)) < len(lines):
        yield f"a line said twice: {next(line for line in lines if lines.count(line) > 1)[:200]}"
    if done.code == 2 and not lines:
        yield "refused without a word"
    if done.code == 2 and done.seconds > REFUSAL and "cannot write" not in done.err:
        yield f"refused after {done.seconds:.1f} s"
