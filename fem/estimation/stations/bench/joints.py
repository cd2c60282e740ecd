"""Heat of the joints between winding and work: what each makes, and how hot it gets in repeated bursts."""

from __future__ import annotations

from dataclasses import dataclass

from fem.estimation.inputs.joints import joints_of
from fem.estimation.inputs.working import SHORT, working_of
from fem.estimation.stations.bench.machine import Machine
from fem.estimation.stations.bench.repeated import DutyState
from fem.quantity import Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class JointHeatState:
    """Heat of joints of one kind at one end of the leads, all of them together."""

    heat_shorted: float = of("W", "heat with the lead ends joined, cold machine")
    heat_loaded: float | Unknown = of("W", "heat with the load, cold machine")
    temperature: float | Unknown = of("K", "highest in the steady cycle of bursts")

    FORMULAS = """
    heat_shorted: resistance of the group, among `joints.resistance_ohm`, times the square of the current with lead ends
        joined, the machine as warm as the room
    temperature: highest of this group in the steady cycle, among `heating.duty.peak_temperatures_K`
    """


def joint_heat(machine: Machine, duty: DutyState | Unknown) -> dict[str, JointHeatState]:
    """Return the heat of each group of joints."""
    load = machine.case.design.load
    # what is amiss with the duty is told there
    peaks = Unknown(duty.reason) if isinstance(duty, Unknown) else duty.peak_temperatures
    found = {}
    for group in joints_of(machine.case.design).groups:
        ohms = group.resistance.typical
        found[group.name] = JointHeatState(
            heat_shorted=ohms * machine.cold(SHORT).secondary_current ** 2,
            heat_loaded=Unknown("no [load] is described")
            if load is None
            else ohms * machine.cold(working_of(load)).secondary_current ** 2,
            temperature=peaks if isinstance(peaks, Unknown) else peaks[group.name],
        )
    return found
