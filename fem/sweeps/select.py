"""Which rows of a sweep to look at: conditions, order, and what no other row beats."""

from __future__ import annotations

import operator
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import isfinite

from fem.sweeps.axes import LONGEST_ITEM
from fem.sweeps.rows.cells import keys_of
from fem.sweeps.rows.store import Row, Status
from geometries.described.faults import shown, unknown, unusable
from geometries.described.quantities import NUMBER

_COMPARISON = re.compile(rf"([^<>=!]++)(<=|>=|==|!=|<|>)\s*+({NUMBER})\s*+(%?)")
_KEY = re.compile(r"[A-Za-z_][\w. -]*")
_OPERATORS: dict[str, Callable[[float, float], bool]] = {
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
    "==": operator.eq,
    "!=": operator.ne,
}


class SelectionError(ValueError):
    """A condition, key or front that cannot be read."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """Something a row must meet, how it was written, the result it compares and its limit (None if it has a name)."""

    text: str
    holds: Callable[[Row], bool]
    key: str | None = None
    limit: float | None = None


def _fits(row: Row) -> bool:
    return row.status is Status.DONE


def _breaker_holds(row: Row) -> bool:
    """Whether no device need open idle or with the load; the short is another question."""
    states = [
        value
        for key, value in row.results.items()
        if key.startswith("supply.devices.") and key.endswith((".idle.behaviour", ".with the load.behaviour"))
    ]
    return bool(states) and all(state == "holds" for state in states)


NAMED: dict[str, Callable[[Row], bool]] = {"fits": _fits, "breaker holds": _breaker_holds}
"""Conditions with a name of their own."""


def read_condition(text: str) -> Condition:
    """Read a condition: one of `NAMED`, or a result's JSON key compared with a number.

    Parameters
    ----------
    text
        Such as "breaker holds" or "saturation.margin > 5 %".

    Raises
    ------
    SelectionError
        If it is neither.
    """
    named = " ".join(text.split()).lower()
    if named in NAMED:
        return Condition(text=text, holds=NAMED[named])
    found = _COMPARISON.fullmatch(text.strip()) if not unusable(text, LONGEST_ITEM) else None
    if not found or not _KEY.fullmatch(found[1].strip()) or not isfinite(float(found[3])):
        names = ", ".join(f'"{name}"' for name in NAMED)
        example = '"saturation.margin > 5 %"'
        msg = f"{shown(text)} is no condition: write a result compared with a number, as in {example}, or {names}"
        raise SelectionError(msg)
    key, sign, number, percent = found[1].strip(), *found.groups()[1:]
    limit, compare = float(number) * (0.01 if percent else 1.0), _OPERATORS[sign]

    def holds(row: Row) -> bool:
        value = row.results.get(key)
        return isinstance(value, int | float) and compare(float(value), limit)

    return Condition(text=text, holds=holds, key=key, limit=limit)


def meets(row: Row, conditions: Sequence[Condition]) -> bool:
    """Return whether a row meets all conditions."""
    return all(condition.holds(row) for condition in conditions)


def kept(rows: Iterable[Row], conditions: Sequence[Condition]) -> list[Row]:
    """Return the rows that are done and meet all conditions."""
    return [row for row in rows if row.status is Status.DONE and meets(row, conditions)]


def check_keys(rows: Iterable[Row], keys: Iterable[str]) -> None:
    """Refuse keys that no row has.

    Raises
    ------
    SelectionError
        Naming the nearest keys there are.
    """
    known = keys_of(row.results for row in rows)
    for key in keys:
        if known and key not in known:
            raise SelectionError(unknown(key[:LONGEST_ITEM], known, "result"))


def ordered(rows: Iterable[Row], key: str, *, least_first: bool = False) -> list[Row]:
    """Return rows by a result, the greatest first unless told otherwise; rows without it come last."""

    def place(row: Row) -> tuple[bool, float]:
        value = row.results.get(key)
        known = isinstance(value, int | float)
        return not known, (float(value) if least_first else -float(value)) if isinstance(value, int | float) else 0.0

    return sorted(rows, key=place)


@dataclass(frozen=True, kw_only=True, slots=True)
class Goal:
    """A result that is to be as large or as small as can be."""

    key: str
    largest: bool


def read_front(text: str) -> tuple[Goal, ...]:
    """Read two or three goals: "load.power_W:max,short_circuit.primary_current_rms_A:min".

    Raises
    ------
    SelectionError
        If it cannot be read.
    """
    goals = []
    for part in text.split(","):
        key, _, sense = part.strip().rpartition(":")
        if not key or sense not in {"max", "min"}:
            msg = f"expected key:max or key:min, two or three with commas between; got {shown(part.strip())}"
            raise SelectionError(msg)
        goals.append(Goal(key=key, largest=sense == "max"))
    if not 2 <= len(goals) <= 3:
        msg = f"a front needs two or three goals, got {len(goals)}"
        raise SelectionError(msg)
    return tuple(goals)


def front(rows: Iterable[Row], goals: Sequence[Goal]) -> list[Row]:
    """Return the rows that no other beats.

    Notes
    -----
    With goals g_k turned so that less is better, row a beats row b where g_k(a) <= g_k(b) for every k and < for one
    (Pareto). Rows that lack a goal take no part.
    """
    scored = []
    for row in rows:
        values = [row.results.get(goal.key) for goal in goals]
        if all(isinstance(value, int | float) for value in values):
            score = tuple(
                float(value) * (-1 if goal.largest else 1)  # type: ignore[arg-type]
                for value, goal in zip(values, goals, strict=True)
            )
            scored.append((score, row))
    # By the first goal, so that only rows before can beat one.
    scored.sort(key=lambda entry: entry[0])
    best: list[tuple[tuple[float, ...], Row]] = []
    for score, row in scored:
        beaten = any(all(b <= s for b, s in zip(other, score, strict=True)) and other != score for other, _ in best)
        if not beaten:
            best.append((score, row))
    return [row for _, row in best]
