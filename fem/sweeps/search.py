"""The question the other way round: which turns, cable or gap give the current one wants."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, isfinite, log

from fem.digits import brief
from fem.sweeps.axes import LONGEST_ITEM, AxisError, Point, Value, read_key
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.select import check_keys
from geometries.described.faults import shown
from geometries.described.quantities import NUMBER, split_quantity

TOLERANCE = 1e-4
"""Of the result, relative to the value wanted: far below any band."""
SCAN = 5
"""Points at which each design is looked at first, for a change of sign between them."""
MOST_ROUNDS = 20
_RATIO = 10.0
"""A range over which a key grows more than this is divided in equal ratios."""
_LIMITS = re.compile(rf"({NUMBER})\s*+:\s*+({NUMBER})\s*+(.*)", re.DOTALL)

Evaluate = Callable[[Sequence[Point]], list[Row]]
"""Rows of points; where a computation is stopped, of fewer of them."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Target:
    """A result by its dotted JSON key and the value it shall take [SI, as in the JSON]."""

    key: str
    value: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Along:
    """The key of a job that is searched, its limits, and their unit (empty for plain numbers)."""

    key: str
    low: float
    high: float
    unit: str

    def value(self, share: float) -> Value:
        """Return the value at a share of the way from the lower to the upper limit."""
        if self.low > 0 and self.high / self.low > _RATIO:
            number = exp(log(self.low) + share * log(self.high / self.low))
        else:
            number = self.low + share * (self.high - self.low)
        return f"{number:.7g} {self.unit}" if self.unit else float(f"{number:.7g}")


def read_target(text: str) -> Target:
    """Read what is wanted: `short_circuit.secondary_current_rms_A=1500`.

    Raises
    ------
    AxisError
        If it cannot be read.
    """
    expected = "result=value, such as short_circuit.secondary_current_rms_A=1500"
    key, given = read_key(text, expected)
    found = split_quantity(given)
    if found is None or found[1] or not isfinite(float(found[0])):
        msg = f"expected {expected}; got {shown(text)}"
        raise AxisError(msg)
    return Target(key=key, value=float(found[0]))


def read_along(text: str) -> Along:
    """Read what is searched and within which limits: `leads.length=0.5:3m`.

    Raises
    ------
    AxisError
        If it cannot be read, or the limits do not rise.
    """
    expected = "key=least:greatest with a unit, such as leads.length=0.5:3m"
    key, given = read_key(text, expected)
    found = _LIMITS.fullmatch(given) if len(given) <= LONGEST_ITEM else None
    if found is None or not -inf < float(found[1]) < float(found[2]) < inf:
        msg = f"expected {expected}; got {shown(text)}"
        raise AxisError(msg)
    return Along(key=key, low=float(found[1]), high=float(found[2]), unit=found[3])


@dataclass(slots=True)
class _Bracket:
    """Two shares of the way between which the result crosses the target, and how far off it is at each."""

    point: Point
    low: float
    high: float
    at_low: float
    at_high: float
    moved: int = 0
    row: Row | None = None

    def next_share(self) -> float:
        """Return where a straight line crosses, s = s0 + (s1 - s0) f0/(f0 - f1), kept off the ends."""
        share = self.low + (self.high - self.low) * self.at_low / (self.at_low - self.at_high)
        margin = 0.01 * (self.high - self.low)
        return min(max(share, self.low + margin), self.high - margin)

    def take(self, share: float, off: float) -> None:
        """Shrink to where the sign changes; an end that stays twice counts half, so that it moves next.

        Notes
        -----
        The Illinois variant of regula falsi, of order 3^(1/3) = 1.44 at a simple root: M. Dowell, P. Jarratt, "A
        modified regula falsi method", BIT 11 (1971) 168.
        """
        if (off > 0) == (self.at_low > 0):
            self.low, self.at_low = share, off
            self.at_high /= 2 if self.moved < 0 else 1
            self.moved = -1
        else:
            self.high, self.at_high = share, off
            self.at_low /= 2 if self.moved > 0 else 1
            self.moved = 1


