"""The section of an estimate about the load: phasors, or the periodic state behind a rectifier."""

from __future__ import annotations

from fem.circuit.steady.load import loaded
from fem.design.load import Load
from fem.estimation.case import Case
from fem.estimation.stations import results
from fem.estimation.working import working_of


def load(case: Case) -> results.LoadState | None:
    """Return the state with the load, if there is one: phasors, or the periodic state behind a rectifier."""
    given, circuit = case.design.load, case.circuit
    if given is None:
        return None
    if working_of(given).rectifier is not None:
        return _rectified(case, given)
    state = loaded(circuit, given.resistance)
    return results.LoadState(
        resistance=given.resistance,
        rectifier=None,
        current_rms=state.secondary_current_rms,
        voltage_rms=state.load_voltage_rms,
        power=state.load_power,
        primary_current_rms=state.primary_current_rms,
        input_apparent_power=state.input_apparent_power,
        input_power=state.input_power,
        power_factor=state.power_factor,
        efficiency=state.efficiency,
        primary_direct_current=0.0,
        core_direct_ampere_turns=0.0,
    )


def _rectified(case: Case, given: Load) -> results.LoadState:
    state = case.rectified
    in_load = given.resistance * state.secondary_rms**2  # without the valves' share
    return results.LoadState(
        resistance=given.resistance,
        rectifier=given.rectifier.value,
        current_rms=state.secondary_rms,
        voltage_rms=given.resistance * state.secondary_rms,
        power=in_load,
        primary_current_rms=state.primary_rms,
        input_apparent_power=state.apparent_power,
        input_power=state.real_power,
        power_factor=state.real_power / state.apparent_power,
        efficiency=in_load / state.real_power,
        primary_direct_current=state.primary_mean,
        core_direct_ampere_turns=state.magnetising_mean,
    )
