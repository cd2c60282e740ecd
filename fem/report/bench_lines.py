"""Lines of the report about what surrounds the machine: load line, heat and duty, supply and breaker, meters."""

from __future__ import annotations

from fem.report.lines import Line, lines_of
from fem.report.numbers import percent, shown
from fem.study.results import Estimate
from fem.study.results_bench import BurstState, DeviceForecast, DutyState, InrushMeter, PulseTrain, SteadyMeter

MINUTE, HOUR = 60.0, 3600.0


def load_line(estimate: Estimate) -> list[Line]:
    """Return the lines about the lead ends."""
    state = estimate.load_line
    if state is None:
        return []
    names = ["most_power", "resistance_of_most_power", "current_of_most_power"]
    drops = [
        Line(label=f"  {name}", value=shown(drop.voltage, "V"), note=f"{percent(drop.share)} of the voltage, in phase")
        for name, drop in state.drops.items()
    ]
    return [*lines_of(estimate, "load_line", state, names), Line(label="where the volts go:", value=""), *drops]


def heating(estimate: Estimate) -> list[Line]:
    """Return the lines about heat: one burst, idle for good, repeated bursts."""
    state = estimate.heating
    if state is None:
        return []
    found = _burst("one burst with the lead ends joined", state.shorted)
    if state.loaded is not None:
        found += _burst(f"one burst into {shown(state.loaded.load_resistance, 'ohm')}", state.loaded)
    idle = state.idle
    if idle.temperatures is not None:
        hottest = max(idle.temperatures, key=lambda name: idle.temperatures[name] if idle.temperatures else 0.0)
        note = "too hot: " + ", ".join(idle.too_hot) if idle.too_hot else "within the limits of repeated work"
        label = f"plugged in idle for good, {hottest}"
        found.append(Line(label=label, value=shown(idle.temperatures[hottest], "K"), note=note))
    else:
        first = "" if idle.first_too_hot is None else f", the first after {duration(idle.first_too_hot)}"
        found.append(Line(label="plugged in idle for good", value="too hot", note=", ".join(idle.too_hot) + first))
    return [*found, *_duty(estimate, state.duty), *_pulse_train(state.pulses)]


def _duty(estimate: Estimate, duty: DutyState | None) -> list[Line]:
    if duty is None:
        return [Line(label="repeated bursts", value="none", note=estimate.reasons.get("heating.duty", ""))]
    limit = "" if duty.limiting_part is None else f"set by {duty.limiting_part}"
    if (band := estimate.bands.get("heating.duty.allowed_share")) is not None:
        limit = "; ".join(filter(None, (limit, f"{percent(band.low)} to {percent(band.high)}: {band.why}")))
    found = [
        Line(label="repeated bursts, duty", value=percent(duty.share), note="too hot: " + ", ".join(duty.too_hot))
        if duty.too_hot
        else Line(label="repeated bursts, duty", value=percent(duty.share), note="within the limits of repeated work"),
        Line(label="duty allowed at this period", value=percent(duty.allowed_share), note=limit),
        Line(label="current of the warm machine, r.m.s.", value=shown(duty.current_rms, "A")),
    ]
    for name, temperature in (duty.peak_temperatures or {}).items():
        found.append(Line(label=f"  {name}, hottest in the steady cycle", value=shown(temperature, "K")))
    if duty.bursts_to_steady is not None and duty.cool_down is not None:
        note = f"bursts until steady; {duration(duty.cool_down)} to cool down to 40 degC"
        found.append(Line(label="bursts", value=f"{duty.bursts_to_steady}", note=note))
    return found


