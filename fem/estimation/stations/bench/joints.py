"""Heat of the joints between winding and work: what each makes, and how hot it gets in repeated bursts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

from fem.design.duty import Duty
from fem.errors import TooHot
from fem.estimation.inputs.heat import Doubt, heat_network
from fem.estimation.inputs.joints import joints_of
from fem.estimation.inputs.working import SHORT, working_of
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.bench.machine import Machine
from fem.estimation.stations.bench.repeated import DutyState
from fem.heat.coupled import hot_cycle
from fem.quantity import NOT_ASKED, Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class JointHeatState:
    """Heat of joints of one kind at one end of the leads, all of them together."""

    heat_shorted: float = of("W", "heat with the lead ends joined, cold machine")
    heat_loaded: float | Unknown = of("W", "heat with the load, cold machine")
    temperature: float | Unknown = of("K", "highest in the steady cycle of bursts")
    good_temperature: float | Unknown = of("K", "the same of good and heavy joints")
    bad_temperature: float | Unknown = of("K", "the same of bad and light joints")


def joint_heat(machine: Machine, given: Duty | None, duty: DutyState | Unknown) -> dict[str, JointHeatState]:
    """Return the heat of each group of joints.

    Notes
    -----
    The ends of a temperature take all joints at the good end of resistance and the heavy one of mass, or the other way.
    """
    case, load = machine.case, machine.case.design.load
    # what is amiss with the duty is told there
    peaks = Unknown(duty.reason) if isinstance(duty, Unknown) else duty.peak_temperatures
    known = not isinstance(peaks, Unknown)
    ends: list[Mapping[str, float] | Unknown] = [NOT_ASKED, NOT_ASKED] if known else [peaks, peaks]
    if known and given is not None and Part.BANDS in case.wanted:
        ends = [attempt(partial(_peaks, machine, given, doubt)) for doubt in (Doubt.GOOD, Doubt.BAD)]
    found = {}
    for group in joints_of(case.design).groups:
        ohms = group.resistance.typical
        hottest, good, bad = (_of(peak, group.name) for peak in (peaks, *ends))
        found[group.name] = JointHeatState(
            heat_shorted=ohms * machine.cold(SHORT).secondary_current ** 2,
            heat_loaded=Unknown("no [load] is described")
            if load is None
            else ohms * machine.cold(working_of(load)).secondary_current ** 2,
            temperature=hottest,
            good_temperature=good,
            bad_temperature=bad,
        )
    return found


def _of(temperatures: Mapping[str, float] | Unknown, name: str) -> float | Unknown:
    """Return one part's temperature [K], or why there is none."""
    return temperatures if isinstance(temperatures, Unknown) else temperatures[name]


def _peaks(machine: Machine, given: Duty, doubt: Doubt) -> Mapping[str, float] | Unknown:
    """Return the highest temperatures by part [K] with joints at one end of what they may be."""
    case = machine.case
    joints = joints_of(case.design).resistance
    change = getattr(joints, doubt.resistance) - joints.typical
    circuit = replace(case.circuit, lead_resistance=max(case.circuit.lead_resistance + change, 0.0))
    network = heat_network(case, machine.network.ambient, joints=doubt)
    try:
        found = hot_cycle(
            circuit,
            network,
            case.flow(),
            lambda on: (on.lasting(given.on_time), case.pause),
            now=case.design.temperature,
            count=False,
        )
    except TooHot as error:
        return Unknown(str(error))
    return network.by_part(found.cycle.peak)
