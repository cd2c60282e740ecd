"""Reading what a user names as a file: never more of it than makes sense, never what would block or not end."""

import errno
import stat
from pathlib import Path


def read_plain(path: str | Path, most: int) -> bytes:
    """Return the content of a plain file.

    Parameters
    ----------
    path
        The file.
    most
        What it may hold [bytes].

    Raises
    ------
    OSError
        If it cannot be read, is a folder, a pipe, a socket or a device, or holds more.
    ValueError
        If the path holds a NUL.
    """
    # Looked at before it is opened: opening a pipe waits for whoever writes into it.
    kind = Path(path).stat().st_mode
    if stat.S_ISDIR(kind):
        raise IsADirectoryError(errno.EISDIR, "Is a directory", str(path))
    if not stat.S_ISREG(kind):
        raise OSError(errno.EINVAL, "not a plain file but a pipe, a socket or a device", str(path))
    with Path(path).open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise OSError(errno.EFBIG, f"it holds more than {most // 1000} kB", str(path))
    return content
