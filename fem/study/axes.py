"""What a sweep varies: `key=values` from the command line, and the points that several axes make together."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import isclose, log
from typing import Any

import numpy as np

MOST_VALUES = 100_000
MOST_POINTS = 10_000_000
_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_RANGE = re.compile(rf"^({_NUMBER}):({_NUMBER})(?::(log)?({_NUMBER}))?\s*(\S*)$")
_WITH_UNIT = re.compile(rf"^({_NUMBER})\s*(\S*)$")

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
    key, equals, given = text.partition("=")
    key, given = key.strip(), given.strip()
    if not (equals and key and given):
        msg = f'expected key=values, such as windings.secondary.turns=1:6 or leads.area=35,50,70mm2; got "{text}"'
        raise AxisError(msg)
    found = _RANGE.match(given)
    values = _range(key, *found.groups()) if found else _list(given)
    if len(values) > MOST_VALUES:
        msg = f"{key}: {len(values)} values; at most {MOST_VALUES} are swept"
        raise AxisError(msg)
    return Axis(key=key, values=values)


def _range(key: str, first: str, last: str, logarithmic: str | None, step: str | None, unit: str) -> tuple[Value, ...]:
    low, high = float(first), float(last)
    if logarithmic:
        count = float(step or 0)
        if not (low > 0 and high > 0 and count == int(count) and count >= 2):
            given = f"{first}:{last}:log{step}"
            msg = f"{key}: a log range needs two values above 0 and a whole number of at least 2; got {given}"
            raise AxisError(msg)
        return tuple(_value(float(f"{v:.10g}"), unit) for v in np.geomspace(low, high, int(count)))
    size = float(step) if step else 1.0
    if not (size > 0 and high >= low):
        msg = f"{key}: a range rises in steps above 0; got {first}:{last}" + (f":{step}" if step else "")
        raise AxisError(msg)
    number = (high - low) / size
    count = round(number) if isclose(number, round(number), abs_tol=1e-9) else int(number)
    return tuple(_value(float(f"{low + k * size:.10g}"), unit) for k in range(min(count, MOST_VALUES) + 1))


def _value(number: float, unit: str) -> Value:
    if unit:
        return f"{number:g} {unit}" if f"{number:g}" == f"{number:.10g}" else f"{number:.10g} {unit}"
    return int(number) if number == int(number) else number


def _list(given: str) -> tuple[Value, ...]:
    parts = [part.strip() for part in given.split(",")]
    last = _WITH_UNIT.match(parts[-1])
    unit = last[2] if last else ""
    return tuple(_item(part, unit) for part in parts)


def _item(part: str, unit: str) -> Value:
    found = _WITH_UNIT.match(part)
    if not found:
        return {"true": True, "false": False}.get(part, part)
    own = found[2] or unit
    return f"{found[1]} {own}" if own else _value(float(found[1]), "")


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
    if not zipped and sum(log(n) for n in lengths) > log(MOST_POINTS):
        msg = f"{' x '.join(map(str, lengths))} points are more than {MOST_POINTS}"
        raise AxisError(msg)
    combine: Iterator[tuple[Value, ...]] = (
        zip(*(axis.values for axis in axes), strict=True) if zipped else product(*(axis.values for axis in axes))
    )
    return [dict(zip(keys, values, strict=True)) for values in combine]


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
