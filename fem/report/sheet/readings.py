"""What meters will show, in the order it is measured at the bench, each with room to write down what they do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.estimation.result import Estimate
from fem.quantity import Band, Unknown
from fem.report.text.numbers import shown
from fem.report.text.sure import with_band


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """What is measured, what is expected, between which values nine times out of ten."""

    what: str
    expected: str
    between: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Stage:
    """Readings that are taken at one time."""

    heading: str
    readings: tuple[Reading, ...]


def stages(estimate: Estimate) -> tuple[Stage, ...]:
    """Return the readings of each stage."""
    by_heading = {
        "Before cable is cut: core and primary alone, the old winding out, full mains voltage": _alone(estimate),
        "Wound, before the first burst": _wound(estimate),
        "After: full mains voltage": (*_work(estimate), *_joined(estimate)),
    }
    return tuple(
        Stage(heading=heading, readings=tuple(one for one in told if one is not None))
        for heading, told in by_heading.items()
    )


def _alone(estimate: Estimate) -> Iterator[Reading | None]:
    build, meters = estimate.build, estimate.meters
    one, both = ("primary", "the primary's leg") if build.cores == 1 else ("each primary", "both cores")
    cold = f"{one}, direct current, unplugged, at {shown(build.temperature, 'K')}"
    yield _reading(estimate, cold, build.primary.resistance, "ohm")
    yield _reading(estimate, f"a loose turn round {both}", estimate.saturation.volts_per_turn, "V")
    yield _reading(estimate, "mains lead, true r.m.s.", estimate.idle.current_rms, "A", "idle.current_rms_A")
    if meters:
        yield _reading(estimate, "mains lead, averaging meter", meters.idle_current.averaging, "A")
        yield _reading(estimate, "wattmeter", meters.idle_power, "W")


def _wound(estimate: Estimate) -> Iterator[Reading | None]:
    volts, key = estimate.open_circuit.secondary_voltage_rms, "open_circuit.secondary_voltage_rms_V"
    yield _reading(estimate, "lead ends, nothing connected, full mains voltage", volts, "V", key)
    test, joined = estimate.short_circuit.reduced_voltage_test, "lead ends joined, reduced voltage"
    if isinstance(test, Unknown):
        yield _reading(estimate, joined, test, "")
        return
    key = "short_circuit.reduced_voltage_test"
    set_to = f"{joined}: raise it until the mains lead carries"
    yield Reading(what=set_to, expected=shown(test.primary_current_rms, "A"), between=test.chosen)
    for what, value, unit, name in (
        ("primary volts then", test.primary_voltage_rms, "V", "primary_voltage_rms_V"),
        ("secondary lead then", test.secondary_current_rms, "A", "secondary_current_rms_A"),
        ("wattmeter then", test.power, "W", "power_W"),
    ):
        yield _reading(estimate, what, value, unit, f"{key}.{name}")


def _work(estimate: Estimate) -> Iterator[Reading | None]:
    """Yield what is read in a burst into the work, else into the load."""
    meters, work, load = estimate.meters, estimate.work_piece, estimate.load
    burst = meters.burst if meters else Unknown("")
    if burst:
        yield _reading(estimate, "burst, mains lead at first", burst.primary_first.true_rms, "A")
        yield _reading(estimate, "burst, mains lead at its end", burst.primary_last.true_rms, "A")
        yield _reading(estimate, "burst, wattmeter at most", burst.power_highest, "W")
    if work:
        key = "work_piece.hot_current_rms_A"
        yield _reading(estimate, "burst, secondary lead at its end", work.hot_current_rms, "A", key)
        for what, value, name in (
            ("burst, the work is red after", work.time_to_visible_red, "time_to_visible_red_s"),
            ("burst, the work is as hot as wanted after", work.time_to_target, "time_to_target_s"),
        ):
            yield _reading(estimate, what, value, "s", f"work_piece.{name}")
    elif load:
        current, key = load.primary_current_rms, "load.primary_current_rms_A"
        yield _reading(estimate, "with the load, mains lead", current, "A", key)
        yield _reading(estimate, "with the load, secondary lead", load.current_rms, "A", "load.current_rms_A")
        yield _reading(estimate, "with the load, lead ends", load.voltage_rms, "V", "load.voltage_rms_V")
        yield _reading(estimate, "with the load, wattmeter", load.input_power, "W", "load.input_power_W")


def _joined(estimate: Estimate) -> Iterator[Reading | None]:
    joined = estimate.short_circuit
    for what, value, unit, name in (
        ("mains lead", joined.primary_current_rms, "A", "primary_current_rms_A"),
        ("secondary lead", joined.secondary_current_rms, "A", "secondary_current_rms_A"),
        ("wattmeter", joined.input_power, "W", "input_power_W"),
    ):
        yield _reading(estimate, f"lead ends joined, {what}", value, unit, f"short_circuit.{name}")


def _reading(estimate: Estimate, what: str, value: float | Unknown, unit: str, key: str = "") -> Reading | None:
    """Return a reading; of what should be known and is not, the reason."""
    if isinstance(value, Unknown):
        return Reading(what=what, expected="not known", between=value.reason) if value.gap else None
    band = estimate.bands.get(key)
    expected, between = with_band(value, band, unit) if isinstance(band, Band) else (shown(value, unit), "")
    return Reading(what=what, expected=expected, between=between)