def _pulse_train(train: PulseTrain | None) -> list[Line]:
    if train is None:
        return []
    note = "too hot: " + ", ".join(train.too_hot) if train.too_hot else "within the limits of repeated work"
    found = [Line(label="a train of pulses", value=duration(train.duration), note=note)]
    found.append(Line(label="current in a pulse, cold machine, r.m.s.", value=shown(train.current_rms, "A")))
    for name, temperature in train.peak_temperatures.items():
        steady = train.steady_temperatures
        repeated = "" if steady is None else f"{shown(steady[name], 'K')} with trains repeated for good"
        found.append(Line(label=f"  {name}, hottest in one train", value=shown(temperature, "K"), note=repeated))
    return found


def _burst(label: str, state: BurstState) -> list[Line]:
    if state.longest is None:
        return [Line(label=label, value="no limit", note="no part reaches its limit of repeated work")]
    found = [Line(label=f"{label}, longest", value=duration(state.longest), note=f"set by {state.limiting_part}")]
    for name, part in state.parts.items():
        working = "not first" if part.working is None else duration(part.working)
        once = "not first" if part.once is None else duration(part.once)
        note = f"{shown(part.current_density, 'A/m2')}; fault limit, once: {once}, no heat escaping: "
        found.append(Line(label=f"  {name}", value=working, note=note + duration(part.adiabatic_once)))
    return found


def supply(estimate: Estimate) -> list[Line]:
    """Return the lines about the mains circuit and what guards it."""
    state = estimate.supply
    note = "assumed: reference impedance of IEC TR 60725" if state.assumed else ""
    ohms = f"{shown(state.resistance, 'ohm')} + j {shown(state.reactance, 'ohm')}"
    found = [Line(label="impedance up to the primary", value="", note=f"{ohms}{'; ' + note if note else ''}")]
    dips = [("idle", state.idle_dip), ("lead ends joined", state.shorted_dip), ("with the load", state.loaded_dip)]
    found += [Line(label=f"voltage dip, {name}", value=percent(dip)) for name, dip in dips if dip is not None]
    for device, states in state.devices.items():
        for name, forecast in states.items():
            label = f"{device}, {name}"
            found.append(Line(label=label, value=forecast.behaviour, note=_when(forecast)))
    return [*found, Line(label="who decides", value="", note="the local code; the bands are those of the standards")]


def _when(forecast: DeviceForecast) -> str:
    times = f"{forecast.multiple:.2g} times its rating"
    if forecast.earliest is None:
        return times
    latest = "later" if forecast.latest is None else duration(forecast.latest)
    return f"{times}; opens between {duration(forecast.earliest)} and {latest}"


def meters(estimate: Estimate) -> list[Line]:
    """Return the lines about predicted readings."""
    state = estimate.meters
    if state is None:
        return []
    names = ["idle_power", "shorted_primary", "shorted_secondary", "shorted_power"]
    return [
        *_steady("open lead ends", state.open_voltage, "V"),
        *_steady("mains lead, idle", state.idle_current, "A"),
        *lines_of(estimate, "meters", state, names),
        _inrush("switching on, nothing connected", state.switch_on),
        _inrush("switching on, lead ends joined", state.shorted_switch_on),
    ]


def _steady(label: str, reading: SteadyMeter, unit: str) -> list[Line]:
    note = f"averaging meter {shown(reading.averaging, unit)}, peak hold {shown(reading.peak, unit)}"
    return [Line(label=f"{label}, true-r.m.s. meter", value=shown(reading.true_rms, unit), note=note)]


def _inrush(label: str, reading: InrushMeter) -> Line:
    windows = ", ".join(f"{name} {shown(rms, 'A')}" for name, rms in reading.highest_rms.items() if rms is not None)
    note = f"scaled as a sine {shown(reading.sine_equivalent, 'A')}; r.m.s. over {windows}"
    return Line(label=f"{label}, peak hold", value=shown(reading.peak, "A"), note=note)


def duration(seconds: float) -> str:
    """Write a time for reading."""
    if seconds < 2 * MINUTE:
        return shown(seconds, "s")
    if seconds < 2 * HOUR:
        return f"{seconds / MINUTE:.0f} min"
    return f"{seconds / HOUR:.0f} h"
