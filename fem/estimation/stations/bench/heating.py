"""Heat in windings, core, leads and joints: one burst, plugged in idle, bursts repeated for good."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fem.assumptions import assumed
from fem.constants import ZERO_CELSIUS
from fem.digits import brief, duration
from fem.estimation.case import Case
from fem.estimation.inputs.working import SHORT, working_of
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.bench.bursts import (
    BurstState,
    ContinuousIdle,
    WorkBurst,
    bursts_of,
    plugged_in,
    work_burst,
)
from fem.estimation.stations.bench.heat_bands import heat_bands
from fem.estimation.stations.bench.joints import JointHeatState, joint_heat
from fem.estimation.stations.bench.machine import Machine
from fem.estimation.stations.bench.repeated import DutyState, PulseTrain, duty_cycle, pulse_train
from fem.estimation.stations.section import Station
from fem.quantity import Unknown, of
from fem.trust.caution import Caution, Danger, few

ALIKE = 0.01
"""How much two lengths of a burst may differ before a word is due [-]."""
BURNS_IN_A_MINUTE = assumed("burn within a minute").typical
"""Temperature of bare metal [K] that burns skin within a minute: ISO 13732-1."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Heating:
    """Heat in windings, core, leads and joints."""

    ambient: float = of("K", "temperature of the room")
    burst: WorkBurst | Unknown = of("", "the burst of the work piece")
    shorted: BurstState | Unknown = of("", "one burst, lead ends joined")
    loaded: BurstState | Unknown = of("", "one burst, with the load")
    idle: ContinuousIdle | Unknown = of("", "left plugged in at no-load")
    duty: DutyState | Unknown = of("", "repeated bursts")
    pulses: PulseTrain | Unknown = of("", "a train of pulses")
    joints: Mapping[str, JointHeatState] | Unknown = of("", "joints by kind and place")


def heating(case: Case) -> Heating:
    """Return what the machine's parts stand; what fails among it is a gap."""
    duty, given = case.design.duty, case.design.pulses
    machine = Machine(case=case, network=case.network)
    no_duty, no_pulses = Unknown("no [duty] is described"), Unknown("no [pulses] are described")
    repeated = no_duty if duty is None else attempt(lambda: duty_cycle(machine, duty))
    load = case.design.load
    shorted, *loaded = bursts_of(machine, [SHORT] if load is None else [SHORT, working_of(load)])
    return Heating(
        ambient=case.room,
        burst=attempt(lambda: work_burst(machine)),
        shorted=shorted,
        loaded=loaded[0] if loaded else Unknown("no [load] is described"),
        idle=attempt(lambda: plugged_in(machine)),
        duty=repeated,
        pulses=no_pulses if given is None else attempt(lambda: pulse_train(machine, given)),
        joints=attempt(lambda: joint_heat(machine, repeated)),
    )


def _cautions(case: Case, found: Heating) -> Iterator[Caution]:
    idle, duty, burst = found.idle, found.duty, found.burst
    if not isinstance(burst, Unknown) and burst.too_hot:
        text = f"Too hot in this burst: {few(burst.too_hot, 1)}. That is for repeated work, into the work piece."
        yield Caution(about="heat", text=text, danger=Danger.DAMAGES)
    if not isinstance(idle, Unknown) and idle.too_hot:
        text = f"Too hot at no-load: {few(idle.too_hot, 1)}. It overheats left plugged in with nothing connected."
        yield Caution(about="heat", text=text, danger=Danger.DAMAGES)
    if isinstance(duty, Unknown):
        return
    described, time = case.design.duty, case.burst_time
    if described is not None and time is not None and abs(described.on_time / time - 1) > ALIKE:
        text = (
            f"Bursts of [duty] last {duration(described.on_time)}, that of [work_piece] {duration(time)}. Heat is told "
            "with the r.m.s. current of the latter, which shorter ones pass where the current falls meanwhile."
        )
        yield Caution(about="heat", text=text, danger=Danger.DISTURBS)
    if duty.too_hot:
        text = (
            f"At this period no more than {brief(100 * duty.allowed_share, 2)} % of the time on. At this duty, "
            f"{brief(100 * duty.share, 2)} %, limits of repeated work are passed by {few(duty.too_hot)}."
        )
        numbers = {"heating.duty.allowed_share": duty.allowed_share}
        yield Caution(about="heat", text=text, danger=Danger.DAMAGES, numbers=numbers)
    if duty.peak_temperatures:
        part, peak = max(duty.peak_temperatures.items(), key=lambda item: item[1])
        if peak > BURNS_IN_A_MINUTE:
            text = (
                f"Hot in the steady cycle: {part}, {peak - ZERO_CELSIUS:.0f} degC. Bare metal above "
                f"{BURNS_IN_A_MINUTE - ZERO_CELSIUS:.0f} degC burns skin within a minute."
            )
            numbers = {f"heating.duty.peak_temperatures_K.{part}": peak}
            source = "ISO 13732-1, from memory"
            yield Caution(about="hot parts", text=text, danger=Danger.BURNS, source=source, numbers=numbers)


HEATING = Station(
    key="heating", result=Heating, compute=heating, part=Part.HEATING, bands=heat_bands, cautions=_cautions
)
