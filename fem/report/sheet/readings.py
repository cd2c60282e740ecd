"""What meters will show, in the order it is measured at the bench, each with room to write down what they do."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from fem.estimation.result import Estimate
from fem.quantity import SUFFIX, Unknown
from fem.report.sheet.tables import Row, told
from fem.report.text.numbers import shown

TEST = "short_circuit.reduced_voltage_test"
ALONE = (
    ("mains lead, true r.m.s.", "idle.current_rms", "A"),
    ("mains lead, averaging meter", "meters.idle_current.averaging", "A"),
    ("wattmeter", "meters.idle_power", "W"),
)
OPEN = (("lead ends, nothing connected, full mains voltage", "open_circuit.secondary_voltage_rms", "V"),)
THEN = (
    ("primary volts then", f"{TEST}.primary_voltage_rms", "V"),
    ("secondary lead then", f"{TEST}.secondary_current_rms", "A"),
    ("wattmeter then", f"{TEST}.power", "W"),
)
BURST = (
    ("burst, mains lead at first", "meters.burst.primary_first.true_rms", "A"),
    ("burst, mains lead at its end", "meters.burst.primary_last.true_rms", "A"),
    ("burst, wattmeter at most", "meters.burst.power_highest", "W"),
    ("burst, secondary lead at its end", "work_piece.hot_current_rms", "A"),
    ("burst, the work is red after", "work_piece.time_to_visible_red", "s"),
    ("burst, the work is as hot as wanted after", "work_piece.time_to_target", "s"),
)
LOADED = (
    ("with the load, mains lead", "load.primary_current_rms", "A"),
    ("with the load, secondary lead", "load.current_rms", "A"),
    ("with the load, lead ends", "load.voltage_rms", "V"),
    ("with the load, wattmeter", "load.input_power", "W"),
)
JOINED = (
    ("lead ends joined, mains lead", "short_circuit.primary_current_rms", "A"),
    ("lead ends joined, secondary lead", "short_circuit.secondary_current_rms", "A"),
    ("lead ends joined, wattmeter", "short_circuit.input_power", "W"),
)
"""What is measured, the result, its unit."""


def readings(estimate: Estimate) -> Iterator[Row]:
    """Yield what is measured, expected, between which ends, and nothing; or the heading of a stage."""
    build, test = estimate.build, estimate.short_circuit.reduced_voltage_test
    one, leg = ("primary", "the primary's leg") if build.cores == 1 else ("each primary", "both cores")
    cold = f"{one}, direct current, unplugged, at {shown(build.temperature, 'K')}"
    turn = f"a loose turn round {leg}"
    yield ("Before cable is cut: core and primary alone, the old winding out, full mains voltage",)
    first = (cold, "build.primary.resistance", "ohm"), (turn, "saturation.volts_per_turn", "V")
    yield from _expected(estimate, *first, *ALONE)
    yield ("Wound, before the first burst",)
    yield from _expected(estimate, *OPEN)
    if test:
        set_to = "lead ends joined, reduced voltage: raise it until the mains lead carries"
        yield set_to, shown(test.primary_current_rms, "A"), test.chosen, ""
    yield from _expected(estimate, *THEN)
    yield ("After: full mains voltage",)
    yield from _expected(estimate, *(BURST if estimate.work_piece else LOADED), *JOINED)


def _expected(estimate: Estimate, *listed: tuple[str, str, str]) -> Iterator[Row]:
    for what, path, unit in listed:
        value: Any = estimate
        for name in path.split("."):
            value = value if isinstance(value, Unknown) else getattr(value, name)
        if not isinstance(value, Unknown) or value.gap:
            yield what, *told(estimate, f"{path}{SUFFIX[unit]}", value, unit), ""
