"""What is typed to vary, sample, search and choose: whatever it is, it is read or refused in no time at all."""

import re
import time

import pytest

from fem.sweeps.axes import MOST_POINTS, Axis, AxisError, points, read_axis
from fem.sweeps.sample import read_tolerance, sampled
from fem.sweeps.search import read_along, read_target
from fem.sweeps.select import SelectionError, read_condition, read_front
from geometries.described.quantities import LENGTH, NUMBER, QuantityError, parse_quantity
from geometries.described.units import to_si

LONG = 100_000
TEXTS = [
    "1" * LONG,
    "1" * LONG + "\n!",
    "1" + " " * LONG + "\n!",
    " " * LONG + "!",
    "a" + " " * LONG + "!",
    "a=" + "1" * LONG + "\n!",
    "a=1" + " " * LONG + "\n!",
    "a=1:2" + " " * LONG + "\n!",
    "a=+-1" + " " * LONG + "\n!",
    "a=" + "1:" * LONG,
    "a=" * LONG,
    "a=1," * LONG,
    "a >" + "1" * LONG + "\n!",
    "a." * LONG + "b=1",
    "k" * LONG + "=1:2",
    "1 " + "m*" * LONG,
    "1 m**999999999",
    "9**9**9 mm",
    "1e400 mm",
    "(" * LONG,
]


@pytest.mark.parametrize("number", range(len(TEXTS)))
def test_no_text_takes_long_and_no_refusal_repeats_it(number: int) -> None:
    """Each reader is a few passes over the text: milliseconds for what takes hours where a pattern backtracks."""
    text = TEXTS[number]
    started = time.process_time()
    for read in (
        read_axis,
        read_tolerance,
        read_target,
        read_along,
        read_condition,
        read_front,
        lambda given: parse_quantity(given, LENGTH),
    ):
        message = ""
        try:
            read(text)
        except (AxisError, SelectionError, QuantityError) as error:
            message = str(error)
        assert len(message) < 400
        assert "\n" not in message
    assert time.process_time() - started < 1.0


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("a=1:1e400", "finite numbers"),
        ("a=-1e308:1e308", "finite numbers"),
        ("a=1:2:1e-400", "steps above 0"),
        ("a=1e400,1", "not a finite number"),
        ("a=1:1e9", r"1e\+09 values; at most 100000"),
        ("a=1:2:log1e9", r"1e\+09 values; at most 100000"),
        ("a=1:2:log1e400", "finite numbers"),
        ("a=1:2:log0", "whole number of at least 2"),
        ("a=-1:2:log5", "two values above 0"),
        ("a=0:2:log5", "two values above 0"),
        ("a=1:2:0", "steps above 0"),
        ("a=1:2:-1", "steps above 0"),
        ("a=1,,2", "missing between commas"),
        ("a..b=1", "expected key=values"),
        ("a=\x1b[2J", r"cannot be read, U\+001B"),
        ("a=\udcff", r"cannot be read, U\+DCFF"),
        ("a=" + 201 * "x", "201 characters"),
    ],
)
def test_axes_that_no_sweep_can_hold(text: str, reason: str) -> None:
    with pytest.raises(AxisError, match=reason):
        read_axis(text)


def test_gauges_and_strips_are_swept_as_they_are_written() -> None:
    assert read_axis("leads.area=2/0 AWG,4/0AWG").values == ("2/0 AWG", "4/0AWG")
    assert read_axis("a.strip=8 mm x 2 mm,9 mm x 2 mm").values == ("8 mm x 2 mm", "9 mm x 2 mm")


@pytest.mark.parametrize("text", ["r=1e400", "r=nan", "r=1 A", "r=", "=1", "r=1e"])
def test_targets_are_finite_plain_numbers(text: str) -> None:
    with pytest.raises(AxisError, match="expected result=value"):
        read_target(text)


@pytest.mark.parametrize("text", ["k=1:1e400m", "k=2:1m", "k=1:1m", "k=nan:1m", "k=1", "k=1:2:3m:" + 200 * "1"])
def test_limits_of_a_search_rise_and_are_finite(text: str) -> None:
    with pytest.raises(AxisError, match="expected key=least:greatest"):
        read_along(text)


def test_products_beyond_what_a_sweep_holds_are_refused_before_they_are_made() -> None:
    many = Axis(key="a", values=tuple(range(1001)))
    with pytest.raises(AxisError, match=f"1001 x 1001 points; a sweep holds at most {MOST_POINTS}"):
        points((many, Axis(key="b", values=many.values)))
    with pytest.raises(AxisError, match="1 x 1000000000 points"):
        sampled({"a": 1.0}, [{}], [read_tolerance("a=+-1")], count=10**9, seed=0)
    with pytest.raises(AxisError, match=r"expected key=\+-tolerance"):
        read_tolerance("a=+-1e300")


def test_one_value_of_each_of_no_axes_is_one_point() -> None:
    assert points((), zipped=True) == points(()) == [{}]


def test_a_number_is_read_the_one_way_there_is() -> None:
    for text in ("1", "1.", ".5", "-1.5e-3", "+2E10", "007"):
        assert re.fullmatch(NUMBER, text)
    for text in ("", ".", "e5", "1e", "1..2", "\u0661", "1_0"):
        assert not re.fullmatch(NUMBER, text)


def test_units_are_never_evaluated() -> None:
    for unit in ("m**999999999", "m**9**9", "(m)", "m*" * 50 + "m", "2m", "m+m", "m" * 31):
        assert to_si(1.0, unit, "m") is None
