"""The section of an estimate about heat in the machine: one burst, plugged in idle, bursts repeated for good."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import isfinite

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.design.duty import Duty
from fem.design.pulses import Pulses
from fem.errors import TooHot
from fem.estimation.case import Case
from fem.estimation.heat_network import heat_network
from fem.estimation.stations import results_bench
from fem.estimation.working import SHORT, Working
from fem.heat.burst import burst, continuous
from fem.heat.coupled import HotCycle, circuit_at, hot_cycle, hot_duty
from fem.heat.duty import Duty as AllowedDuty
from fem.heat.duty import cool_down_time
from fem.heat.machine import WINDING_TO_CORE_BAND, WINDING_TO_WINDING_BAND
from fem.heat.march import march
from fem.heat.network import CEILING, Network
from fem.heat.phases import Phase, phase_idle, pulses
from fem.quantity import Band

ROOM = 298.15
COOL = 313.15
"""Temperature [K] down to which cooling is counted where the room is cool enough to get there: 40 degC."""
ABOVE_ROOM = 5.0
"""Least difference to the room that is waited for [K]: the rest takes for ever."""


def heating(case: Case) -> results_bench.Heating:
    """Return what the machine's parts stand; what fails among it is a gap."""
    duty, given, attempt = case.design.duty, case.design.pulses, case.gaps.attempt
    ambient = duty.ambient if duty is not None else ROOM
    network = heat_network(case, ambient)
    if duty is None:
        case.gaps.explain("heating.duty", "no [duty] is described")
    if given is None:
        case.gaps.explain("heating.pulses", "no [pulses] are described")
    return results_bench.Heating(
        ambient=ambient,
        shorted=attempt("heating.shorted", lambda: _burst(case, network, SHORT, "heating.shorted")),
        loaded=attempt("heating.loaded", lambda: _loaded(case, network)),
        idle=attempt("heating.idle", lambda: _plugged_in(case, network)),
        duty=None if duty is None else attempt("heating.duty", lambda: _duty(case, network, duty)),
        pulses=None if given is None else attempt("heating.pulses", lambda: _pulse_train(case, network, given)),
    )


def _burst(case: Case, network: Network, working: Working, key: str) -> results_bench.BurstState:
    found = burst(network, working.flow(_cold(case, network)))
    end = "not reached within two days" if found.beyond is None else str(found.beyond)
    times = {}
    for name, part in found.parts.items():
        values = {"working": part.working, "once": part.once, "adiabatic_once": part.adiabatic_once}
        times[name] = {which: _finite(value) for which, value in values.items()}
        for which, value in times[name].items():
            if value is None:
                case.gaps.explain(f"{key}.parts.{name}.{which}_s", end)
    if not isfinite(found.longest):
        case.gaps.explain(f"{key}.longest_s", "no part reaches its limit of repeated work")
    return results_bench.BurstState(
        load_resistance=working.resistance,
        longest=_finite(found.longest),
        limiting_part=found.limiting,
        parts={
            name: results_bench.PartBurst(**times[name], current_density=part.current_density)
            for name, part in found.parts.items()
        },
    )


def _cold(case: Case, network: Network) -> Circuit:
    return circuit_at(case.circuit, network, network.at_ambient(), case.design.temperature)


def _loaded(case: Case, network: Network) -> results_bench.BurstState | None:
    working = case.working
    if working is None:
        case.gaps.explain("heating.loaded", "neither [load] nor [work_piece] is described")
        return None
    return _burst(case, network, working, "heating.loaded")


def _plugged_in(case: Case, network: Network) -> results_bench.ContinuousIdle:
    found = continuous(network, phase_idle(case.at_idle, 1.0))
    settled = found.temperatures
    if settled is None:
        end = "some part passes 627 degC before it settles" if found.beyond is None else str(found.beyond)
        case.gaps.explain("heating.idle.temperatures_K", end)
    return results_bench.ContinuousIdle(
        temperatures=None if settled is None else _named(network, settled),
        too_hot=found.over,
        first_too_hot=_finite(found.first_over),
    )


def _duty(case: Case, network: Network, duty: Duty) -> results_bench.DutyState:
    working, off, period = case.working or SHORT, _pause(case, duty), duty.on_time + duty.off_time
    allowed = _allowed(case, network, duty)

    def cycle(on: Phase) -> Sequence[Phase]:
        return (on.lasting(duty.on_time), off)

    found = _steady(case, network, working, cycle, count=True)
    hot = None if isinstance(found, TooHot) else found
    if isinstance(found, TooHot):
        for name in ("peak_temperatures_K", "bursts_to_steady", "cool_down_s"):
            case.gaps.explain(f"heating.duty.{name}", str(found))
    peaks = found.temperatures if isinstance(found, TooHot) else found.cycle.peak
    on = working.flow(_cold(case, network)) if hot is None else hot.on
    cool = max(COOL, network.ambient + ABOVE_ROOM)
    cool_down = None if hot is None else _finite(cool_down_time(network, peaks, cool))
    if hot is not None and cool_down is None:
        case.gaps.explain("heating.duty.cool_down_s", "not reached within two days")
    return results_bench.DutyState(
        share=duty.on_time / period,
        current_rms=on.secondary_current,
        peak_temperatures=None if hot is None else _named(network, peaks),
        too_hot=_over(network, peaks),
        bursts_to_steady=None if hot is None else hot.cycle.cycles,
        allowed_share=allowed.share,
        limiting_part=allowed.limiting,
        cool_down=cool_down,
        cool_down_to=cool,
    )


