"""Reading what a user names as a file: never more of it than makes sense, never what would block or not end."""

import errno
import stat
import sys
from functools import lru_cache
from io import TextIOBase
from pathlib import Path

STANDARD_INPUT = "-"
"""The name of what is read from standard input."""


def read_plain(path: str | Path, most: int) -> bytes:
    """Return the content of a plain file.

    Parameters
    ----------
    path
        The file; "-" is standard input.
    most
        What it may hold [bytes].

    Raises
    ------
    OSError
        If it cannot be read, is a folder, a pipe, a socket or a device, or holds more.
    ValueError
        If the path holds a NUL.
    """
    if str(path) == STANDARD_INPUT:
        return _within(_taken(sys.stdin, most), most, "standard input")
    # Looked at before it is opened: opening a pipe waits for whoever writes into it.
    kind = Path(path).stat().st_mode
    if stat.S_ISDIR(kind):
        raise IsADirectoryError(errno.EISDIR, "Is a directory", str(path))
    if not stat.S_ISREG(kind):
        raise OSError(errno.EINVAL, "not a plain file but a pipe, a socket or a device", str(path))
    with Path(path).open("rb") as file:
        content = file.read(most + 1)
    return _within(content, most, str(path))


def _within(content: bytes, most: int, name: str) -> bytes:
    if len(content) > most:
        raise OSError(errno.EFBIG, f"it holds more than {most // 1000} kB", name)
    return content


@lru_cache(maxsize=1)
def _taken(stream: TextIOBase | None, most: int) -> bytes:
    """Return what comes from a stream, one byte too many at most; asked for again, the same once more."""
    if stream is None:
        return b""
    buffer = getattr(stream, "buffer", None)
    return stream.read(most + 1).encode() if buffer is None else bytes(buffer.read(most + 1))
