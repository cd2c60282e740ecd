"""Files that appear whole or not at all: written beside their place, then renamed onto it."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from errno import EACCES, EINVAL, EISDIR, ENOSYS, ENOTDIR, ENOTSUP
from pathlib import Path
from stat import S_IMODE, S_ISDIR, S_ISREG
from typing import BinaryIO

_SQLITE = b"SQLite format 3\0"


@contextmanager
def replacing(path: str | Path) -> Iterator[BinaryIO]:
    """Yield what to write into; it takes the place of `path` once it is whole, and leaves nothing where that fails.

    A link is followed. An old file's mode is kept. A device or pipe is written to as it is: nothing can be renamed
    onto it.

    Parameters
    ----------
    path
        The file.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    path = Path(path)
    if is_special(path):
        with path.open("wb") as stream:
            yield stream
        return
    place = Path(os.path.realpath(path))
    new = _beside(place)
    try:
        with new.open("xb") as stream:
            with suppress(OSError):  # there is none, or the file system knows no modes
                os.fchmod(stream.fileno(), S_IMODE(place.stat().st_mode))
            yield stream
            stream.flush()
            _settle(stream.fileno())
        new.replace(place)
    finally:
        with suppress(OSError):
            new.unlink(missing_ok=True)


def _settle(number: int) -> None:
    """Wait until a file is on the disk, where the file system can say so: a full one may tell only then."""
    try:
        os.fsync(number)
    except OSError as error:
        if error.errno not in {EINVAL, ENOTSUP, ENOSYS}:
            raise


def write_text(path: str | Path, text: str) -> None:
    """Write a text as UTF-8; bytes of a file's name that are no text are written as escapes.

    Raises
    ------
    OSError
        If it cannot be written.
    """
    with replacing(path) as stream:
        stream.write(text.encode("utf-8", "backslashreplace"))


def is_database(path: Path) -> bool:
    """Return whether this is a file of SQLite's, as the store of a sweep is."""
    if not path.is_file():
        return False
    try:
        with path.open("rb") as stream:
            return stream.read(len(_SQLITE)) == _SQLITE
    except OSError:
        return False


def is_special(path: Path) -> bool:
    """Return whether this is a device, pipe or socket: neither a file, nor a folder, nor nothing yet."""
    try:
        mode = path.stat().st_mode
    except OSError:
        return False
    return not (S_ISREG(mode) or S_ISDIR(mode))


def is_same(one: Path, other: Path) -> bool:
    """Return whether two paths lead to one file, through links too, or would."""
    try:
        return one.samefile(other)
    except OSError:
        return os.path.realpath(one) == os.path.realpath(other)


def is_above(one: Path, other: Path) -> bool:
    """Return whether the first path is a folder on the way to the second."""
    return Path(os.path.realpath(one)) in Path(os.path.realpath(other)).parents


def check_writable(path: Path) -> None:
    """Refuse a place that no file can be written to; an old file may be there.

    Raises
    ------
    OSError
        As writing would.
    """
    place = Path(os.path.realpath(path))
    try:
        mode = path.stat().st_mode
    except FileNotFoundError:
        _try_beside(place)
        return
    if S_ISDIR(mode):
        raise IsADirectoryError(EISDIR, os.strerror(EISDIR))
    if not os.access(path, os.W_OK):
        raise PermissionError(EACCES, os.strerror(EACCES))
    if S_ISREG(mode):
        _try_beside(place)


def check_folder(folder: Path) -> None:
    """Refuse a folder that no files can be written into, be it there or to be made.

    Raises
    ------
    OSError
        As writing would.
    """
    there = Path(os.path.realpath(folder))
    while True:
        try:
            mode = there.stat().st_mode
        except FileNotFoundError:
            there = there.parent
            continue
        break
    if not S_ISDIR(mode):
        raise NotADirectoryError(ENOTDIR, os.strerror(ENOTDIR))
    _try_beside(there.joinpath("any"))


def _try_beside(place: Path) -> None:
    """Make a file beside this one and remove it: who may write where has more rules than can be asked about."""
    new = _beside(place)
    new.open("xb").close()
    new.unlink()


def _beside(place: Path) -> Path:
    return place.with_name(f".{secrets.token_hex(8)}.part")
