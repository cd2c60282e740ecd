"""Lines of the report about heat: one burst, left plugged in, repeated bursts."""

from __future__ import annotations

from collections.abc import Mapping

from fem.digits import duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.bursts import BurstState, ContinuousIdle, WorkBurst
from fem.estimation.stations.bench.heating import Heating
from fem.estimation.stations.bench.joints import JointHeatState
from fem.estimation.stations.bench.repeated import DutyState
from fem.quantity import Show, Unknown
from fem.report.text.lines import Line, line_of, lines_of, missing, untold
from fem.report.text.numbers import percent, shown

MELTED = "; melted through after {}: values are those at that moment"


def heating(estimate: Estimate) -> list[Line]:
    """Return the lines about heat: one burst, idle for good, repeated bursts."""
    state = estimate.heating
    if isinstance(state, Unknown):
        return []
    joints, loaded = state.joints or {}, state.loaded
    shorted_heat = {name: group.heat_shorted for name, group in joints.items()}
    loaded_heat = {name: group.heat_loaded or 0.0 for name, group in joints.items()}
    found = _work_burst(estimate, state.burst, joints)
    found += _burst(estimate, "shorted", "lead ends joined", state.shorted, shorted_heat)
    if not isinstance(loaded, Unknown):
        label = f"into {shown(loaded.load_resistance, 'ohm')}"
        found += _burst(estimate, "loaded", label, loaded, loaded_heat)
    elif loaded.gap:
        found += _burst(estimate, "loaded", "into the load", loaded, loaded_heat)
    told = ("ambient", "burst", "shorted", "loaded", "idle", "duty", "pulses", "joints")
    rest = lines_of(estimate, "heating", state, untold(state, *told))
    return [*found, _plugged_in(estimate, state.idle), *_duty(estimate, state.duty), *_pulse_train(state), *rest]


def _work_burst(estimate: Estimate, burst: WorkBurst | Unknown, joints: Mapping[str, JointHeatState]) -> list[Line]:
    label = "this burst (work piece)"
    if isinstance(burst, Unknown):
        return [missing(burst, label)] if burst.gap else []
    flows = f"{shown(burst.last_current_rms, 'A')} at the end, {shown(burst.current_rms, 'A')} r.m.s. over it"
    melted = "" if isinstance(burst.melted_through, Unknown) else MELTED.format(duration(burst.melted_through))
    label = f"{label}, {duration(burst.duration)}"
    found = [
        Line(label=f"{label}: current at first, r.m.s.", value=shown(burst.first_current_rms, "A"), note=flows + melted)
    ]
    longest, part = burst.longest, burst.limiting_part
    key, label = "heating.burst.longest_s", "  longest burst, the current left on"
    found.append(line_of(estimate, key, label, longest, "s", before=f"set by {part}"))
    for name, temperature in burst.temperatures.items():
        if name == "joints" and name not in joints:  # told group by group
            continue
        hot = "; too hot" if name in burst.too_hot else ""
        key = f"heating.burst.temperatures_K.{name}"
        made = f"{shown(burst.heat[name], 'J')} made in it{hot}"
        found.append(line_of(estimate, key, f"  {name} at its end", temperature, "K", after=made))
    return found


def _plugged_in(estimate: Estimate, idle: ContinuousIdle | Unknown) -> Line:
    label = "left plugged in at no-load"
    if isinstance(idle, Unknown):
        return missing(idle, label)
    settled, hot = idle.temperatures, idle.first_too_hot
    if isinstance(settled, Unknown):
        first = "" if isinstance(hot, Unknown) else f", the first after {duration(hot)}"
        return Line(label=label, value="too hot", note=f"{', '.join(idle.too_hot)}{first}; {settled.reason}")
    hottest = max(settled, key=lambda name: settled[name])
    note = "too hot: " + ", ".join(idle.too_hot) if idle.too_hot else "within the limits of repeated work"
    key = f"heating.idle.temperatures_K.{hottest}"
    return line_of(estimate, key, f"{label}, {hottest}", settled[hottest], "K", before=note)


