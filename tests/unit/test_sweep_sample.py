"""Random points within tolerances, and the search for where a result takes a value."""

import math
from collections.abc import Sequence
from functools import partial

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fem.sweeps.axes import AxisError, Point
from fem.sweeps.rows.store import Row, Status
from fem.sweeps.sample import Tolerance, read_tolerance, sampled
from fem.sweeps.search import SCAN, TOLERANCE, Along, Slopes, Target, find, read_along, read_target

JOB = {
    "core": {"stack_depth": "64 mm", "stacking_factor": 0.95, "outer_leg_width": ["24 mm", "25 mm"]},
    "windings": {"primary": {"turns": 230}},
    "temperature": "40 degC",
    "leads": {"area": "2/0 AWG"},
}


def one(text: str, count: int = 4000, seed: int = 7) -> list[object]:
    tolerance = read_tolerance(text)
    return [point[tolerance.key] for point in sampled(JOB, [{}], [tolerance], count=count, seed=seed)]


def numbers(values: list[object]) -> np.ndarray:
    return np.array([float(str(value).split()[0]) for value in values])


@pytest.mark.parametrize(
    ("text", "unit", "middle", "width"),
    [
        ("core.stack_depth=+-1mm", "mm", 64.0, 1.0),
        ("core.stack_depth=+-0.1cm", "mm", 64.0, 1.0),
        ("core.stack_depth=±2%", "mm", 64.0, 1.28),
        ("temperature=+-5K", "degC", 40.0, 5.0),
        ("core.stacking_factor=+-0.02", "", 0.95, 0.02),
        ("core.stacking_factor=+-2%", "", 0.95, 0.019),
    ],
)
def test_draws_are_even_within_the_tolerance(text: str, unit: str, middle: float, width: float) -> None:
    """A uniform distribution: mean within 4 sigma = 4 width/sqrt(3 n), variance width^2/3 within 4 of its own."""
    values = one(text)
    assert all(str(value).split()[1:] == ([unit] if unit else []) for value in values)
    x = numbers(values)
    assert np.all(np.abs(x - middle) <= width * (1 + 1e-4))  # five digits are written
    assert abs(x.mean() - middle) < 4 * width / math.sqrt(3 * x.size)
    assert np.var(x) == pytest.approx(width**2 / 3, rel=4 * math.sqrt(0.8 / x.size))


def test_a_seed_gives_the_same_draws_for_every_point() -> None:
    tolerances = [read_tolerance("core.stack_depth=+-1mm"), read_tolerance("windings.primary.turns=+-3")]
    every = sampled(JOB, [{"mains.voltage": "230 V"}, {"mains.voltage": "240 V"}], tolerances, count=50, seed=3)
    draws = [{k: v for k, v in point.items() if k != "mains.voltage"} for point in every]
    assert draws[:50] == draws[50:]
    assert draws[:50] != [
        {k: v for k, v in p.items() if k != "mains.voltage"} for p in sampled(JOB, [{}], tolerances, count=50, seed=4)
    ]
    turns = {point["windings.primary.turns"] for point in every}
    assert turns <= set(range(227, 234))
    assert all(isinstance(n, int) for n in turns)


def test_draws_go_round_what_a_point_varies() -> None:
    every = sampled(JOB, [{"core.stack_depth": "50 mm"}], [read_tolerance("core.stack_depth=+-1mm")], count=9, seed=0)
    assert all(49 <= float(str(point["core.stack_depth"]).split()[0]) <= 51 for point in every)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("core..stack_depth", "expected key="),
        ("core.stack_depth=1mm", "expected key="),
        ("core.stack_depth=+-0mm", "expected key="),
        ("core.stack_depth=+-1V", "in that unit too"),
        ("core.stack_depth=+-1", "in that unit too"),
        ("core.outer_leg_width=+-1mm", "no single value"),
        ("core.joint_gap=+-1mm", "no single value"),
        ("leads.area=+-1mm2", "no number with a unit|in that unit too"),
        ("core.stacking_factor=+-1mm", "no unit"),
    ],
)
def test_tolerances_that_make_no_sense(text: str, says: str) -> None:
    with pytest.raises(AxisError, match=says):
        one(text, count=1)
    with pytest.raises(AxisError, match="one tolerance"):
        sampled(JOB, [{}], [Tolerance(key="a", half_width=1, unit="")] * 2, count=1, seed=0)


