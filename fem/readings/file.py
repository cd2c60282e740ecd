"""A file of readings, and what no meter can have shown."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from math import sqrt
from pathlib import Path

from pydantic import ValidationError

from fem.circuit.instruments import Meter
from fem.design.job import JOB_FILE
from fem.design.tables import JobError, read_tables, told_as
from fem.design.transformer import Design
from fem.readings.conditions import Energised
from fem.readings.described import Readings, SearchCoil, SecondaryVolts
from fem.readings.reading import Reading, readings_of
from geometries.described.faults import Fault, faults
from geometries.described.quantities import format_quantity

FAR = 2.0
"""So many times what the turns of the job make is worth a word: nine times out of ten turns that nobody counted lie
within (fem/assumptions.csv)."""
MAINS_HIGH = 1.15
"""More than any mains over what is told: 10 % (IEC 60038), and the meter."""
PEAKED = 0.55
"""The least that averaging meters show of a peaked no-load current's r.m.s. value: 0.57 has been printed."""


def read_readings(path: str | Path, design: Design | None = None) -> Readings:
    """Read a file of readings.

    Parameters
    ----------
    path
        A TOML file; "-" is standard input.
    design
        Of the machine they were taken on: then what no such machine can show is refused too.

    Raises
    ------
    JobError
        With every fault that was found, if it cannot be read.
    """
    data = read_tables(path)
    try:
        described = Readings.model_validate(data, context=JOB_FILE)
    except ValidationError as error:
        raise JobError(told_as(path), list(dict.fromkeys(faults(error)))) from None
    if found := doubtful(readings_of(described), design):
        raise JobError(told_as(path), found)
    return described


def doubtful(readings: Sequence[Reading], design: Design | None = None) -> list[Fault]:
    """Say what cannot have been read: more watts than volt-amperes, two numbers for one test, too much for the turns.

    Parameters
    ----------
    readings
        As from `readings_of`.
    design
        Of the machine, if it is known.
    """
    found = [*_too_many_watts(readings), *_twice(readings)]
    return found if design is None else [*found, *_too_much(readings, design)]


def _limit(reading: Reading) -> float:
    return sqrt(3) * reading.uncertainty


def _told(reading: Reading) -> str:
    return format_quantity(reading.value, reading.unit)


def _too_many_watts(readings: Sequence[Reading]) -> Iterator[Fault]:
    for watts in (reading for reading in readings if reading.quantity == "power"):
        test = watts.test
        amperes = next((r for r in readings if r.test is test and r.quantity in ("current", "primary_current")), None)
        if amperes is None or not isinstance(test, Energised) or test.primary_voltage is None:
            continue
        least = PEAKED if test.meter is Meter.AVERAGING else 1.0
        most = (test.primary_voltage * 1.03) * (amperes.value + _limit(amperes)) / least
        if watts.value - _limit(watts) > most:
            product = format_quantity(test.primary_voltage * amperes.value, "W")
            yield Fault(watts.key, f"{_told(watts)} is more than volts times amperes, {product[:-1]}VA")


def _twice(readings: Sequence[Reading]) -> Iterator[Fault]:
    """Say which numbers read twice in the same test differ by more than both may be off."""
    for one, other in combinations(readings, 2):
        if one.quantity != other.quantity or type(one.test) is not type(other.test):
            continue
        shown = dict.fromkeys((*one.test.shown, *other.test.shown, "voltage", "current"))
        same = one.test.model_dump(exclude=set(shown)) == other.test.model_dump(exclude=set(shown))
        alike = [{c.name: c.value for c in r.conditions} for r in (one, other)]
        if same and alike[0] == alike[1] and abs(one.value - other.value) > _limit(one) + _limit(other):
            text = (
                f"{_told(other)} here and {_told(one)} at {one.key}: the same test, further apart than both may be off"
            )
            yield Fault(other.key, text)


def _too_much(readings: Sequence[Reading], design: Design) -> Iterator[Fault]:
    """Say what no turns of the primary could show: it has one at least, and nothing lies above the mains."""
    mains = design.mains.voltage
    for reading in readings:
        if reading.quantity == "primary_voltage" and reading.value > MAINS_HIGH * mains:
            yield Fault(reading.key, f"{_told(reading)} behind a lamp on a mains of {format_quantity(mains, 'V')}")
    for reading, around, fed in _of_turns(readings, design):
        if reading.value - _limit(reading) > MAINS_HIGH * around * fed:
            text = f"{_told(reading)} on {around:g} turns, where one turn of the primary alone would have {fed:g} V"
            yield Fault(reading.key, text)


def far_off(readings: Sequence[Reading], design: Design) -> list[Fault]:
    """Say which readings lie further off the job's turns than usual: a slip of a unit or a meter, or other turns.

    No reason to refuse them: a fit says which it is.
    """
    found, windings = [], design.windings
    turns = windings.primary.net_turns / design.core.parallel_primaries
    for reading, around, fed in _of_turns(readings, design):
        least = 0.0 if getattr(reading.test, "lamp", None) is not None else 1 / FAR  # a lamp leaves less than the mains
        if not least < reading.value * turns / around / fed < FAR:
            text = f"on {around:g} turns, where {format_quantity(fed, 'V')} on the primary's {turns:g} turns make"
            found.append(Fault(reading.key, f"{_told(reading)} {text} {format_quantity(fed * around / turns, 'V', 3)}"))
    for reading in readings:
        beside = next((r for r in readings if r.test is reading.test and r.quantity == "primary_current"), None)
        ratio = turns / windings.secondary.net_turns
        if reading.quantity == "secondary_current" and beside and reading.value > FAR * ratio * beside.value:
            most = format_quantity(ratio * beside.value, "A", 3)
            text = f"{_told(reading)}, where {_told(beside)} in the primary's {turns:g} turns allow {most}"
            found.append(Fault(reading.key, text))
    return found


def _of_turns(readings: Sequence[Reading], design: Design) -> Iterator[tuple[Reading, float, float]]:
    """Yield volts of turns with their number, idle, and the volts that the primary has."""
    for reading in readings:
        test = reading.test
        if isinstance(test, SearchCoil | SecondaryVolts) and reading.quantity == "voltage":
            untold = test.lamp is not None or test.primary_voltage is None
            around = test.turns if isinstance(test, SearchCoil) else design.windings.secondary.net_turns
            yield reading, around, design.mains.voltage if untold else float(test.primary_voltage or 0.0)