def find(evaluate: Evaluate, points: Sequence[Point], target: Target, along: Along) -> list[Row]:
    """Find where along a key a result takes a value, for each of several designs.

    All designs advance together, so that many workers have something to do.

    Parameters
    ----------
    evaluate
        Computes rows; it is asked for some five and then a few more points of each design.
    points
        The designs: what is varied besides.
    target
        What is wanted.
    along
        What is searched.

    Returns
    -------
    list of Row
        For each design every solution that a scan of `SCAN` points can tell apart, its value of the key in the point;
        or one row that says why there is none.

    Raises
    ------
    SelectionError
        If no row has a result of that name.
    """
    shares = [k / (SCAN - 1) for k in range(SCAN)]
    scan = [{**point, along.key: along.value(share)} for point in points for share in shares]
    at = {row.position: row for row in evaluate(scan)}
    _check_target(at.values(), target)
    brackets: list[_Bracket] = []
    without: list[Row] = []
    for number, point in enumerate(points):
        rows = [at.get(number * SCAN + k) for k in range(SCAN)]
        if any(row is None for row in rows):
            continue  # stopped
        off = [_off(row, target) for row in rows]
        found = [
            _Bracket(dict(point), low, high, below, above)
            for low, high, below, above in zip(shares, shares[1:], off, off[1:], strict=False)
            if below is not None and above is not None and (below > 0) != (above > 0)
        ]
        brackets += found
        if not found:
            without.append(_none(point, [row for row in rows if row is not None], target, along))
    _close(evaluate, brackets, target, along)
    rows_found = [bracket.row for bracket in brackets if bracket.row is not None]
    return [replace(row, position=k) for k, row in enumerate([*rows_found, *without])]


def missed(rows: Iterable[Row]) -> Iterator[str]:
    """Say of each design without a solution which it is and why there is none, one line each."""
    for row in rows:
        if row.status is not Status.DONE:
            where = ", ".join(f"{key} = {value}" for key, value in row.point.items())
            yield "nothing found" + (f" at {where}" if where else "") + f": {row.reason}"


def _check_target(rows: Iterable[Row], target: Target) -> None:
    """Refuse a result of no such name; one whose part is left out, or has nothing to tell, has its reason by row."""
    results = [row.results for row in rows if row.status is Status.DONE]
    names = target.key.split(".")
    whole = {".".join(names[: k + 1]) for k in range(len(names))}
    if not any(whole & known.keys() for known in results):
        check_keys(rows, [target.key])


def _close(evaluate: Evaluate, brackets: list[_Bracket], target: Target, along: Along) -> None:
    """Shrink all brackets until the result is met; each then has its row."""
    unfinished = list(brackets)
    for _ in range(MOST_ROUNDS):
        if not unfinished:
            return
        shares = [bracket.next_share() for bracket in unfinished]
        rows = evaluate(
            [{**b.point, along.key: along.value(share)} for b, share in zip(unfinished, shares, strict=True)]
        )
        still = []
        for row in rows:
            bracket, share = unfinished[row.position], shares[row.position]
            off = _off(row, target)
            if off is None:  # this design cannot be built here
                bracket.row = row
                continue
            if abs(off) <= TOLERANCE * (abs(target.value) or 1.0):
                bracket.row = row
                continue
            bracket.take(share, off)
            still.append(bracket)
        unfinished = still
    for bracket in unfinished:
        bracket.row = _jump(bracket, target, along)


def _off(row: Row | None, target: Target) -> float | None:
    value = None if row is None else row.results.get(target.key)
    return float(value) - target.value if isinstance(value, int | float) else None


def _none(point: Point, rows: Sequence[Row], target: Target, along: Along) -> Row:
    """Say why a design has no solution: what the result ranges over, or why nothing could be computed."""
    known = [(row.results[target.key], row) for row in rows if _off(row, target) is not None]
    if not known:
        first = rows[0]
        reason = first.reason or f"{target.key} is not among the results"
        return replace(first, point=point, status=Status.REFUSED, reason=reason, results={})
    least, most = min(value for value, _ in known), max(value for value, _ in known)
    span = f"{along.key} from {along.value(0.0)} to {along.value(1.0)}"
    reason = f"{target.key} is {brief(least, 4)} to {brief(most, 4)} for {span}, not {target.value:g}"
    return replace(known[0][1], point=point, status=Status.REFUSED, reason=reason, results={})


def _jump(bracket: _Bracket, target: Target, along: Along) -> Row:
    reason = f"{target.key} jumps over {target.value:g} at {along.key} = {along.value(bracket.low)}"
    return Row(key="", position=0, point=bracket.point, status=Status.REFUSED, reason=reason, results={})