def _allowed(case: Case, network: Network, duty: Duty) -> AllowedDuty:
    return hot_duty(
        case.circuit,
        network,
        (case.working or SHORT).flow,
        period=duty.on_time + duty.off_time,
        off=_pause(case, duty),
        now=case.design.temperature,
    )


def _over(network: Network, peaks: Floats) -> tuple[str, ...]:
    """Return the parts whose highest mean temperatures pass their limit of repeated work, or the end of the data."""
    return tuple(
        node.name
        for node, peak in zip(network.nodes, peaks, strict=True)
        if peak > (CEILING - 1e-6 if node.insulation is None else node.insulation.mean_limit)
    )


def heating_bands(case: Case, state: results_bench.Heating | None) -> dict[str, Band]:
    """Return what poor and good contact between windings and core makes of the duty that is allowed."""
    duty = case.design.duty
    if duty is None or state is None or state.duty is None:
        return {}
    shares = [state.duty.allowed_share]
    for to_core, to_winding in zip(WINDING_TO_CORE_BAND, WINDING_TO_WINDING_BAND, strict=True):
        network = heat_network(case, duty.ambient, winding_to_core=to_core, winding_to_winding=to_winding)
        shares.append(_allowed(case, network, duty).share)
    low, high = WINDING_TO_CORE_BAND
    return {
        "heating.duty.allowed_share": Band(
            low=min(shares),
            high=max(shares),
            why=f"{low:g} to {high:g} W/(m2 K) from winding to core, common practice",
        )
    }


def _pause(case: Case, duty: Duty) -> Phase:
    return phase_idle(case.at_idle, duty.off_time) if duty.plugged_in else Phase(duration=duty.off_time)


def _pulse_train(case: Case, network: Network, given: Pulses) -> results_bench.PulseTrain:
    working, idling, key = case.working or SHORT, phase_idle(case.at_idle, 1.0), "heating.pulses"
    cold = working.flow(_cold(case, network))

    def train(on: Phase) -> tuple[Phase, ...]:
        return pulses(
            on,
            idling,
            cycles_on=given.weld_cycles,
            cycles_off=given.pause_cycles,
            count=given.count,
            frequency=case.design.mains.frequency,
        )

    def repeated(on: Phase) -> tuple[Phase, ...]:
        return (*train(on), idling.lasting(given.rest or 0.0))

    once: Floats | None = None
    steady: HotCycle | TooHot | None = None
    try:
        hottest = once = march(network, train(cold)).temperatures.max(axis=0)
    except TooHot as error:
        hottest = error.temperatures
        case.gaps.explain(f"{key}.peak_temperatures_K", str(error))
        case.gaps.explain(f"{key}.steady_temperatures_K", str(error))
    else:
        if given.rest is None:
            case.gaps.explain(f"{key}.steady_temperatures_K", "no pulses.rest is given")
        else:
            attempt = case.gaps.attempt
            steady = attempt(
                f"{key}.steady_temperatures_K", lambda: _steady(case, network, working, repeated, count=False)
            )
    if isinstance(steady, TooHot):
        hottest = steady.temperatures
        case.gaps.explain(f"{key}.steady_temperatures_K", str(steady))
    elif steady is not None:
        hottest = np.maximum(hottest, steady.cycle.peak)
    return results_bench.PulseTrain(
        duration=sum(phase.duration for phase in train(cold)),
        current_rms=cold.secondary_current,
        peak_temperatures=None if once is None else _named(network, once),
        steady_temperatures=_named(network, steady.cycle.peak) if isinstance(steady, HotCycle) else None,
        too_hot=_over(network, hottest),
    )


def _steady(
    case: Case,
    network: Network,
    working: Working,
    phases: Callable[[Phase], Sequence[Phase]],
    *,
    count: bool,
) -> HotCycle | TooHot:
    """Return the cycle that bursts repeated for good settle into, or which part settles beyond the data."""
    try:
        return hot_cycle(case.circuit, network, working.flow, phases, now=case.design.temperature, count=count)
    except TooHot as error:
        return error


def _named(network: Network, temperatures: Iterable[float]) -> dict[str, float]:
    return {name: float(t) for name, t in zip(network.names, temperatures, strict=True)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None
