"""Random points within tolerances round what a job says, for the spread that measured sizes leave in the results."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np

from fem.sweeps.axes import AxisError, Point, Value, check_points, job_at, read_key
from geometries.described.faults import shown
from geometries.described.quantities import COMMON, normal_unit, split_quantity
from geometries.described.tolerances import ToleranceError, split_tolerance

WIDEST = 1e6
"""Half width of a tolerance in its own unit; what is wider is mistyped."""
_DIGITS = 5
"""Significant digits of a drawn value: a sample is not known better, and the job stays readable."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Tolerance:
    """How far a key of the job may lie off what is written there, either way.

    Parameters
    ----------
    key
        Dotted, as in a job file.
    half_width
        In `unit`; 0 where the job's own tolerance is meant.
    unit
        "%" of the value, a unit, or empty for plain numbers.
    """

    key: str
    half_width: float
    unit: str


def read_tolerance(text: str) -> Tolerance:
    """Read a tolerance: `core.stack_depth=+-1mm`, `core.stacking_factor=+-2%`; a key alone means the job's own.

    Raises
    ------
    AxisError
        If it cannot be read.
    """
    expected = "key=+-tolerance, such as core.stack_depth=+-1mm"
    if "=" not in text:
        return Tolerance(key=read_key(f"{text}=+-", expected)[0], half_width=0.0, unit="")
    key, given = read_key(text, expected)
    found = split_quantity(given.removeprefix("+-").removeprefix("±")) if given.startswith(("+-", "±")) else None
    if found is None or not 0 < float(found[0]) <= WIDEST:
        msg = f"expected {expected}; got {shown(text)}"
        raise AxisError(msg)
    return Tolerance(key=key, half_width=float(found[0]), unit=found[1])


def sampled(
    job: Mapping[str, Any], points: Sequence[Point], tolerances: Sequence[Tolerance], *, count: int, seed: int
) -> list[Point]:
    """Return every point `count` times, each time with values drawn evenly within the tolerances.

    All points share the draws, so that their results differ by the points alone.

    Parameters
    ----------
    job
        The job's tables; they say round what to draw.
    points
        At least one; it may be empty ({}).
    tolerances
        Of different keys.
    count, seed
        Number of draws, and of the random sequence.

    Raises
    ------
    AxisError
        If a key has no single value to draw round, units do not go together, or there are too many points.
    """
    keys = [tolerance.key for tolerance in tolerances]
    if not keys or len(set(keys)) < len(keys):
        msg = "give each sampled key one tolerance: --within KEY=+-TOLERANCE"
        raise AxisError(msg)
    check_points((len(points), count))
    draws = np.random.default_rng(seed).uniform(-1, 1, (count, len(tolerances)))
    found: list[Point] = []
    for point in points:
        at = job_at(job, point)
        parts = [_parted(tolerance, _at(at, tolerance.key)) for tolerance in tolerances]
        for draw in draws:
            values = (_drawn(t, n, float(u)) for (t, n), u in zip(parts, draw, strict=True))
            found.append({**point, **dict(zip(keys, values, strict=True))})
    return found


def _at(job: Mapping[str, Any], key: str) -> Value:
    value: Any = job
    for name in key.split("."):
        value = value.get(name) if isinstance(value, Mapping) else None
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        msg = f"{key}: the job has no single value there to draw round; write it down"
        raise AxisError(msg)
    return value


def _parted(tolerance: Tolerance, nominal: Value) -> tuple[Tolerance, Value]:
    """Return the tolerance to draw within, the job's own where that is meant, and what is written without it."""
    try:
        parts = split_tolerance(nominal) if isinstance(nominal, str) else None
    except ToleranceError as error:
        msg = f"{tolerance.key}: {error}"
        raise AxisError(msg) from None
    if tolerance.half_width:
        return tolerance, nominal if parts is None else parts[0]
    if parts is None:
        msg = f"{tolerance.key}: the job tells no tolerance there; write it down, or {tolerance.key}=+-tolerance"
        raise AxisError(msg)
    number, _, unit = parts[1].partition(" ")
    return Tolerance(key=tolerance.key, half_width=float(number), unit=unit), parts[0]


def _drawn(tolerance: Tolerance, nominal: Value, draw: float) -> Value:
    if not isinstance(nominal, str):
        if tolerance.unit not in {"", "%"}:
            msg = f"{tolerance.key} is a plain number, {nominal}; its tolerance has no unit but perhaps %"
            raise AxisError(msg)
        width = tolerance.half_width * (abs(nominal) / 100 if tolerance.unit == "%" else 1.0)
        value = nominal + draw * width
        return round(value) if isinstance(nominal, int) else float(f"{value:.{_DIGITS}g}")
    found = split_quantity(nominal)
    if found is None:
        msg = f"{tolerance.key}: {shown(nominal)} is no number with a unit to draw round"
        raise AxisError(msg)
    number, unit = float(found[0]), found[1]
    if tolerance.unit == "%" and unit != "%":
        width = abs(number) * tolerance.half_width / 100
    else:
        width = tolerance.half_width * _factor(tolerance, unit)
    return f"{number + draw * width:.{_DIGITS}g} {unit}".rstrip()


def _factor(tolerance: Tolerance, unit: str) -> float:
    """Return what turns the tolerance's unit into the nominal value's, as a difference."""
    own, wanted = normal_unit(tolerance.unit), normal_unit(unit)
    if own == wanted or (own == "K" and wanted in {"degC", "°C"}):
        return 1.0
    for units in COMMON.values():
        if own in units and wanted in units and not {own, wanted} & {"degC", "°C"}:
            return float(Decimal(units[own]) / Decimal(units[wanted]))
    msg = f'{tolerance.key} is given in "{unit}"; write its tolerance in that unit too'
    raise AxisError(msg)