def _duty(estimate: Estimate, duty: DutyState | Unknown) -> list[Line]:
    if isinstance(duty, Unknown):
        return [missing(duty, "repeated bursts")]
    limit = "" if isinstance(duty.limiting_part, Unknown) else f"set by {duty.limiting_part}"
    key, lost = "heating.duty.allowed_share", estimate.bands.get("heating")
    no_band = f"band not known: {lost.reason}" if isinstance(lost, Unknown) and key not in estimate.bands else ""
    verdict = "too hot: " + ", ".join(duty.too_hot) if duty.too_hot else "within the limits of repeated work"
    found = [
        Line(label=f"repeated bursts into {duty.works_into}, duty", value=percent(duty.share), note=verdict),
        line_of(
            estimate,
            key,
            "duty allowed at this period",
            duty.allowed_share,
            "-",
            show=Show.SHARE,
            before=limit,
            after=no_band,
        ),
    ]
    if not isinstance(duty.allowed_share_with_load, Unknown):
        key = "heating.duty.allowed_share_with_load"
        label = "  the same into the load in place of the work"
        found.append(line_of(estimate, key, label, duty.allowed_share_with_load, "-", show=Show.SHARE))
    key, label = "heating.duty.shortest_period_s", "least time from burst to burst"
    found += [
        line_of(estimate, key, label, duty.shortest_period, "s", before="of bursts as long as these"),
        Line(label="current of the warm machine, r.m.s. over a burst", value=shown(duty.current_rms, "A")),
    ]
    peaks = duty.peak_temperatures
    if isinstance(peaks, Unknown):
        return [*found, missing(peaks, "  hottest in the steady cycle")]
    heating = estimate.heating
    joints = (heating.joints if heating else None) or {}
    for name, temperature in peaks.items():
        if name == "joints" and name not in joints:  # told group by group
            continue
        low = f"{shown(duty.lowest_temperatures[name], 'K')} at its coldest" if duty.lowest_temperatures else ""
        key = f"heating.duty.peak_temperatures_K.{name}"
        found.append(line_of(estimate, key, f"  {name}, hottest in the steady cycle", temperature, "K", after=low))
    if not isinstance(duty.bursts_to_steady, Unknown):
        cool, time = shown(duty.cool_down_to, "K"), duty.cool_down
        note = f"not down to {cool} within two days"
        if not isinstance(time, Unknown):
            down = line_of(estimate, "heating.duty.cool_down_s", "", time, "s")
            note = "; ".join(filter(None, (f"{down.value} to cool down to {cool}", down.note)))
        note = f"bursts until steady; {note}"
        found.append(Line(label="bursts", value=f"{duty.bursts_to_steady}", note=note))
    return found


def _pulse_train(state: Heating) -> list[Line]:
    train, label = state.pulses, "a train of pulses"
    if isinstance(train, Unknown):
        return [missing(train, label)] if train.gap else []
    note = "too hot: " + ", ".join(train.too_hot) if train.too_hot else "within the limits of repeated work"
    found = [Line(label=label, value=duration(train.duration), note=note)]
    found.append(Line(label="current in a pulse, cold machine, r.m.s.", value=shown(train.current_rms, "A")))
    once, steady = train.peak_temperatures, train.steady_temperatures
    for name, temperature in (once or {}).items():
        repeated = "" if isinstance(steady, Unknown) else f"{shown(steady[name], 'K')} with trains repeated for good"
        found.append(Line(label=f"  {name}, hottest in one train", value=shown(temperature, "K"), note=repeated))
    if isinstance(once, Unknown):
        found.append(missing(once, "  hottest in one train"))
    if isinstance(steady, Unknown):
        found.append(missing(steady, "  hottest with trains repeated for good"))
    return found


def _burst(
    estimate: Estimate, which: str, label: str, state: BurstState | Unknown, joints: Mapping[str, float]
) -> list[Line]:
    if isinstance(state, Unknown):
        return [missing(state, label)]
    if isinstance(state.longest, Unknown):
        return [Line(label=label, value="no limit", note="no part reaches its limit of repeated work")]
    bare = "" if state.limiting_part in state.parts else ", which passes 627 degC, where the data end"
    key, set_by = f"heating.{which}.longest_s", f"set by {state.limiting_part}{bare}"
    found = [line_of(estimate, key, f"longest burst, {label}", state.longest, "s", before=set_by)]
    for name, part in state.parts.items():
        working = "later" if isinstance(part.working, Unknown) else duration(part.working)
        once = "later" if isinstance(part.once, Unknown) else duration(part.once)
        closed = "never" if isinstance(part.adiabatic_once, Unknown) else duration(part.adiabatic_once)
        driven = shown(joints[name], "W") if name in joints else shown(part.current_density, "A/m2")
        note = f"{driven}; fault limit, once: {once}, no heat escaping: {closed}"
        found.append(Line(label=f"  {name}", value=working, note=note))
    return found
