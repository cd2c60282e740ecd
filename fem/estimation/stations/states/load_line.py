"""The lead ends from open circuit to short circuit, and where the volts go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fem.circuit.steady.load_line import VoltageDrop, voltage_budget
from fem.circuit.steady.load_line import load_line as trace
from fem.circuit.time.wave_budget import WaveDrop, wave_budget
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import lead_impedance
from fem.estimation.inputs.working import SHORT
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class Drop:
    """One part's share of the mains voltage, as it appears at the secondary."""

    voltage: float = of("V", "size")
    share: float = of("-", "share of the voltage without load, in phase", show=Show.SHARE)


@dataclass(frozen=True, kw_only=True, slots=True)
class LoadLineState:
    """The lead ends from open circuit to short circuit."""

    current_rms: tuple[float, ...] = of("A", "current")
    voltage_rms: tuple[float, ...] = of("V", "voltage at the lead ends")
    input_current_rms: tuple[float, ...] = of("A", "primary current")
    efficiency: tuple[float, ...] = of("-", "efficiency", show=Show.SHARE)
    most_power: float = of("W", "greatest power into a resistance")
    resistance_of_most_power: float = of("ohm", "that resistance")
    current_of_most_power: float = of("A", "its current")
    drops: Mapping[str, Drop] | Unknown = of("", "where the volts go, at the load or shorted")


def load_line(case: Case) -> LoadLineState:
    """Return the lead ends from open circuit to short circuit, and where the volts go at the load (else shorted)."""
    found = trace(case.circuit, at=case.circuit_with)
    budget = attempt(lambda: _budget(case))
    return LoadLineState(
        current_rms=tuple(map(float, found.current)),
        voltage_rms=tuple(map(float, found.voltage)),
        input_current_rms=tuple(map(float, found.primary_current)),
        efficiency=tuple(map(float, found.efficiency)),
        most_power=found.strongest.load_power,
        resistance_of_most_power=found.strongest.load_resistance,
        current_of_most_power=found.strongest.secondary_current_rms,
        drops=(
            budget
            if isinstance(budget, Unknown)
            else {drop.name: Drop(voltage=drop.magnitude, share=drop.share) for drop in budget}
        ),
    )


def _budget(case: Case) -> tuple[VoltageDrop, ...] | tuple[WaveDrop, ...]:
    """Return where the volts go at the load, or with the lead ends joined where there is none."""
    working, joints = case.working or SHORT, lead_impedance(case.design).joint_resistance
    circuit = case.circuit if case.design.load is None else case.loaded_circuit
    if working.rectifier is not None:
        return wave_budget(circuit, case.rectified, joint_resistance=joints)
    return voltage_budget(circuit, working.resistance, joint_resistance=joints).drops


LOAD_LINE = Station(key="load_line", result=LoadLineState, compute=load_line, part=Part.LOAD_LINE)
