"""The section of an estimate about heat in the machine: one burst, plugged in idle, bursts repeated for good."""

from __future__ import annotations

from collections.abc import Iterable
from math import isfinite

from fem.errors import OutOfRange
from fem.lumped.duty import allowed_duty, cool_down_time
from fem.lumped.heat import Network, Phase
from fem.lumped.heat_adiabatic import AdiabaticMetal, adiabatic_metal
from fem.lumped.heat_burst import burst, continuous, pulses
from fem.lumped.heat_coupled import hot_cycle
from fem.lumped.heat_cycle import steady_cycle
from fem.lumped.heat_machine import (
    WINDING_TO_CORE_BAND,
    WINDING_TO_WINDING_BAND,
    circuit_at,
    phase_idle,
    phase_loaded,
)
from fem.lumped.heat_march import march
from fem.lumped.load import loaded
from fem.study import results_bench
from fem.study.case import Case
from fem.study.design import Duty, Pulses
from fem.study.machine import heat_network
from fem.study.result_fields import Band

ROOM = 298.15
COOL = 313.15
"""Temperature [K] down to which cooling is counted: 40 degC."""


def heating(case: Case) -> results_bench.Heating:
    """Return what the machine's parts stand; what fails among it is a gap."""
    duty, given, attempt = case.design.duty, case.design.pulses, case.gaps.attempt
    ambient = duty.ambient if duty is not None else ROOM
    network = heat_network(case, ambient)
    return results_bench.Heating(
        ambient=ambient,
        shorted=attempt("heating.shorted", lambda: _burst(case, network, 0.0)),
        loaded=attempt("heating.loaded", lambda: _loaded(case, network)),
        idle=attempt("heating.idle", lambda: _plugged_in(case, network)),
        duty=None if duty is None else attempt("heating.duty", lambda: _duty(case, network, duty)),
        pulses=None if given is None else attempt("heating.pulses", lambda: _pulse_train(case, network, given)),
    )


def heating_reasons(case: Case, state: results_bench.Heating | None) -> dict[str, str]:
    """Return why results about heat are None."""
    if state is None:
        return {}
    reasons = {}
    if state.loaded is None:
        reasons["heating.loaded"] = "neither [load] nor [work_piece] is described"
    if case.design.duty is None:
        reasons["heating.duty"] = "no [duty] is described"
    if case.design.pulses is None:
        reasons["heating.pulses"] = "no [pulses] are described"
    elif case.design.pulses.rest is None:
        reasons["heating.pulses.steady_temperatures_K"] = "no pulses.rest is given"
    if state.idle is not None and state.idle.temperatures is None:
        reasons["heating.idle.temperatures_K"] = "some part passes 627 degC before it settles"
    return reasons


def _metals(case: Case) -> dict[str, AdiabaticMetal]:
    windings = case.design.windings
    found = {name: getattr(windings, name).material for name in ("primary", "secondary")}
    if case.design.leads is not None:
        found["lead 1"] = case.design.leads.material
    return {node: adiabatic_metal(name) for node, name in found.items()}


def _burst(case: Case, network: Network, load_resistance: float) -> results_bench.BurstState:
    cold = circuit_at(case.circuit, network, network.at_ambient(), case.design.temperature)
    found = burst(network, phase_loaded(loaded(cold, load_resistance), 1.0), metals=_metals(case))
    return results_bench.BurstState(
        load_resistance=load_resistance,
        longest=_finite(found.longest),
        limiting_part=found.limiting,
        parts={
            name: results_bench.PartBurst(
                working=_finite(part.working),
                once=_finite(part.once),
                adiabatic_once=part.adiabatic_once,
                current_density=part.current_density,
            )
            for name, part in found.parts.items()
        },
    )


def _loaded(case: Case, network: Network) -> results_bench.BurstState | None:
    load_resistance = case.load_resistance
    return None if load_resistance is None else _burst(case, network, load_resistance)


def _plugged_in(case: Case, network: Network) -> results_bench.ContinuousIdle:
    found = continuous(network, phase_idle(case.at_idle, 1.0))
    settled = found.temperatures
    return results_bench.ContinuousIdle(
        temperatures=None if settled is None else _named(network, settled),
        too_hot=found.over,
        first_too_hot=_finite(found.first_over),
    )


