"""What instruments will show, idle, shorted and on switching on."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fem.arrays import Floats
from fem.circuit.instruments import SteadyReading, TransientReading
from fem.circuit.steady.meters import meter_readings
from fem.circuit.time.switch_on import SwitchOn
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.station import Station
from fem.quantity import Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class SteadyMeter:
    """What meters show of one periodic quantity, in its own unit."""

    true_rms: float = of("", "true-r.m.s. meter")
    averaging: float = of("", "averaging meter scaled for a sine")
    peak: float = of("", "peak hold")


@dataclass(frozen=True, kw_only=True, slots=True)
class InrushMeter:
    """What meters show of the primary current after switching on at the worst moment."""

    peak: float = of("A", "peak hold of 1 ms or less")
    sine_equivalent: float = of("A", "the same, scaled as r.m.s. of a sine")
    highest_rms: Mapping[str, float | Unknown] = of("A", "r.m.s. over windows, by their length")


@dataclass(frozen=True, kw_only=True, slots=True)
class Meters:
    """Predicted readings, to compare like with like."""

    open_voltage: SteadyMeter = of("", "volts across the open lead ends")
    idle_current: SteadyMeter = of("", "amperes in the mains lead, idle")
    idle_power: float = of("W", "wattmeter, idle")
    shorted_primary: float = of("A", "amperes in the mains lead, lead ends joined")
    shorted_secondary: float = of("A", "clamp round the secondary lead, lead ends joined")
    shorted_power: float = of("W", "wattmeter, lead ends joined")
    switch_on: InrushMeter | Unknown = of("", "primary current on switching on, nothing connected")
    shorted_switch_on: InrushMeter | Unknown = of("", "primary current on switching on, lead ends joined")


def meters(case: Case) -> Meters:
    """Return what meters will show."""

    def record(run: Callable[[], SwitchOn]) -> tuple[Floats, Floats]:
        found = run().transient
        return found.time, found.primary_current

    open_run = attempt(lambda: record(lambda: case.switched_on))
    shorted_run = attempt(lambda: record(lambda: case.switched_on_shorted))
    found = meter_readings(
        case.circuit,
        case.at_idle,
        case.shorted,
        switch_on=open_run or None,
        shorted_switch_on=shorted_run or None,
    )
    return Meters(
        open_voltage=_steady(found.open_voltage),
        idle_current=_steady(found.idle_current),
        idle_power=found.idle_power,
        shorted_primary=found.shorted_primary,
        shorted_secondary=found.shorted_secondary,
        shorted_power=found.shorted_power,
        switch_on=open_run if isinstance(open_run, Unknown) else _inrush(found.switch_on),
        shorted_switch_on=shorted_run if isinstance(shorted_run, Unknown) else _inrush(found.shorted_switch_on),
    )


def _steady(reading: SteadyReading) -> SteadyMeter:
    return SteadyMeter(true_rms=reading.true_rms, averaging=reading.averaging, peak=reading.peak)


def _inrush(reading: TransientReading | None) -> InrushMeter:
    assert reading is not None
    too_long = Unknown("the current was not followed for so long")
    return InrushMeter(
        peak=reading.peak,
        sine_equivalent=reading.sine_equivalent,
        highest_rms={
            f"{window * 1e3:g} ms": too_long if rms is None else rms for window, rms in reading.highest_rms.items()
        },
    )


METERS = Station(key="meters", result=Meters, compute=meters, part=Part.METERS)
