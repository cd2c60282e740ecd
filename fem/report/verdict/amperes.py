"""Answers about volts and amperes: at the lead ends, into the work, in the mains."""

from __future__ import annotations

from collections.abc import Iterator

from fem.digits import duration
from fem.estimation.result import Estimate
from fem.estimation.stations.bench.supply import BURST, DeviceForecast
from fem.quantity import Unknown
from fem.report.text.numbers import shown
from fem.report.verdict.answer import INTO, Answer, Decides, banded, gap, lost

BY_BEHAVIOUR = {"holds": Decides.GO, "may open": Decides.CARE, "opens": Decides.STOP}
SEEN = {BURST: "mains, burst", "with the load": "mains, loaded", "shorted": "mains, joined"}
"""What the mains line is about, by the state in which devices are forecast."""
RANK = list(BY_BEHAVIOUR).index


def fit(estimate: Estimate) -> Answer:
    """Say what is to spare; where something does not fit there is no estimate."""
    build = estimate.build
    width = shown(min(build.primary.spare_build, build.secondary.spare_build), "m")
    return Answer(
        question="does it fit?",
        answer=f"fits: {shown(build.spare_height, 'm')} along, {width} across to spare",
        decides=Decides.GO,
    )


def lead_ends(estimate: Estimate) -> Answer:
    """Say what stands at the lead ends, and what flows through them joined."""
    volts = banded(estimate, "open_circuit.secondary_voltage_rms_V", estimate.open_circuit.secondary_voltage_rms, "V")
    current = estimate.short_circuit.secondary_current_rms
    amperes = banded(estimate, "short_circuit.secondary_current_rms_A", current, "A")
    return Answer(question="lead ends", answer=f"{volts} no-load; joined {amperes}")


def into(estimate: Estimate) -> Iterator[Answer]:
    """Say what flows into the work, else into the load."""
    if work := estimate.work_piece:
        burst = estimate.heating.burst if estimate.heating else None
        last = banded(estimate, "work_piece.hot_current_rms_A", work.hot_current_rms, "A")
        after = f" of {duration(burst.duration)}" if burst else ""
        yield Answer(
            question=INTO["burst"], answer=f"{shown(work.cold_current_rms, 'A')} at first, {last} at the end{after}"
        )
    elif (why := gap(estimate.work_piece)) is not None:
        yield lost(INTO["burst"], why)
    elif load := estimate.load:
        amperes = banded(estimate, "load.current_rms_A", load.current_rms, "A")
        watts = banded(estimate, "load.power_W", load.power, "W")
        yield Answer(question=INTO["loaded"], answer=f"{amperes}; {watts} in {shown(load.resistance, 'ohm')}")
    elif (why := gap(estimate.load)) is not None:
        yield lost(INTO["loaded"], why)


def mains(estimate: Estimate) -> Iterator[Answer]:
    """Say what the mains see of this burst, else of the load or of joined lead ends."""
    supply, load = estimate.supply, estimate.load
    joined = estimate.short_circuit.primary_current_rms
    state, amperes = "shorted", banded(estimate, "short_circuit.primary_current_rms_A", joined, "A")
    if burst := supply.burst:
        state, amperes = BURST, f"up to {shown(max(burst.first_current_rms, burst.last_current_rms), 'A')}"
    elif load:
        state = "with the load"
        amperes = banded(estimate, "load.primary_current_rms_A", load.primary_current_rms, "A")
    device, forecast = worst(estimate, state)
    repeated = (supply.repeated_bursts or {}).get(device)
    if forecast is None:
        yield Answer(question=SEEN[state], answer=amperes)
        return
    question, does, behaviour = SEEN[state], when(forecast), forecast.behaviour
    if state == BURST:
        if repeated is not None and RANK(repeated.behaviour) > RANK(behaviour):
            does, behaviour = f"{does}; repeated {repeated.behaviour}", repeated.behaviour
    elif repeated is not None:
        # a burst of [duty] is over before what stays would open it
        question, does, behaviour = "mains, bursts", repeated.behaviour, repeated.behaviour
        if behaviour != "holds" and not isinstance(repeated.earliest_cold, Unknown):
            does += f" after {duration(repeated.earliest_cold)}"
    share = f"{100 * forecast.multiple:.0f} % of {short_name(device)}"
    yield Answer(question=question, answer=f"{amperes}, {share}: {does}", decides=BY_BEHAVIOUR[behaviour])


def switching_on(estimate: Estimate) -> Iterator[Answer]:
    """Say how high the first peak may be, and what the breaker makes of it."""
    switched = estimate.switch_on
    if isinstance(switched, Unknown):
        yield from [lost("switching on", switched)] if switched.gap else []
        return
    peak = banded(estimate, "switch_on.primary_first_peak_A", switched.primary_first_peak, "A")
    device, forecast = worst(estimate, "switching on")
    if forecast is None:
        yield Answer(question="switching on", answer=f"{peak} first peak")
        return
    at_once = "" if forecast.behaviour == "holds" else " at once"
    does = f"{short_name(device)} {forecast.behaviour}{at_once}"
    yield Answer(question="switching on", answer=f"{peak} first peak: {does}", decides=BY_BEHAVIOUR[forecast.behaviour])


def no_load(estimate: Estimate) -> Answer:
    """Say what the machine draws by itself, and how far its iron is driven."""
    saturation = estimate.saturation
    amperes = banded(estimate, "idle.current_rms_A", estimate.idle.current_rms, "A")
    peak, most = saturation.peak_flux_density, saturation.target_flux_density
    tesla = banded(estimate, "saturation.peak_flux_density_T", peak, "T")
    return Answer(
        question="no-load",
        answer=f"{amperes}; {tesla}, {'above' if peak > most else 'within'} {shown(most, 'T')}",
        decides=Decides.CARE if peak > most else Decides.GO,
    )


def worst(estimate: Estimate, state: str) -> tuple[str, DeviceForecast | None]:
    """Return the device that fares worst in a state, and how."""
    found = {name: states[state] for name, states in estimate.supply.devices.items() if state in states}
    if not found:
        return "", None
    name = max(found, key=lambda one: (RANK(found[one].behaviour), found[one].multiple))
    return name, found[name]


def when(forecast: DeviceForecast) -> str:
    """Say what a device does and within what time."""
    first, last = forecast.earliest, forecast.latest
    if forecast.behaviour == "opens" and not isinstance(last, Unknown):
        early = "within" if isinstance(first, Unknown) or not first else f"after {duration(first)} to"
        return f"opens {early} {duration(last)}"
    if forecast.behaviour == "may open" and not isinstance(first, Unknown):
        return f"may open after {duration(first)}" if first else "may open at once"
    return forecast.behaviour


def short_name(device: str) -> str:
    """Return a device's name as a line has room for it."""
    return device.removesuffix(" breaker")
