"""Lines of the report about what surrounds the machine: load line, heat and duty, supply and breaker, meters."""

from __future__ import annotations

from fem.digits import brief
from fem.estimation.stations.results import Estimate
from fem.estimation.stations.results_bench import (
    BurstState,
    ContinuousIdle,
    DeviceForecast,
    DutyState,
    Heating,
    InrushMeter,
    SteadyMeter,
)
from fem.report.text.lines import Line, lines_of, missing
from fem.report.text.numbers import duration, percent, shown


def load_line(estimate: Estimate) -> list[Line]:
    """Return the lines about the lead ends."""
    state = estimate.load_line
    if state is None:
        return []
    names = ["most_power", "resistance_of_most_power", "current_of_most_power"]
    if state.drops is None:
        return [
            *lines_of(estimate, "load_line", state, names),
            missing(estimate, "load_line.drops", "where the volts go"),
        ]
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
    shorted = "one burst with the lead ends joined"
    found = _burst(estimate, "heating.shorted", shorted, state.shorted)
    if state.loaded is not None or "heating.loaded" in estimate.gaps:
        ohms = "the load" if state.loaded is None else shown(state.loaded.load_resistance, "ohm")
        found += _burst(estimate, "heating.loaded", f"one burst into {ohms}", state.loaded)
    return [*found, _plugged_in(estimate, state.idle), *_duty(estimate, state.duty), *_pulse_train(estimate, state)]


def _plugged_in(estimate: Estimate, idle: ContinuousIdle | None) -> Line:
    label = "plugged in idle for good"
    if idle is None:
        return missing(estimate, "heating.idle", label)
    settled = idle.temperatures
    if settled is None:
        first = "" if idle.first_too_hot is None else f", the first after {duration(idle.first_too_hot)}"
        end = estimate.reasons.get("heating.idle.temperatures_K", "")
        return Line(label=label, value="too hot", note=f"{', '.join(idle.too_hot)}{first}; {end}")
    hottest = max(settled, key=lambda name: settled[name])
    note = "too hot: " + ", ".join(idle.too_hot) if idle.too_hot else "within the limits of repeated work"
    return Line(label=f"{label}, {hottest}", value=shown(settled[hottest], "K"), note=note)


def _duty(estimate: Estimate, duty: DutyState | None) -> list[Line]:
    if duty is None:
        return [missing(estimate, "heating.duty", "repeated bursts")]
    limit = "" if duty.limiting_part is None else f"set by {duty.limiting_part}"
    if (band := estimate.bands.get("heating.duty.allowed_share")) is not None:
        limit = "; ".join(filter(None, (limit, f"{percent(band.low)} to {percent(band.high)}: {band.why}")))
    elif "bands.heating" in estimate.gaps:
        limit = "; ".join(filter(None, (limit, f"band not known: {estimate.reasons['bands.heating']}")))
    found = [
        Line(label="repeated bursts, duty", value=percent(duty.share), note="too hot: " + ", ".join(duty.too_hot))
        if duty.too_hot
        else Line(label="repeated bursts, duty", value=percent(duty.share), note="within the limits of repeated work"),
        Line(label="duty allowed at this period", value=percent(duty.allowed_share), note=limit),
        Line(label="current of the warm machine, r.m.s.", value=shown(duty.current_rms, "A")),
    ]
    if duty.peak_temperatures is None:
        found.append(missing(estimate, "heating.duty.peak_temperatures_K", "  hottest in the steady cycle"))
    for name, temperature in (duty.peak_temperatures or {}).items():
        found.append(Line(label=f"  {name}, hottest in the steady cycle", value=shown(temperature, "K")))
    if duty.bursts_to_steady is not None:
        cool = shown(duty.cool_down_to, "K")
        known = duty.cool_down is not None
        note = f"{duration(duty.cool_down)} to cool down to {cool}" if known else f"not down to {cool} within two days"
        note = f"bursts until steady; {note}"
        found.append(Line(label="bursts", value=f"{duty.bursts_to_steady}", note=note))
    return found


def _pulse_train(estimate: Estimate, state: Heating) -> list[Line]:
    train, label = state.pulses, "a train of pulses"
    if train is None:
        return [missing(estimate, "heating.pulses", label)] if "heating.pulses" in estimate.gaps else []
    note = "too hot: " + ", ".join(train.too_hot) if train.too_hot else "within the limits of repeated work"
    found = [Line(label=label, value=duration(train.duration), note=note)]
    found.append(Line(label="current in a pulse, cold machine, r.m.s.", value=shown(train.current_rms, "A")))
    steady, key = train.steady_temperatures, "heating.pulses.steady_temperatures_K"
    for name, temperature in (train.peak_temperatures or {}).items():
        repeated = "" if steady is None else f"{shown(steady[name], 'K')} with trains repeated for good"
        found.append(Line(label=f"  {name}, hottest in one train", value=shown(temperature, "K"), note=repeated))
    if train.peak_temperatures is None:
        found.append(missing(estimate, "heating.pulses.peak_temperatures_K", "  hottest in one train"))
    if steady is None:
        found.append(missing(estimate, key, "  hottest with trains repeated for good"))
    return found


def _burst(estimate: Estimate, key: str, label: str, state: BurstState | None) -> list[Line]:
    if state is None:
        return [missing(estimate, key, label)]
    if state.longest is None:
        return [Line(label=label, value="no limit", note="no part reaches its limit of repeated work")]
    bare = "" if state.limiting_part in state.parts else ", which passes 627 degC, where the data end"
    found = [Line(label=f"{label}, longest", value=duration(state.longest), note=f"set by {state.limiting_part}{bare}")]
    for name, part in state.parts.items():
        working = "not first" if part.working is None else duration(part.working)
        once = "not first" if part.once is None else duration(part.once)
        closed = "never" if part.adiabatic_once is None else duration(part.adiabatic_once)
        note = f"{shown(part.current_density, 'A/m2')}; fault limit, once: {once}, no heat escaping: {closed}"
        found.append(Line(label=f"  {name}", value=working, note=note))
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
    times = f"{brief(forecast.multiple, 2)} times its rating"
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
        _inrush(estimate, "switch_on", "switching on, nothing connected", state.switch_on),
        _inrush(estimate, "shorted_switch_on", "switching on, lead ends joined", state.shorted_switch_on),
    ]


def _steady(label: str, reading: SteadyMeter, unit: str) -> list[Line]:
    note = f"averaging meter {shown(reading.averaging, unit)}, peak hold {shown(reading.peak, unit)}"
    return [Line(label=f"{label}, true-r.m.s. meter", value=shown(reading.true_rms, unit), note=note)]


def _inrush(estimate: Estimate, name: str, label: str, reading: InrushMeter | None) -> Line:
    if reading is None:
        return missing(estimate, f"meters.{name}", f"{label}, peak hold")
    windows = ", ".join(f"{name} {shown(rms, 'A')}" for name, rms in reading.highest_rms.items() if rms is not None)
    note = f"scaled as a sine {shown(reading.sine_equivalent, 'A')}; r.m.s. over {windows}"
    return Line(label=f"{label}, peak hold", value=shown(reading.peak, "A"), note=note)
