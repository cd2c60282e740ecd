"""What all commands share: exit codes, faults, and the only places where anything is printed or written."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console

PROGRAM = "rewound"
CHECK_FAILED = POINTS_FAILED = GAPS = 1
BAD_INPUT, NOT_CONVERGED, NO_MESHER, STOPPED = 2, 3, 69, 130


class Refused(Exception):
    """What ends a command with one line for each fault."""


def say(line: str) -> None:
    """Print a message on standard error."""
    print(line, file=sys.stderr)


def result_console() -> Console:
    """Return a console for results: as wide as the terminal, 100 columns into a file or a pipe."""
    from rich.console import Console

    piped = not sys.stdout.isatty() and "COLUMNS" not in os.environ
    return Console(width=100 if piped else None, markup=False, highlight=False, emoji=False)


def write_output(path: Path, write: Callable[[Path], None], quiet: bool) -> bool:
    """Write one of the outputs and say so; results already printed are not lost where that fails."""
    try:
        write(path)
    except OSError as error:
        say(f"{PROGRAM}: cannot write {path}: {error.strerror or error}")
        return False
    if not quiet:
        say(f"{PROGRAM}: wrote {path}")
    return True


def write_text(file: Path, text: str) -> None:
    """Write a text as UTF-8."""
    file.write_text(text, "utf-8")
