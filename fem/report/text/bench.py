"""Lines of the report about what surrounds the machine: load line, heat and duty, supply and breaker, meters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fem.circuit.instruments import SteadyReading, TransientReading
from fem.digits import brief, digits, duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.contact import NO_JAWS
from fem.estimation.stations.bench.meters import BurstReadings
from fem.estimation.stations.bench.supply import BurstsForecast, BurstSupply, DeviceForecast
from fem.quantity import Unknown
from fem.report.text.lines import Line, lines_of, missing, untold
from fem.report.text.numbers import percent, shown

STATES = {"idle": "no-load", "shorted": "lead ends joined"}
"""What states of a device are called, by their names among the results."""


def work_piece(estimate: Estimate) -> list[Line]:
    """Return the lines about the work in a burst, those of its end labelled where it melted through before."""
    state = estimate.work_piece
    if isinstance(state, Unknown):
        return []
    absent = (name for name in ("lap", "second_path") if not getattr(state, name))
    names = untold(state, "energy_imbalance", *absent)
    found, through = lines_of(estimate, "work_piece", state, names), state.time_to_melting_through
    if isinstance(state.contact, Unknown) and state.contact.reason == NO_JAWS:
        found = [
            replace(line, label=line.label.replace("between the lead ends", "round the ring"))
            for line in found
            if line.note != NO_JAWS
        ]
    if isinstance(through, Unknown):
        return found
    said = f"melted through after {duration(through)}: value of that moment"
    return [
        replace(line, note="; ".join(filter(None, (said, line.note))))
        if "at the end of the burst" in line.label
        else line
        for line in found
    ]


def load_line(estimate: Estimate) -> list[Line]:
    """Return the lines about the lead ends."""
    state = estimate.load_line
    if isinstance(state, Unknown):
        return []
    names = untold(state, "current_rms", "voltage_rms", "input_current_rms", "efficiency")
    return lines_of(estimate, "load_line", state, names)


def supply(estimate: Estimate) -> list[Line]:
    """Return the lines about the mains circuit and what guards it."""
    state = estimate.supply
    note = "assumed: reference impedance of IEC TR 60725" if state.assumed else ""
    ohms = f"{digits(state.resistance)} + j {digits(state.reactance)} ohm"
    found = [Line(label="impedance up to the primary", value="", note=f"{ohms}{'; ' + note if note else ''}")]
    dips = [("no-load", state.idle_dip), ("lead ends joined", state.shorted_dip), ("with the load", state.loaded_dip)]
    found += [
        Line(label=f"voltage dip, {name}", value=percent(dip)) for name, dip in dips if not isinstance(dip, Unknown)
    ]
    found += _burst_supply(state.burst)
    for device, states in state.devices.items():
        for name, forecast in states.items():
            label = f"{device}, {STATES.get(name, name)}"
            found.append(Line(label=label, value=forecast.behaviour, note=_when(forecast)))
    bursts = state.repeated_bursts
    if isinstance(bursts, Unknown):
        found += [missing(bursts, "repeated bursts, what opens")] if bursts.gap else []
    else:
        found += [
            Line(label=f"{device}, repeated bursts", value=repeated.behaviour, note=_repeated(repeated))
            for device, repeated in bursts.items()
        ]
    told = (
        "resistance",
        "reactance",
        "assumed",
        "idle_dip",
        "shorted_dip",
        "loaded_dip",
        "burst",
        "devices",
        "repeated_bursts",
    )
    found += lines_of(estimate, "supply", state, untold(state, "prospective_short_current", *told))
    return [
        *found,
        Line(
            label="who decides",
            value="",
            note="the local code; times are the widest that the points of the standards allow",
        ),
    ]


def _burst_supply(burst: BurstSupply | Unknown) -> list[Line]:
    label = "burst of the work piece"
    if isinstance(burst, Unknown):
        return [missing(burst, label)] if burst.gap else []
    later = f"{shown(burst.last_current_rms, 'A')} at the end, {shown(burst.current_rms, 'A')} r.m.s. over it"
    return [
        Line(label=f"{label}, amperes in the mains lead", value=shown(burst.first_current_rms, "A"), note=later),
        Line(label=f"{label}, largest voltage dip", value=percent(burst.largest_dip)),
        Line(label=f"{label}, energy from the socket", value=shown(burst.energy, "J"), note=_watt_hours(burst.energy)),
    ]


def _watt_hours(energy: float) -> str:
    return f"{brief(energy / 3600)} Wh"


def _when(forecast: DeviceForecast) -> str:
    times = f"{brief(forecast.multiple, 2)} times its rating"
    if isinstance(forecast.earliest, Unknown):
        return times
    typical = forecast.typical
    common = "" if isinstance(typical, Unknown) else f"; commonly after {duration(typical)} (common practice)"
    return f"{times}; {forecast.points}{common}"


def _repeated(bursts: BurstsForecast) -> str:
    said = [f"{shown(bursts.current_rms, 'A')} over the cycle; {brief(bursts.multiple, 2)} times its rating in a burst"]
    warm, cold = bursts.earliest_warm, bursts.earliest_cold
    if not isinstance(warm, Unknown) and not isinstance(cold, Unknown):
        least = f"not before {duration(warm)} if it remembers" if warm > 0 else "perhaps at once if it remembers"
        said.append(f"{least} the cycle, {duration(cold)} if it forgets" if cold > 0 else "perhaps at once")
    if not isinstance(bursts.commonly, Unknown):
        said.append(f"commonly {bursts.commonly} (common practice)")
    return "; ".join([*said, bursts.points])


def meters(estimate: Estimate) -> list[Line]:
    """Return the lines about predicted readings."""
    state = estimate.meters
    if isinstance(state, Unknown):
        return []
    names = untold(state, "open_voltage", "idle_current", "switch_on", "shorted_switch_on", "burst")
    return [
        *_steady("no-load volts at the lead ends", state.open_voltage, "V"),
        *_steady("mains lead, no-load", state.idle_current, "A"),
        *lines_of(estimate, "meters", state, names),
        *_burst_readings(state.burst),
        _inrush("switching on at no-load", state.switch_on),
        _inrush("switching on with the lead ends joined", state.shorted_switch_on),
    ]


def _burst_readings(burst: BurstReadings | Unknown) -> list[Line]:
    label = "burst of the work piece"
    if isinstance(burst, Unknown):
        return [missing(burst, label)] if burst.gap else []

    def held(name: str, readings: Mapping[str, float | Unknown]) -> list[Line]:
        told = [f"{window} {shown(rms, 'A')}" for window, rms in readings.items() if not isinstance(rms, Unknown)]
        text = f"largest r.m.s. over any {', '.join(told)}" if told else "it is over before a window of 100 ms"
        return [Line(label=f"{label}, {name}, held", value="", note=text)]

    return [
        *_steady(f"{label}, mains lead at first", burst.primary_first, "A"),
        *_steady(f"{label}, mains lead at the end", burst.primary_last, "A"),
        *held("mains lead", burst.primary_highest_rms),
        *held("secondary lead", burst.secondary_highest_rms),
        Line(
            label=f"{label}, wattmeter at most",
            value=shown(burst.power_highest, "W"),
            note=f"{shown(burst.power_mean, 'W')} mean; {_watt_hours(burst.energy)} a burst",
        ),
    ]


def _steady(label: str, reading: SteadyReading, unit: str) -> list[Line]:
    note = f"averaging meter {shown(reading.averaging, unit)}, peak hold {shown(reading.peak, unit)}"
    return [Line(label=f"{label}, true-r.m.s. meter", value=shown(reading.true_rms, unit), note=note)]


def _inrush(label: str, reading: TransientReading | Unknown) -> Line:
    if isinstance(reading, Unknown):
        return missing(reading, f"{label}, peak hold")
    windows = ", ".join(
        f"{name} {shown(rms, 'A')}" for name, rms in reading.highest_rms.items() if not isinstance(rms, Unknown)
    )
    note = f"scaled as a sine {shown(reading.sine_equivalent, 'A')}; largest r.m.s. over any {windows}"
    return Line(label=f"{label}, peak hold", value=shown(reading.peak, "A"), note=note)
