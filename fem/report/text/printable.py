"""Texts that come from files, made fit for a terminal, a drawing or a spreadsheet."""

from __future__ import annotations

import re

HIDDEN = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""What a terminal obeys instead of showing it, what turns the order of letters round, and halves of characters."""
_FORMULA = re.compile(r"\s*[=+@-]")
_QUANTITY = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\s*[\w%°/*^]*")


def printable(text: str, *, lines: bool = False) -> str:
    """Return a text with all that would not be shown written as escapes.

    Parameters
    ----------
    text
        From a job file, a table, a name of a file.
    lines
        Whether line ends stay; else they become spaces.
    """
    if not lines:
        text = " ".join(re.split(r"[\t\r\n]+", text)).strip()
    return HIDDEN.sub(lambda found: found[0] if found[0] == "\n" else _escaped(found[0]), text)


def cell(text: str) -> str:
    """Return a text that a spreadsheet takes for text: an apostrophe stands before what it would compute.

    Numbers with their unit stay as they are: "-5 degC".
    """
    text = printable(text)
    return f"'{text}" if _FORMULA.match(text) and not _QUANTITY.fullmatch(text) else text


def _escaped(character: str) -> str:
    return character.encode("unicode_escape", "surrogatepass").decode("ascii")
