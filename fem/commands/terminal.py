"""What all commands share: exit codes, faults, and the only places where anything is printed."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from io import StringIO
from threading import current_thread, main_thread
from typing import TYPE_CHECKING, Any, TextIO

from fem.report.text.printable import printable

if TYPE_CHECKING:
    from rich.console import Console, RenderableType

PROGRAM = "rewound"
CHECK_FAILED = POINTS_FAILED = GAPS = 1
BAD_INPUT, NOT_CONVERGED, NO_MESHER, STOPPED, UNREAD = 2, 3, 69, 130, 141
WIDTH = 100
"""Columns where there is no terminal to ask."""
NARROWEST = 20
"""Columns below which tables become a letter wide; a narrower terminal breaks lines by itself."""


class Refused(Exception):
    """What ends a command with one line for each fault."""


def say(line: str) -> None:
    """Print a message on standard error, if there is one."""
    if sys.stderr is None:
        return
    try:
        print(printable(line, lines=True), file=sys.stderr, flush=True)
    except OSError:
        _silence(sys.stderr)


def ask(prompt: str) -> str:
    """Return the next line of standard input, asked for on standard error; EOFError at its end."""
    if sys.stderr is not None:
        with suppress(OSError):
            print(printable(prompt, lines=True), end="", file=sys.stderr, flush=True)
    if sys.stdin is None:
        raise EOFError
    with suppress(AttributeError, ValueError, OSError):  # what is no text is an answer that is not understood
        sys.stdin.reconfigure(errors="replace")  # type: ignore[union-attr]
    line = sys.stdin.readline()
    if not line:
        raise EOFError
    return line


def show(what: RenderableType, *, width: int | None = None) -> int:
    """Print a result for reading on standard output, in the characters it knows; return an exit code as `put`.

    Parameters
    ----------
    what
        The result.
    width
        Columns it is laid out for, at most.
    """
    from rich.segment import Segment, Segments

    text = StringIO()
    screen = console(sys.stdout, into=text)
    options = screen.options if width is None else screen.options.update(width=min(screen.width, width))
    legible = (
        segment if segment.control else Segment(printable(segment.text, lines=True), segment.style)
        for segment in screen.render(what, options)
    )
    screen.print(Segments(legible))
    encoding = sys.stdout.encoding or "utf-8"
    return _put(sys.stdout, text.getvalue().encode(encoding, "backslashreplace").decode(encoding))


def put(data: str) -> int:
    """Write data for other programs to standard output, in UTF-8 whatever the terminal knows.

    Returns 0, or `BAD_INPUT` where that cannot be written to, which is said, or `UNREAD` where nobody reads any more.
    """
    buffer = getattr(sys.stdout, "buffer", None)
    return _put(sys.stdout, data) if buffer is None else _put(buffer, data.encode("utf-8", "backslashreplace"))


def console(stream: TextIO, *, into: TextIO | None = None) -> Console:
    """Return a console: as wide as the terminal, 100 columns into a file or a pipe; its text may go into another."""
    from rich.console import Console

    given = os.environ.get("COLUMNS", "")
    width = int(given) if given.isdecimal() and int(given) > 0 else None if stream.isatty() else WIDTH
    terminal = True if stream.isatty() else None
    found = Console(
        file=into or stream, force_terminal=terminal, width=width, markup=False, highlight=False, emoji=False
    )
    found.width = max(found.width, NARROWEST)
    return found


@contextmanager
def finishing() -> Iterator[None]:
    """Let what is computed be printed and written before Ctrl-C counts; a second one counts at once."""
    pressed: list[int] = []

    def note(number: int, frame: object) -> None:
        if pressed:
            raise KeyboardInterrupt
        pressed.append(number)

    # Elsewhere, or where Ctrl-C is answered by another or ignored, it is not ours to hold.
    if signal.getsignal(signal.SIGINT) is not signal.default_int_handler or current_thread() is not main_thread():
        yield
        return
    signal.signal(signal.SIGINT, note)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
    if pressed:
        raise KeyboardInterrupt


def fill_closed() -> None:
    """Open what a caller closed of the standard streams, else the next file opened is printed into."""
    while True:
        number = os.open(os.devnull, os.O_RDWR)
        if number > 2:
            break
        os.set_inheritable(number, True)
    os.close(number)


def flush() -> None:
    """Empty what others left to be printed, so that nothing fails when the interpreter ends."""
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            try:
                stream.flush()
            except (OSError, ValueError):
                _silence(stream)


def _put(stream: Any, data: str | bytes) -> int:
    try:
        sys.stdout.flush()
        stream.write(data)
        stream.flush()
    except BrokenPipeError:
        _silence(sys.stdout)
        return UNREAD
    except OSError as error:
        _silence(sys.stdout)
        say(f"{PROGRAM}: cannot write to standard output: {error.strerror or error}")
        return BAD_INPUT
    return 0


def _silence(stream: TextIO) -> None:
    """Let the rest of a stream that cannot be written to go nowhere: the interpreter tries again when it ends."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
