"""What a sweep varies: `key=values` from the command line, and the points that several axes make together."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import isclose, isfinite, prod
from typing import Any

import numpy as np

from geometries.described.faults import shown, unusable
from geometries.described.quantities import NUMBER, split_quantity

MOST_VALUES = 100_000
"""Of one axis: what a command line can hold as a list."""
MOST_POINTS = 1_000_000
"""Of a sweep: the process that hands them out holds 1.2 kB for each."""
LONGEST_ITEM = 200
"""Characters of a key, a condition or a value."""
_RANGE = re.compile(rf"({NUMBER}):({NUMBER})(?::(log)?+({NUMBER}))?+\s*+([^:]*)")

Value = str | int | float
Point = dict[str, Value]


class AxisError(ValueError):
    """A `key=values` that cannot be read; the message says what is expected."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Axis:
    """One key of a job and the values it takes.

    Parameters
    ----------
    key
        Dotted, as in a job file.
    values
        Whole numbers, plain numbers, or texts with their unit.
    """

    key: str
    values: tuple[Value, ...]


def read_axis(text: str) -> Axis:
    """Read one axis.

    Parameters
    ----------
    text
        `key=1:6` (whole steps), `key=0.1:0.5:0.1mm` (steps of 0.1 mm, both ends included), `key=10:1000:log9 mohm`
        (nine values in equal ratios), or `key=35,50,70mm2` (a list; a unit behind the last counts for all without one).

    Raises
    ------
    AxisError
        If it cannot be read.
    """
    key, given = read_key(text, "key=values, such as windings.secondary.turns=1:6 or leads.area=35,50,70mm2")
    found = _RANGE.fullmatch(given)
    values = _range(key, *found.groups()) if found else _list(key, given)
    return Axis(key=key, values=values)


def read_key(text: str, expected: str) -> tuple[str, str]:
    """Return the key and what follows its equals sign, both stripped.

    Raises
    ------
    AxisError
        If either is missing, the key is no dotted key, or the text holds what cannot be read.
    """
    key, equals, given = (part.strip() for part in text.partition("="))
    if reason := unusable(key, LONGEST_ITEM) or unusable(given, LONGEST_ITEM * MOST_VALUES):
        msg = f"{shown(key)}: {reason}"
        raise AxisError(msg)
    if not (equals and given and all(key.split("."))):
        msg = f"expected {expected}; got {shown(text)}"
        raise AxisError(msg)
    return key, given


def _range(key: str, first: str, last: str, logarithmic: str | None, step: str | None, unit: str) -> tuple[Value, ...]:
    low, high, size = float(first), float(last), float(step or 1)
    given = shown(f"{first}:{last}" + ("" if step is None else f":{logarithmic or ''}{step}"))
    if not all(map(isfinite, (low, high, size, high - low))):
        msg = f"{key}: a range needs finite numbers; got {given}"
        raise AxisError(msg)
    if logarithmic:
        if not (low > 0 and high > 0 and size == int(size) and size >= 2):
            msg = f"{key}: a log range needs two values above 0 and a whole number of at least 2; got {given}"
            raise AxisError(msg)
        _check_count(key, size)
        return tuple(_value(float(f"{v:.10g}"), unit) for v in np.geomspace(low, high, int(size)))
    if not (size > 0 and high >= low):
        msg = f"{key}: a range rises in steps above 0; got {given}"
        raise AxisError(msg)
    number = (high - low) / size
    _check_count(key, number + 1)
    count = round(number) if isclose(number, round(number), abs_tol=1e-9) else int(number)
    return tuple(_value(float(f"{low + k * size:.10g}"), unit) for k in range(count + 1))


def _check_count(key: str, count: float) -> None:
    if not count < MOST_VALUES + 1:
        msg = f"{key}: {count:.7g} values; at most {MOST_VALUES} are swept"
        raise AxisError(msg)


def _value(number: float, unit: str) -> Value:
    if unit:
        return f"{number:g} {unit}" if f"{number:g}" == f"{number:.10g}" else f"{number:.10g} {unit}"
    return int(number) if number == int(number) else number


def _list(key: str, given: str) -> tuple[Value, ...]:
    parts = [part.strip() for part in given.split(",")]
    _check_count(key, len(parts))
    for part in parts:
        if reason := unusable(part, LONGEST_ITEM) or ("" if part else "a value is missing between commas"):
            msg = f"{key}: {reason}; got {shown(given)}"
            raise AxisError(msg)
    last = _with_unit(parts[-1])
    return tuple(_item(key, part, last[1] if last else "") for part in parts)


def _with_unit(part: str) -> tuple[str, str] | None:
    """Return number and unit, or None for what is more than that: "2/0 AWG", "8 mm x 2 mm"."""
    found = split_quantity(part)
    if found is None or " " in found[1] or not (found[1] == "" or found[1][0].isalpha() or found[1][0] in "%°"):
        return None
    return found


def _item(key: str, part: str, unit: str) -> Value:
    found = _with_unit(part)
    if not found:
        return {"true": True, "false": False}.get(part, part)
    number, own = found[0], found[1] or unit
    if not isfinite(float(number)):
        msg = f"{key}: {shown(part)} is not a finite number"
        raise AxisError(msg)
    return f"{number} {own}" if own else _value(float(number), "")


def points(axes: Sequence[Axis], *, zipped: bool = False) -> list[Point]:
    """Return the points of several axes: every combination, or one value of each at a time.

    Raises
    ------
    AxisError
        If zipped axes differ in length, two axes share a key, or there are too many points.
    """
    keys = [axis.key for axis in axes]
    if len(set(keys)) < len(keys):
        msg = f"a key is varied twice: {', '.join(sorted({k for k in keys if keys.count(k) > 1}))}"
        raise AxisError(msg)
    lengths = [len(axis.values) for axis in axes]
    if zipped and len(set(lengths)) > 1:
        msg = "zipped axes need equally many values: " + ", ".join(
            f"{k} has {n}" for k, n in zip(keys, lengths, strict=True)
        )
        raise AxisError(msg)
    if not zipped:
        check_points(lengths)
    if not axes:
        return [{}]
    combine: Iterator[tuple[Value, ...]] = (
        zip(*(axis.values for axis in axes), strict=True) if zipped else product(*(axis.values for axis in axes))
    )
    return [dict(zip(keys, values, strict=True)) for values in combine]


def check_points(counts: Sequence[int]) -> None:
    """Refuse more points than a sweep can hold.

    Parameters
    ----------
    counts
        Whose product is the number of points.

    Raises
    ------
    AxisError
        Saying how many at most.
    """
    if prod(counts) > MOST_POINTS:
        msg = f"{' x '.join(map(str, counts))} points; a sweep holds at most {MOST_POINTS}, each takes 1.2 kB of memory"
        raise AxisError(msg)


def job_at(job: Mapping[str, Any], point: Point) -> dict[str, Any]:
    """Return a job's tables with the keys of a point set; tables that stay as they are, are shared, not copied."""
    found = dict(job)
    for key, value in point.items():
        table = found
        *parents, last = key.split(".")
        for name in parents:
            inner = table.get(name)
            table[name] = dict(inner) if isinstance(inner, dict) else {}
            table = table[name]
        table[last] = value
    return found