def rows_of(law, calls: list[int]):
    """Return what computes rows from `law(point)`, a number, or None where the design cannot be built."""

    def evaluate(every: Sequence[Point]) -> list[Row]:
        calls.append(len(every))
        found = []
        for k, point in enumerate(every):
            value = law(point)
            status = Status.REFUSED if value is None else Status.DONE
            results = {} if value is None else {"y": value}
            found.append(Row(key=str(k), position=k, point=point, status=status, reason="too big", results=results))
        return found

    return evaluate


@settings(max_examples=60)
@given(st.floats(0.02, 0.98), st.sampled_from([0.3, 1.0, 3.0]), st.booleans())
def test_a_rising_or_falling_result_is_met(share: float, power: float, falls: bool) -> None:
    """y = x^p between 1 and 3: the root is known."""
    sign = -1.0 if falls else 1.0
    x = 1 + 2 * share
    calls: list[int] = []
    along = Along(key="x", low=1.0, high=3.0, unit="mm")
    target = Target(key="y", value=sign * x**power)
    law = rows_of(lambda point: sign * float(str(point["x"]).split()[0]) ** power, calls)
    (row,) = find(law, [{"n": 1}], target, along)
    assert row.status is Status.DONE
    assert row.point["n"] == 1
    # dy/y = p dx/x; seven digits of x are written
    assert float(str(row.point["x"]).split()[0]) == pytest.approx(x, rel=TOLERANCE / power + 1e-6)
    assert sum(calls) <= SCAN + 8  # false position of order 1.44 from a quarter of the range


def test_all_designs_advance_together_and_each_says_how_it_ended() -> None:
    def law(point: Point) -> float | None:
        x = float(point["x"])
        return {
            "one": x,
            "two": (x - 2.0) ** 2,
            "never": x / 100,
            "unbuildable": None,
            "jump": 0.0 if x < 1.5 else 9.0,
            "partly": None if x > 3.1 else x,
        }[str(point["kind"])]

    calls: list[int] = []
    kinds = ["one", "two", "never", "unbuildable", "jump", "partly"]
    along = Along(key="x", low=0.0, high=4.0, unit="")
    found = find(rows_of(law, calls), [{"kind": kind} for kind in kinds], Target(key="y", value=1.1), along)
    assert calls[0] == SCAN * len(kinds)
    assert max(calls[1:]) == 5  # two brackets of "two", and one of "one", "jump" and "partly"
    of = {kind: [row for row in found if row.point["kind"] == kind] for kind in kinds}
    assert [float(row.point["x"]) for row in of["one"]] == pytest.approx([1.1], rel=2e-4)
    assert [float(r.point["x"]) for r in of["two"]] == pytest.approx([2 - 1.1**0.5, 2 + 1.1**0.5], rel=2e-4)
    assert [float(row.point["x"]) for row in of["partly"]] == pytest.approx([1.1], rel=2e-4)
    assert [row.status for row in of["never"]] == [Status.REFUSED]
    assert "y is 0 to 0.04 for x from 0.0 to 4.0, not 1.1" in of["never"][0].reason
    assert of["unbuildable"][0].reason == "too big"
    assert "jumps over 1.1 at x = 1.5" in of["jump"][0].reason or "jumps over 1.1 at x = 1.4" in of["jump"][0].reason
    assert [row.position for row in found] == list(range(len(found)))


def searched(law, target: float, low: float, high: float, *, wrong: float = 0.0, told: bool = True):
    """Return the rows found and how many points were asked for; `law` returns value and derivative by x [1/mm]."""
    calls: list[int] = []

    def evaluate(every: Sequence[Point], *, with_slopes: bool = False) -> list[Row]:
        calls.append(len(every))
        rows = []
        for k, point in enumerate(every):
            value, slope = law(float(str(point["x"]).split()[0]))
            results = {"y": value} | ({"dy": (slope + wrong) * 1e3} if with_slopes else {})
            rows.append(Row(key=str(k), position=k, point=point, status=Status.DONE, reason="", results=results))
        return rows

    slopes = Slopes(evaluate=partial(evaluate, with_slopes=True), key="dy") if told else None
    along = Along(key="x", low=low, high=high, unit="mm")
    return find(evaluate, [{}], Target(key="y", value=target), along, slopes), sum(calls)


