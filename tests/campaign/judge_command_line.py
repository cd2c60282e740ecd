"""A random command line: a documented exit code, lines instead of tracebacks, refusals at once."""

from __future__ import annotations

import io
import os
import sys
import tempfile
from functools import cache
from pathlib import Path
from unittest.mock import patch

from fem.examples import example
from tests.campaign.command_lines import command_line, files
from tests.campaign.commands import Done, command, misbehaviour, process
from tests.campaign.worker import Verdict

OWN_PROCESS = 25
"""One in so many command lines is a process of its own: a second each for the interpreter alone."""
CLOSED_PIPE = 2
"""One in so many of these writes into a pipe that nobody reads."""
SLOW_WORDS = ("--scheduler", "--workers")
"""Options that start other processes or wait for a network: their refusals may take longer."""


@cache
def _folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="command-lines-"))


def judge(seed: int) -> Verdict:
    """Return what holds for the command line of a seed."""
    folder = _folder() / "files"
    files(folder, example().read_text("utf-8"))
    for left in folder.glob("out*"):
        left.unlink() if left.is_file() else None
    arguments = command_line(seed, folder)
    if seed % OWN_PROCESS == 0:
        return _process(arguments, folder, closed=seed // OWN_PROCESS % CLOSED_PIPE == 0)
    with patch.object(sys, "stdin", io.StringIO()), patch.object(os, "getcwd", lambda: str(folder)):
        done = command(*arguments)
    return _verdict(arguments, done, slow=any(word in arguments for word in SLOW_WORDS))


def _process(arguments: list[str], folder: Path, *, closed: bool) -> Verdict:
    """Run it as a process of its own, where asked for with an output that nobody reads."""
    done = process(*arguments, folder=folder, closed=closed)
    found = _verdict(arguments, done, slow=True)
    if closed:
        # a reader that stopped is no fault: the command ends by the signal as other programs do, or says its number
        found.faults = [fault for fault in found.faults if not fault.startswith(("exit code -13 ", "exit code 141 "))]
        found.note += " (closed pipe)"
    return found


def _verdict(arguments: list[str], done: Done, *, slow: bool) -> Verdict:
    faults = [fault for fault in misbehaviour(done) if not (slow and fault.startswith("refused after"))]
    said = " ".join(argument[:60] for argument in arguments)
    faults = [f"{fault} [{said}]" for fault in faults]
    return Verdict(status=f"code {done.code}", faults=faults, note=said)
