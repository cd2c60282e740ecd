"""The question the other way round: which turns, cable or gap give the current one wants."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, inf, isfinite, log

from fem.digits import brief
from fem.sweeps.axes import LONGEST_ITEM, AxisError, Point, Value, read_key
from fem.sweeps.bracket import Bracket, Known
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.select import check_keys
from geometries.described.faults import shown
from geometries.described.quantities import LENGTH, NUMBER, QuantityError, parse_quantity, split_quantity

TOLERANCE = 1e-4
"""Of the result, relative to the value wanted: far below any band."""
SCAN = 5
"""Points at which each design is looked at first, for a change of sign between them. With derivatives the second and
the fourth are spared where both their neighbours' say of them what the result does."""
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
        number = self._number(share)
        return f"{number:.7g} {self.unit}" if self.unit else float(f"{number:.7g}")

    def _number(self, share: float) -> float:
        if self._in_ratios:
            return exp(log(self.low) + share * log(self.high / self.low))
        return self.low + share * (self.high - self.low)

    @property
    def _in_ratios(self) -> bool:
        return self.low > 0 and self.high / self.low > _RATIO

    def rate(self, share: float) -> float:
        """Return how fast a length goes along with the share [m]."""
        rate = self._number(share) * log(self.high / self.low) if self._in_ratios else self.high - self.low
        return rate * parse_quantity(f"1 {self.unit}", LENGTH)

    @property
    def is_length(self) -> bool:
        """Whether it is a length by its unit."""
        with suppress(QuantityError):
            return parse_quantity(f"1 {self.unit}", LENGTH, unit_needed=True) > 0
        return False


@dataclass(frozen=True, kw_only=True, slots=True)
class Slopes:
    """How derivatives are come by: who computes rows with them, and under which key of the results they are [SI/m]."""

    evaluate: Evaluate
    key: str


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


def find(
    evaluate: Evaluate, points: Sequence[Point], target: Target, along: Along, slopes: Slopes | None = None
) -> list[Row]:
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
    slopes
        Derivatives by it, where there are any: then it is asked for some four or five points.

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
    scans = _scanned(evaluate, points, target, along, slopes)
    _check_target([row for rows in scans for row in rows.values()], target)
    brackets: list[Bracket] = []
    without: list[Row] = []
    for point, rows in zip(points, scans, strict=True):
        if not rows:
            continue  # stopped
        known = [(share, rows[share], _known(share, rows[share], target, along, slopes)) for share in sorted(rows)]
        found = [
            Bracket(dict(point), [below, above])
            for (_, _, below), (_, _, above) in pairwise(known)
            if below is not None and above is not None and (below.off > 0) != (above.off > 0)
        ]
        brackets += found
        if not found:
            without.append(_none(point, [row for _, row, _ in known], target, along))
    _close(evaluate, brackets, target, along)
    rows_found = [bracket.row for bracket in brackets if bracket.row is not None]
    return [replace(row, position=k) for k, row in enumerate([*rows_found, *without])]


def _scanned(
    evaluate: Evaluate, points: Sequence[Point], target: Target, along: Along, slopes: Slopes | None
) -> list[dict[float, Row]]:
    """Return rows by share for each design; none where the computation was stopped."""
    shares = [k / (SCAN - 1) for k in range(SCAN)]

    def added(asked: Sequence[tuple[int, float]], evaluate: Evaluate) -> None:
        if not asked:
            return
        found = evaluate([{**points[number], along.key: along.value(share)} for number, share in asked])
        for row in found:
            number, share = asked[row.position]
            scans[number][share] = row
        for number, _ in {asked[k] for k in set(range(len(asked))).difference(row.position for row in found)}:
            stopped.add(number)

    scans: list[dict[float, Row]] = [{} for _ in points]
    stopped: set[int] = set()
    if slopes is None:
        added([(number, share) for number in range(len(points)) for share in shares], evaluate)
    else:
        added([(number, share) for number in range(len(points)) for share in shares[::2]], slopes.evaluate)
        asked = []
        for number, rows in enumerate(scans):
            known = [_known(share, row, target, along, slopes) for share, row in sorted(rows.items())]
            between = zip(shares[1::2], pairwise(known), strict=False)  # of a design that is whole as many
            asked += [(number, share) for share, ends in between if not _sure(*ends)]
        added([(number, share) for number, share in asked if number not in stopped], evaluate)
    return [{} if number in stopped else rows for number, rows in enumerate(scans)]


def _known(share: float, row: Row, target: Target, along: Along, slopes: Slopes | None) -> Known | None:
    off = _off(row, target)
    slope = None if slopes is None else row.results.get(slopes.key)
    return None if off is None else Known(share, off, None if slope is None else slope * along.rate(share))


def _sure(low: Known | None, high: Known | None) -> bool:
    """Return whether there is one crossing between two points, or none: then the point in the middle tells no other.

    None, where by either's derivative the result in the middle is on the side of both, at least twice as far from
    the target as the two are from each other.
    """
    if low is None or high is None:
        return False
    if (low.off > 0) != (high.off > 0):
        return True
    if low.slope is None or high.slope is None:
        return False
    half = (high.share - low.share) / 2
    ahead, back = low.off + low.slope * half, high.off - high.slope * half
    one_side = (ahead > 0) == (low.off > 0) == (back > 0)
    return one_side and abs(ahead - back) < 0.5 * min(abs(ahead), abs(back))


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


def _close(evaluate: Evaluate, brackets: list[Bracket], target: Target, along: Along) -> None:
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


def _jump(bracket: Bracket, target: Target, along: Along) -> Row:
    reason = f"{target.key} jumps over {target.value:g} at {along.key} = {along.value(bracket.low)}"
    return Row(key="", position=0, point=bracket.point, status=Status.REFUSED, reason=reason, results={})
