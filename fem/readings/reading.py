"""Readings one by one, each with its conditions and how far off it may be."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from math import hypot
from typing import Any

from fem.circuit.instruments import Meter
from fem.readings.accuracy import Accuracy, accuracy
from fem.readings.conditions import BEHIND_LAMP, Bench, Energised, Test
from fem.readings.described import Method, Readings, ResistanceTest
from geometries.described.quantities import format_quantity

PROBES = 0.2
"""What a two-wire meter's own leads show where it is not told [ohm]: see accuracies.csv."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """What a test was done at, as far as it was measured: its doubt is that of the test's readings too.

    Parameters
    ----------
    key
        "no_load.0.primary_voltage"; "bench.temperature" is one for all tests that do not tell their own.
    name
        Of the test's attribute.
    value, accuracy
        [SI].
    """

    key: str
    name: str
    value: float
    accuracy: Accuracy


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """One number that a meter showed.

    Parameters
    ----------
    key
        "no_load.0.current".
    quantity
        The last part of the key.
    value
        [SI].
    unit
        SI.
    accuracy
        Of the meter alone.
    meter
        What it makes of a wave; None of what has none (watts, direct current).
    test
        What it was read in, all that it takes from the bench filled in.
    conditions
        What of the test was measured too.
    words
        What was read, in words.
    """

    key: str
    quantity: str
    value: float
    unit: str
    accuracy: Accuracy
    meter: Meter | None
    test: Test
    conditions: tuple[Condition, ...]
    words: str

    @property
    def uncertainty(self) -> float:
        """Standard uncertainty of the meter [SI]."""
        return self.accuracy.uncertainty


def readings_of(described: Readings) -> tuple[Reading, ...]:
    """Return what was read, one by one, in the order of the tests."""
    return tuple(
        reading for key, test in described.tests() for reading in _of_test(key, _filled(test, described.bench), test)
    )


def _filled(test: Test, bench: Bench) -> Test:
    """Return a test with what it takes from the bench."""
    update: dict[str, Any] = {} if test.temperature is not None else {"temperature": bench.temperature}
    for name in ("meter", "voltmeter"):
        if isinstance(test, Energised) and getattr(test, name) is None:
            update[name] = getattr(bench, name)
    if isinstance(test, ResistanceTest) and test.method is Method.TWO_WIRE and test.leads_together is None:
        update["leads_together"] = PROBES
    return test.model_copy(update=update)


def _of_test(key: str, test: Test, as_told: Test) -> Iterator[Reading]:
    conditions = tuple(
        Condition(
            key="bench.temperature" if name == "temperature" and as_told.temperature is None else f"{key}.{name}",
            name=name,
            value=getattr(test, name),
            accuracy=accuracy(getattr(test, name), _instrument(test, test.GIVEN[name])),
        )
        for name in test.given
        if getattr(test, name)
    )
    for quantity in test.shown:
        unit, kind, words = test.SHOWN.get(quantity, BEHIND_LAMP)
        clamped = kind == "ammeter" and isinstance(test, Energised) and test.clamp_range is not None
        value, found = _number(test, quantity, "clamp" if clamped else kind)
        meter = _meter(test, kind)
        yield Reading(
            key=f"{key}.{quantity}",
            quantity=quantity,
            value=value,
            unit=unit,
            accuracy=found,
            meter=meter,
            test=test,
            conditions=conditions,
            words=_words(test, quantity, words, meter),
        )


def _number(test: Test, quantity: str, kind: str) -> tuple[float, Accuracy]:
    """Return a reading and how far off it may be."""
    if isinstance(test, ResistanceTest) and test.voltage is not None and test.current is not None:
        ohms = test.voltage / test.current
        volts, amperes = accuracy(test.voltage, "direct voltmeter"), accuracy(test.current, "direct ammeter")
        return ohms, Accuracy(
            uncertainty=ohms * hypot(volts.uncertainty / test.voltage, amperes.uncertainty / test.current),
            in_proportion=0.0,
            instrument="",
            words=f"volts {volts.words}; amperes {amperes.words}",
            assumed=volts.assumed or amperes.assumed,
        )
    full = test.clamp_range if kind == "clamp" and isinstance(test, Energised) else None
    value = getattr(test, quantity)
    return float(value), accuracy(value, _instrument(test, kind), full)


def _meter(test: Test, kind: str) -> Meter | None:
    """Return what a kind of instrument makes of a wave in a test; None where there is none."""
    if not isinstance(test, Energised):
        return None
    return {"ammeter": test.meter, "clamp": test.meter, "voltmeter": test.voltmeter}.get(kind)


def _instrument(test: Test, kind: str) -> str:
    """Return the row of accuracies.csv."""
    meter = _meter(test, kind)
    if meter is None:
        return kind
    return f"{(Meter.PEAK if meter is Meter.PEAK_AS_RMS else meter).value} {kind}"


def _words(test: Test, quantity: str, words: str, meter: Meter | None) -> str:
    """Say what was read, at what, with which meter."""
    parts = [words.format(**{key: value.value if isinstance(value, Enum) else value for key, value in test})]
    if isinstance(test, ResistanceTest):
        if test.temperature is not None:
            parts[0] += f" at {format_quantity(test.temperature, 'degC', 3)}"
        parts.append(test.method.value)
    if isinstance(test, Energised):
        volts = None if "primary_voltage" in test.shown else test.primary_voltage
        parts[0] += " on the mains" if volts is None else f" at {format_quantity(volts, 'V')}"
        if test.lamp is not None:
            parts.append(f"lamp of {format_quantity(test.lamp, 'W')} in series")
        if meter is not None:
            clamp = f"clamp of {format_quantity(test.clamp_range, 'A')}" if test.clamp_range is not None else "meter"
            parts.append(f"{meter.value} {clamp if quantity.endswith('current') else 'meter'}")
    return ", ".join(parts)
