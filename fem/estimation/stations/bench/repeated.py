"""Bursts and trains of pulses repeated for good: where the machine settles, and the duty that it allows."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import isfinite

import numpy as np

from fem.arrays import Floats
from fem.design.duty import Duty
from fem.design.pulses import Pulses
from fem.errors import TooHot
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.stations.bench.machine import Machine
from fem.heat.counting import count_cycles
from fem.heat.coupled import Flow, HotCycle, Repeated, hot_cycles, hot_duties
from fem.heat.cycle import cycles
from fem.heat.levels import cool_down_times
from fem.heat.network import Network
from fem.heat.phases import Course, Phase, phase_idle, pulses
from fem.heat.share import Duty as AllowedDuty
from fem.heat.share import known
from fem.quantity import Show, Unknown, of

COOL = 313.15
"""Temperature [K] down to which cooling is counted where the room is cool enough to get there: 40 degC."""
ABOVE_ROOM = 5.0
"""Least difference to the room that is waited for [K]: the rest takes for ever."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DutyState:
    """Bursts repeated for good, currents following the warm resistances, of work at the r.m.s. value of its burst."""

    works_into: str = of("", "what the bursts work into")
    share: float = of("-", "on-time over period", show=Show.SHARE)
    current_rms: float = of("A", "secondary current of the warm machine, r.m.s. over a burst")
    peak_temperatures: Mapping[str, float] | Unknown = of("K", "highest mean temperature by part in the steady cycle")
    lowest_temperatures: Mapping[str, float] | Unknown = of("K", "lowest mean temperature by part in the steady cycle")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")
    bursts_to_steady: int | Unknown = of("-", "bursts until within 1 K of the steady cycle")
    allowed_share: float = of("-", "largest on-time over period at this period", show=Show.SHARE)
    limiting_part: str | Unknown = of("", "the part that sets it")
    shortest_period: float | Unknown = of("s", "least time from burst to burst of this length")
    allowed_share_with_load: float | Unknown = of("-", "the same into the load, where there is work", show=Show.SHARE)
    cool_down: float | Unknown = of("s", "from the steady cycle down to `cool_down_to`, unplugged")
    cool_down_to: float = of("K", "40 degC, or 5 K above a room too warm for that")

    FORMULAS = """
    share = `job.duty.on_time` / (`job.duty.on_time` + `job.duty.off_time`)
    cool_down: heat network left alone from the steady cycle's end, unplugged, until its hottest part is at
        `.cool_down_to_K`
    <fem.heat.coupled.hot_duties>
    allowed_share: largest on-time over the period of `job.duty.on_time` + `job.duty.off_time` at which no part of the
        steady cycle passes its limit of repeated work [textbooks: lumped heat network]
    shortest_period: least time from burst to burst of `job.duty.on_time` at which no part of the steady cycle passes
        its limit [textbooks: lumped heat network]
    <fem.heat.coupled.hot_cycles>
    peak_temperatures: highest of each part in the cycle that repeats itself: `.current_rms_A` for `job.duty.on_time`,
        then `job.duty.off_time`; resistances follow temperatures [textbooks: lumped heat network]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class PulseTrain:
    """Pulses counted in mains cycles; the machine idles between them."""

    duration: float = of("s", "of one train")
    current_rms: float = of("A", "secondary current during a pulse, cold machine and cold work, r.m.s.")
    peak_temperatures: Mapping[str, float] | Unknown = of("K", "highest mean temperature by part, one train from cold")
    steady_temperatures: Mapping[str, float] | Unknown = of("K", "the same with trains repeated for good")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")


def duty_cycle(machine: Machine, duty: Duty) -> DutyState:
    """Return where bursts repeated for good settle, and the duty that this period allows."""
    case, network = machine.case, machine.network
    flow, off = case.flow(), case.pause
    allowed, shortest, with_load = _allowed(machine, duty, flow)

    def cycle(on: Phase) -> Sequence[Phase]:
        return (on.lasting(duty.on_time), off)

    found = _steady(machine, flow, cycle, count=True)
    if isinstance(found, TooHot):
        hot, beyond = None, Unknown(str(found))
        on, peaks = (
            flow(machine.cold_circuit),
            found.temperatures,
        )
    else:
        hot, beyond = found.cycle, Unknown("not reached")
        on, peaks = found.on, found.cycle.peak
    cool = max(COOL, network.ambient + ABOVE_ROOM)
    return DutyState(
        works_into=_works_into(case),
        share=duty.on_time / (duty.on_time + duty.off_time),
        current_rms=on.secondary_current,
        peak_temperatures=beyond if hot is None else machine.named(peaks),
        lowest_temperatures=beyond if hot is None else machine.named(hot.lowest, min),
        too_hot=machine.too_hot(peaks),
        bursts_to_steady=beyond if hot is None else hot.cycles,
        allowed_share=allowed.share,
        limiting_part=allowed.limiting or Unknown("no part passes its limit"),
        shortest_period=shortest,
        allowed_share_with_load=with_load,
        cool_down=beyond if hot is None else _cool_down(network, peaks, cool),
        cool_down_to=cool,
    )


def _cool_down(network: Network, hot: Floats, cool: float) -> float | Unknown:
    time = float(cool_down_times(network.lumps.block, hot[None], cool, off=Phase(duration=1.0))[0])
    return time if isfinite(time) else Unknown("not reached within two days")


def _works_into(case: Case) -> str:
    if case.design.work_piece is not None:
        return "the work piece"
    return "joined lead ends" if case.design.load is None else "the load"


def _allowed(machine: Machine, duty: Duty, flow: Flow) -> tuple[AllowedDuty, float | Unknown, float | Unknown]:
    """Return the largest duty at this period, the least time from burst to burst, the largest duty into the load."""
    case = machine.case
    period = duty.on_time + duty.off_time
    kinds = [
        Repeated(flow=flow, off=case.pause, period=period),
        Repeated(flow=flow, off=case.pause, on_time=duty.on_time),
    ]
    if case.design.load is not None and case.design.work_piece is not None:
        kinds.append(Repeated(flow=case.load_flow(), off=case.pause, period=period))
    together = attempt(lambda: allowed_duties(machine, kinds))
    if isinstance(together, Unknown):
        # where one of them fails the others stand
        allowed, others = _alone(machine, kinds[0]), [attempt(partial(_alone, machine, kind)) for kind in kinds[1:]]
    else:
        allowed, others = together[0], list[AllowedDuty | Unknown](together[1:])
    again, *loaded = others
    shortest: float | Unknown = Unknown("not even one such burst in two days keeps to the limits")
    if isinstance(again, Unknown):
        shortest = again
    elif again.share > 0:
        shortest = again.period
    with_load: float | Unknown = Unknown("not both of [load] and [work_piece] are described")
    for into_load in loaded:
        with_load = into_load if isinstance(into_load, Unknown) else into_load.share
    return allowed, shortest, with_load


def _alone(machine: Machine, kind: Repeated) -> AllowedDuty:
    return allowed_duties(machine, [kind])[0]


def allowed_duties(machine: Machine, kinds: Sequence[Repeated]) -> list[AllowedDuty]:
    """Return the largest duty of each kind of bursts that keeps all parts within their limits."""
    case = machine.case
    found = hot_duties(case.circuit, machine.network, kinds, now=case.design.temperature)
    return [known(one) for (one,) in found]


def pulse_train(machine: Machine, given: Pulses) -> PulseTrain:
    """Return how hot a train of pulses makes the parts, once from cold and repeated for good."""
    case, network = machine.case, machine.network
    flow, idling = case.flow(given.weld_cycles / case.design.mains.frequency), phase_idle(case.at_idle, 1.0)
    cold = flow(machine.cold_circuit)

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

    once: Mapping[str, float] | Unknown
    steady: HotCycle | TooHot | Unknown
    lumps = network.lumps.block
    first = cycles(lumps, Course.of(train(cold), 1), lumps.at_ambient())
    if first.beyond:
        hottest = first.beyond[0].temperatures
        once = steady = Unknown(str(first.beyond[0]))
    else:
        hottest = first.peak[0]
        once = machine.named(hottest)
        steady = Unknown("no pulses.rest is given")
        if given.rest is not None:
            steady = attempt(lambda: _steady(machine, flow, repeated, count=False))
    settled: Mapping[str, float] | Unknown
    if isinstance(steady, Unknown):
        settled = steady
    elif isinstance(steady, TooHot):
        hottest, settled = steady.temperatures, Unknown(str(steady))
    else:
        settled = machine.named(steady.cycle.peak)
        hottest = np.maximum(hottest, steady.cycle.peak)
    return PulseTrain(
        duration=sum(phase.duration for phase in train(cold)),
        current_rms=cold.secondary_current,
        peak_temperatures=once,
        steady_temperatures=settled,
        too_hot=machine.too_hot(hottest),
    )


def _steady(
    machine: Machine,
    flow: Flow,
    phases: Callable[[Phase], Sequence[Phase]],
    *,
    count: bool,
) -> HotCycle | TooHot:
    """Return the cycle that bursts repeated for good settle into, or which part settles beyond the data."""
    case, network = machine.case, machine.network
    found = hot_cycles(case.circuit, network, flow, phases, now=case.design.temperature)[0]
    if isinstance(found, TooHot) or not count:
        return found
    many = count_cycles(network.lumps.block, Course.of(phases(found.on), 1), found.cycle)
    return replace(found, cycle=replace(found.cycle, cycles=many))
