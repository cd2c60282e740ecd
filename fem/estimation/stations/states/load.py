"""A resistance across the lead ends: phasors, or the periodic state behind a rectifier."""

from __future__ import annotations

from dataclasses import dataclass

from fem.design.load import Load
from fem.estimation.case import Case
from fem.estimation.inputs.working import working_of
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadState:
    """A resistance across the lead ends, perhaps behind a rectifier."""

    resistance: float = of("ohm", "load resistance")
    rectifier: str | Unknown = of("", "rectifier between lead ends and load")
    current_rms: float = of("A", "load current, r.m.s.")
    voltage_rms: float = of("V", "load voltage, r.m.s.")
    power: float = of("W", "power in the load")
    primary_current_rms: float = of("A", "primary current, r.m.s.")
    input_apparent_power: float = of("VA", "input apparent power")
    input_power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")
    efficiency: float = of("-", "efficiency", show=Show.SHARE)
    primary_direct_current: float = of("A", "direct part of the primary current")
    core_direct_ampere_turns: float = of("A", "direct ampere-turns on the core")

    FORMULAS = """
    resistance = `job.load.resistance`
    voltage_rms = `.current_rms_A` * `.resistance_ohm`
    power = `.resistance_ohm` * `.current_rms_A`**2
    input_apparent_power = `job.mains.voltage` * (1 - `supply.loaded_dip`) * `.primary_current_rms_A`
    power_factor = `.input_power_W` / `.input_apparent_power_VA`
    efficiency = `.power_W` / `.input_power_W`
    <fem.circuit.steady.load.loaded>
    current_rms: I2 = E N2/N1 / (R2 + Rl + R + j w (N2^2 L + Ll)), |E + (Rs + R1 + j w Ls) I1| = U, R the load's,
        `.resistance_ohm`, U `job.mains.voltage`, X at the secondary `leakage.reactance_secondary_ohm`; behind a
        rectifier r.m.s. of the periodic state in time [textbooks: equivalent circuit of the transformer]
    primary_current_rms: `.current_rms_A` by the turns, `build.secondary.turns` over `build.primary.turns`, and the
        magnetising current [textbooks: equivalent circuit of the transformer]
    input_power: `.power_W` and the heat in windings, leads, joints and core
    """


def load(case: Case) -> LoadState | Unknown:
    """Return the state with the load, if there is one."""
    given = case.design.load
    if given is None:
        return Unknown("no [load] is described")
    resistive = working_of(given).rectifier is None
    return case.attempt(lambda: _by_phasors(case, given) if resistive else _rectified(case, given))


def _by_phasors(case: Case, given: Load) -> LoadState:
    state = case.loaded
    return LoadState(
        resistance=given.resistance,
        rectifier=Unknown("there is none"),
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


def _rectified(case: Case, given: Load) -> LoadState:
    state = case.rectified
    in_load = given.resistance * state.secondary_rms**2  # without the valves' share
    return LoadState(
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


LOAD = Station(
    key="load",
    result=LoadState,
    compute=load,
    banded=("current_rms", "voltage_rms", "power", "primary_current_rms", "input_power"),
)