def roots(rows: list[Row]) -> list[float]:
    return [float(str(row.point["x"]).split()[0]) for row in rows if row.status is Status.DONE]


@settings(max_examples=60)
@given(st.floats(0.02, 0.98), st.sampled_from([-2.0, 0.3, 1.0, 3.0]), st.sampled_from([(1.0, 3.0), (1.0, 30.0)]))
def test_derivatives_spare_points(share: float, power: float, limits: tuple[float, float]) -> None:
    """y = x^p, over a wide range in equal ratios: the root is known; never more than one point beyond those without.

    Three points are looked at first; Hermite's cubic through two of them is off by h^4/384 of the fourth derivative.
    """
    low, high = limits
    x = low * (high / low) ** share
    law = lambda x: (x**power, power * x ** (power - 1))  # noqa: E731
    (with_slopes, count), (without, before) = (searched(law, x**power, low, high, told=told) for told in (True, False))
    assert roots(with_slopes) == pytest.approx([x], rel=TOLERANCE / abs(power) + 1e-6)
    assert roots(without) == pytest.approx([x], rel=TOLERANCE / abs(power) + 1e-6)
    assert count <= before + 1
    if high == 3.0 and power in (1.0, 3.0):
        assert count <= 4  # a cubic meets it at once


def test_both_crossings_are_found_and_one_that_no_middle_tells() -> None:
    """A dip within the first half, whose ends lie on one side: their derivatives do not say that it stays there."""
    dip = lambda x: ((x - 1) ** 2, 2 * (x - 1))  # noqa: E731
    rows, _ = searched(dip, 0.2, 0.0, 4.0)
    assert roots(rows) == pytest.approx([1 - 0.2**0.5, 1 + 0.2**0.5], rel=2e-4)
    rows, count = searched(dip, 20.0, 0.0, 4.0)
    assert (rows[0].status, count) == (Status.REFUSED, 3)
    assert "y is 0 to 9" not in rows[0].reason
    assert "y is 1 to 9" in rows[0].reason


@given(st.floats(0.02, 0.98), st.floats(-30, 30))
def test_derivatives_that_are_wrong_cost_points_and_no_result(share: float, wrong: float) -> None:
    """As where windings jump by a layer: the line takes over where the polynomial does not serve."""
    law = lambda x: (x**2, 2 * x)  # noqa: E731
    x = 1 + 2 * share
    rows, count = searched(law, x * x, 1.0, 3.0, wrong=wrong)
    assert x in [pytest.approx(root, rel=TOLERANCE) for root in roots(rows)]
    assert count <= SCAN + 8 + 2


def test_a_search_that_is_stopped_tells_of_no_design_it_has_not_seen_whole() -> None:
    law = rows_of(lambda point: float(point["x"].split()[0]), [])
    slopes = Slopes(evaluate=lambda every: law(every)[:4], key="dy")
    along = Along(key="x", low=1.0, high=3.0, unit="mm")
    found = find(law, [{"n": 1}, {"n": 2}], Target(key="y", value=1.4), along, slopes)
    assert [row.point["n"] for row in found] == [1]


def test_a_wide_range_is_divided_in_equal_ratios() -> None:
    along = read_along("load.resistance=1:100 mohm")
    assert [along.value(k / 2) for k in range(3)] == ["1 mohm", "10 mohm", "100 mohm"]
    assert read_along("leads.length=0.5:3m").value(0.5) == "1.75 m"
    assert read_target("short_circuit.secondary_current_rms_A = 1500").value == 1500


@pytest.mark.parametrize("text", ["a", "a=", "a=3:1", "a=1:1m", "a=1", "=1:2"])
def test_ranges_that_cannot_be_searched(text: str) -> None:
    with pytest.raises(AxisError):
        read_along(text)


@pytest.mark.parametrize("text", ["a", "a=", "a=b", "=1"])
def test_targets_that_cannot_be_read(text: str) -> None:
    with pytest.raises(AxisError):
        read_target(text)
