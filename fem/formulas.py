"""Formulas of results, in a text beside their declarations, as those who read the code and those who ask read them."""

from __future__ import annotations

import re
from dataclasses import dataclass

KEY = re.compile("`([^`]+)`")
"""A key within the text of a formula."""
JOB = "job."
"""Before a key of the job."""
_ENTRY = re.compile(r"    (\w+)(:| =) (.*)")
_SOURCE = re.compile(r" \[([^\]]+)\]$")


@dataclass(frozen=True, kw_only=True, slots=True)
class Formula:
    """How a result comes about.

    Parameters
    ----------
    how
        Words, or arithmetic that gives the result as it is [SI] and, after a semicolon, words; keys of what goes in
        stand in backticks: a result's in full, or after as many dots as it is levels up (".turns" stands beside it);
        a job's after "job.", where "*" stands for the section's own name.
    closed
        Whether it begins with arithmetic, up to a semicolon.
    source
        Where it stands; may be empty.
    by
        Dotted name of what computes it, where that is not the section's own function.
    """

    how: str = ""
    closed: bool = False
    source: str = ""
    by: str = ""


def formula_of(kind: type, name: str) -> Formula:
    """Return the formula of a class's field, from its `FORMULAS`; one without words where there is none.

    Notes
    -----
    A line for each: "    field: words [source]" or "    field = arithmetic", deeper ones go on with it; "    <dotted
    name>" says what computes all that follow.
    """
    by, found, lines = "", None, list[str]()
    for line in vars(kind).get("FORMULAS", "").splitlines():
        entry = _ENTRY.fullmatch(line)
        if found is not None:
            if entry or line.startswith("    <"):
                break
            lines.append(line.strip())
        elif entry and entry[1] == name:
            found, lines = entry, [entry[3]]
        elif line.startswith("    <"):
            by = line.strip(" <>")
    if found is None:
        return Formula()
    how = " ".join(filter(None, lines))
    source = _SOURCE.search(how)
    return Formula(how=_SOURCE.sub("", how), closed=found[2] == " =", source="" if source is None else source[1], by=by)
