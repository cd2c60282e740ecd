"""A job file's text and tables: what cannot be a job is refused here, before anything looks at what it says."""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fem.plain_file import STANDARD_INPUT, read_plain
from geometries.described.faults import LONGEST_TEXT, Fault, short, unusable

MOST_BYTES = 100_000
"""Of a job file; the example has 5000, and what reads TOML takes a second for this much of the worst."""
MOST_VALUES = 500
"""Keys and list entries in a job; all that can be said takes some 150."""
DEEPEST = 10
"""Tables within tables; five are used."""
MOST_DOTS = 30
"""On a line, outside of texts: reading a dotted key takes time with the square of its parts."""
MOST_FAULTS = 50
"""Faults that are told; a file with more of them is another kind of file."""

_POSITION = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")
# An open quote takes the rest of the line: so no character is looked at twice.
_IN_QUOTES = re.compile(r"\"(?:[^\"\\]|\\.)*+\"?|'[^']*+'?|#.*")


class JobError(ValueError):
    """A job file that cannot be used.

    Parameters
    ----------
    file
        Its path as given.
    found
        Key and message of each fault; the key is "" where the fault belongs to the file.
    """

    def __init__(self, file: str, found: Sequence[Fault]) -> None:
        super().__init__(file, tuple(found))
        self.file = file
        self.faults = tuple(found)

    @property
    def lines(self) -> tuple[str, ...]:
        """One line for each fault: file, key, message."""
        told = [
            ": ".join(filter(None, (_one_line(self.file), _short_key(fault.key), _one_line(fault.message))))
            for fault in self.faults[:MOST_FAULTS]
        ]
        if (more := len(self.faults) - MOST_FAULTS) > 0:
            told.append(f"{_one_line(self.file)}: and {more} more faults")
        return tuple(told)

    def __str__(self) -> str:
        return "\n".join(self.lines)


def told_as(path: str | Path) -> str:
    """Return how messages call a job file."""
    return "standard input" if str(path) == STANDARD_INPUT else str(path)


def read_tables(path: str | Path) -> dict[str, Any]:
    """Read a job file's tables as they stand, the place of a `bh_table` made absolute; nothing else is checked.

    From "-", standard input, a table lies in the working directory.

    Raises
    ------
    JobError
        If the file cannot be read.
    """
    path = Path(path)
    data = _parse(path)
    core = data.get("core")
    if isinstance(core, dict) and isinstance(core.get("bh_table"), str):
        core["bh_table"] = os.path.realpath(path.parent / core["bh_table"])
    return data


def _parse(path: Path) -> dict[str, Any]:
    """Return the file's tables, or raise JobError with the line that is no TOML."""
    file = told_as(path)
    try:
        raw = read_plain(path, MOST_BYTES)
    except FileNotFoundError:
        raise JobError(file, [Fault("", "no such file")]) from None
    except IsADirectoryError:
        raise JobError(file, [Fault("", "is a folder; a job is a text file")]) from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise JobError(file, [Fault("", f"cannot be read: {reason}")]) from None
    try:
        # Some editors put a byte order mark first, which TOML does not know.
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        what = f"byte 0x{raw[error.start]:02X} is not UTF-8; save the file as UTF-8 text"
        raise JobError(file, [Fault(f"line {line}", what)]) from None
    for number, line_text in enumerate(text.split("\n"), start=1):
        if line_text.count(".") > MOST_DOTS and _IN_QUOTES.sub("", line_text).count(".") > MOST_DOTS:
            raise JobError(
                file,
                [Fault(f"line {number}", f"more than {MOST_DOTS} dots outside of texts; no key has that many parts")],
            )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise JobError(file, [_syntax_fault(str(error), text)]) from None
    except RecursionError:
        raise JobError(file, [Fault("", "brackets are nested too deeply")]) from None
    except ValueError:
        # Python refuses to read thousands of digits.
        raise JobError(file, [Fault("", "not TOML: a whole number has thousands of digits")]) from None
    if beyond := _beyond_reading(data):
        raise JobError(file, beyond)
    return data


def _syntax_fault(message: str, text: str) -> Fault:
    """Take the line number out of the parser's message; the end of the file is its last line."""
    position = _POSITION.search(message)
    last = text.count("\n") + (not text.endswith("\n"))
    line = int(position[1]) if position and position[1] else last
    plain = short(message[: position.start()] if position else message, 120)
    curly = set(text.split("\n")[line - 1 : line][0]) & set("\u201c\u201d\u201e\u2018\u2019")
    hint = '; write straight quotes: "52 mm"' if curly else ""
    return Fault(f"line {line}", f"not TOML: {plain[:1].lower()}{plain[1:]}{hint}")


def _beyond_reading(data: dict[str, Any]) -> list[Fault]:
    """Find what no job holds, so that all that looks at the tables may count on it.

    Tables nested deeper than `DEEPEST`, more than `MOST_VALUES` values, texts that are too long or hold control
    characters, whole numbers beyond the 64 bits that TOML allows and floats can take.
    """
    found: list[Fault] = []
    waiting: list[tuple[str, int, Any]] = [("", 0, data)]
    count = 0
    while waiting:
        key, depth, value = waiting.pop()
        count += 1
        if count > MOST_VALUES:
            return [Fault("", f"more than {MOST_VALUES} values; this is no job file")]
        if isinstance(value, dict | list) and depth > DEEPEST:
            return [Fault(key, f"nested deeper than {DEEPEST} tables")]
        if isinstance(value, dict):
            inside = [(f"{key}.{name}" if key else name, depth + 1, inner) for name, inner in value.items()]
            waiting += reversed(inside[:MOST_VALUES])
            count += max(len(inside) - MOST_VALUES, 0)
        elif isinstance(value, list):
            waiting += [(key, depth + 1, inner) for inner in reversed(value[:MOST_VALUES])]
            count += max(len(value) - MOST_VALUES, 0)
        elif isinstance(value, str) and (reason := unusable(value)):
            found.append(Fault(key, reason))
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            found.append(Fault(key, "a whole number beyond 64 bits"))
    return found


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _short_key(key: str) -> str:
    """Return a key on one line; names that are no key's are cut."""
    return ".".join(short(name, 40) for name in key[:LONGEST_TEXT].split("."))
