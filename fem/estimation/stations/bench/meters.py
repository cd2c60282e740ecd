"""What instruments will show, idle, shorted, on switching on, and in the burst of the work piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import SteadyReading, highest_rms, steady_reading
from fem.circuit.steady.distorted import distorted
from fem.circuit.steady.meters import Meters, meter_readings
from fem.circuit.time.switch_on import SwitchOn
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.heat.coupled import circuit_at
from fem.quantity import Unknown, extended, of

WINDOWS = {"100 ms": 0.1, "1 s": 1.0}
"""Over which a clamp's largest reading is told [s]: its quick function, and the slowest rate of its display."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstReadings:
    """What meters show in the burst of the work piece, once the peaks of switching on have died out."""

    primary_first: SteadyReading = of("", "amperes in the mains lead at first")
    primary_last: SteadyReading = of("", "amperes in the mains lead at the end")
    primary_highest_rms: Mapping[str, float | Unknown] = of(
        "A", "mains lead, largest r.m.s. over any window, by its length"
    )
    secondary_highest_rms: Mapping[str, float | Unknown] = of(
        "A", "secondary lead, largest r.m.s. over any window, by its length"
    )
    power_highest: float = of("W", "wattmeter, at most")
    power_mean: float = of("W", "wattmeter, mean over the burst")
    energy: float = of("J", "energy meter, a burst")

    FORMULAS = """
    energy = `supply.burst.energy_J`
    power_mean = `.energy_J` / `heating.burst.duration_s`
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class BenchMeters(Meters):
    """Predicted readings on one machine and its work."""

    burst: BurstReadings | Unknown = of("", "the burst of the work piece")


def meters(case: Case) -> BenchMeters:
    """Return what meters will show."""
    readings = meter_readings(
        case.idle_circuit,
        case.at_idle,
        case.shorted,
        switch_on=attempt(lambda: _record(case.switched_on)),
        shorted_switch_on=attempt(lambda: _record(case.switched_on_shorted)),
    )
    return extended(BenchMeters, readings, burst=case.part(Part.WORK_PIECE, lambda: _burst(case)))


def _burst(case: Case) -> BurstReadings | Unknown:
    run, fed = case.burst, case.fed
    if run is None or fed is None:
        return Unknown("no [work_piece] is described")
    drawn, last = fed.drawn, fed.time.size - 1
    cold = case.circuit if case.ring is None else replace(case.circuit, secondary_resistance=0.0)
    hot = circuit_at(cold, case.network, fed.temperatures[last], case.design.temperature)
    return BurstReadings(
        primary_first=_wave(cold, float(run.resistance[0])),
        primary_last=_wave(hot, float(run.resistance[last])),
        primary_highest_rms=_highest(fed.time, drawn.primary_current),
        secondary_highest_rms=_highest(fed.time, drawn.secondary_current),
        power_highest=float(drawn.input_power.max()),
        power_mean=fed.energy / float(fed.time[last]),
        energy=fed.energy,
    )


def _wave(circuit: Circuit, resistance: float) -> SteadyReading:
    """Return the readings of the primary current: its second half period is the first one upside down."""
    return steady_reading(distorted(circuit, resistance).primary)


def _highest(time: Floats, rms: Floats) -> dict[str, float | Unknown]:
    shorter = Unknown("the burst is shorter")
    return {name: highest_rms(time, rms, w) if w <= time[-1] * (1 + 1e-9) else shorter for name, w in WINDOWS.items()}


def _record(run: SwitchOn) -> tuple[Floats, Floats]:
    return run.transient.time, run.transient.primary_current


METERS = Station(key="meters", result=BenchMeters, compute=meters, part=Part.METERS)