def _duty(case: Case, network: Network, duty: Duty) -> results_bench.DutyState:
    off, load_resistance = _pause(case, duty), case.load_resistance or 0.0
    period = duty.on_time + duty.off_time
    try:
        found = hot_cycle(
            case.circuit,
            network,
            on_time=duty.on_time,
            off=off,
            now=case.design.temperature,
            load_resistance=load_resistance,
        )
    except OutOfRange:
        return _too_much(case, network, duty, load_resistance)
    cycle = found.cycle
    limits = {n.name: n.insulation.mean_limit for n in network.nodes if n.insulation is not None}
    peaks = _named(network, cycle.peak)
    allowed = allowed_duty(network, phase_loaded(found.state, 1.0), period, off=off)
    return results_bench.DutyState(
        share=duty.on_time / period,
        current_rms=found.state.secondary_current_rms,
        peak_temperatures=peaks,
        too_hot=tuple(name for name, limit in limits.items() if peaks[name] > limit),
        bursts_to_steady=cycle.cycles,
        allowed_share=allowed.share,
        limiting_part=allowed.limiting,
        cool_down=cool_down_time(network, cycle.peak, max(COOL, network.ambient + 5.0)),
    )


def heating_bands(case: Case, state: results_bench.Heating | None) -> dict[str, Band]:
    """Return what poor and good contact between windings and core makes of the duty that is allowed."""
    duty = case.design.duty
    if duty is None or state is None or state.duty is None:
        return {}
    shares = [state.duty.allowed_share]
    for to_core, to_winding in zip(WINDING_TO_CORE_BAND, WINDING_TO_WINDING_BAND, strict=True):
        network = heat_network(case, duty.ambient, winding_to_core=to_core, winding_to_winding=to_winding)
        phase = phase_loaded(loaded(case.circuit, case.load_resistance or 0.0), 1.0)
        shares.append(allowed_duty(network, phase, duty.on_time + duty.off_time, off=_pause(case, duty)).share)
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
    warm = circuit_at(case.circuit, network, network.at_ambient(), case.design.temperature)
    cold = loaded(warm, case.load_resistance or 0.0)
    idling = phase_idle(case.at_idle, 1.0)
    train = pulses(
        phase_loaded(cold, 1.0),
        idling,
        cycles_on=given.weld_cycles,
        cycles_off=given.pause_cycles,
        count=given.count,
        frequency=case.design.mains.frequency,
    )
    once = march(network, train).temperatures.max(axis=0)
    steady = None
    if given.rest is not None:
        repeated = (*train, idling.lasting(given.rest))
        steady = case.gaps.attempt(
            "heating.pulses.steady_temperatures_K", lambda: steady_cycle(network, repeated, count=False).peak
        )
    hottest = once if steady is None else steady
    limits = [(k, n) for k, n in enumerate(network.nodes) if n.insulation is not None]
    return results_bench.PulseTrain(
        duration=sum(phase.duration for phase in train),
        current_rms=cold.secondary_current_rms,
        peak_temperatures=_named(network, once),
        steady_temperatures=None if steady is None else _named(network, steady),
        too_hot=tuple(n.name for k, n in limits if n.insulation is not None and hottest[k] > n.insulation.mean_limit),
    )


def _too_much(case: Case, network: Network, duty: Duty, load_resistance: float) -> results_bench.DutyState:
    """Return a duty that no part of the network survives: what is allowed instead, with the cold machine's currents."""
    cold = circuit_at(case.circuit, network, network.at_ambient(), case.design.temperature)
    state = loaded(cold, load_resistance)
    period = duty.on_time + duty.off_time
    off = _pause(case, duty)
    allowed = allowed_duty(network, phase_loaded(state, 1.0), period, off=off)
    return results_bench.DutyState(
        share=duty.on_time / period,
        current_rms=state.secondary_current_rms,
        peak_temperatures=None,
        too_hot=tuple(n.name for n in network.nodes if n.insulation is not None),
        bursts_to_steady=None,
        allowed_share=allowed.share,
        limiting_part=allowed.limiting,
        cool_down=None,
    )


def _named(network: Network, temperatures: Iterable[float]) -> dict[str, float]:
    return {name: float(t) for name, t in zip(network.names, temperatures, strict=True)}


def _finite(value: float | None) -> float | None:
    return value if value is not None and isfinite(value) else None
