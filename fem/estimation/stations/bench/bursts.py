"""One burst from cold, and left on for good: until which part is too hot."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from math import isfinite

import numpy as np

from fem.digits import duration
from fem.estimation.case import Case
from fem.estimation.inputs.working import Working
from fem.estimation.once import attempt
from fem.estimation.stations.bench.machine import Machine
from fem.heat.burst import Burst, bursts, continuous, first_limits
from fem.heat.levels import LONGEST
from fem.heat.phases import Phase, joined, phase_idle
from fem.quantity import Unknown, of
from fem.work.feed import stretches
from fem.work.run import Ending, HeatingRun

ALIKE = 0.02
"""How much currents of stretches taken as one may differ [-]: temperatures by an eighth of that of each one's rise."""
NO_LIMIT = Unknown("no part reaches its limit of repeated work")


@dataclass(frozen=True, kw_only=True, slots=True)
class PartBurst:
    """How long one part stands one burst from cold."""

    working: float | Unknown = of("s", "until its limit of repeated work")
    once: float | Unknown = of("s", "until the limit of a single fault")
    adiabatic_working: float | Unknown = of("s", "until its limit of repeated work with no heat escaping")
    adiabatic_once: float | Unknown = of("s", "until the limit of a single fault with no heat escaping")
    current_density: float = of("A/m2", "current density")

    FORMULAS = """
    <fem.heat.burst.bursts>
    working: mean temperature of the part in the heat network reaches the limit of its insulation's class; with no heat
        escaping `.adiabatic_working_s`
    adiabatic_working: heat capacity times the integral of dT/power up to the limit [IEC 60949, adiabatic heating]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstState:
    """One burst from cold, resistances and currents those of the cold machine."""

    load_resistance: float = of("ohm", "resistance across the lead ends")
    longest: float | Unknown = of("s", "longest burst within the limits of repeated work")
    limiting_part: str | Unknown = of("", "the part that sets it")
    parts: Mapping[str, PartBurst] = of("", "by part")

    FORMULAS = """
    <fem.heat.burst.bursts>
    longest: first moment at which a part of the heat network, from the room's temperature, reaches its limit of
        repeated work with the cold machine's current flowing into `.load_resistance_ohm`; currents held, resistances
        followed [textbooks: lumped heat network; limits by IEC 60085 and `rewound list assumptions`]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkBurst:
    """The burst of the work piece, currents following work and machine; all as warm as `temperature` at first."""

    duration: float = of("s", "how long current flows")
    melted_through: float | Unknown = of("s", "melted through; values are those up to that moment")
    first_current_rms: float = of("A", "secondary current at first, r.m.s.")
    last_current_rms: float = of("A", "secondary current at the end, r.m.s.")
    current_rms: float = of("A", "secondary current, r.m.s. over the burst")
    heat: Mapping[str, float] = of("J", "heat made in the burst, by part")
    temperatures: Mapping[str, float] = of("K", "mean temperature by part at the end")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work in the burst")
    longest: float | Unknown = of("s", "longest burst within the limits of repeated work, the current left on")
    limiting_part: str | Unknown = of("", "the part that sets it")

    FORMULAS = """
    duration: `job.work_piece.switch_off`, or `job.work_piece.duration` where that is not told; less where the work
        melts through
    <fem.heat.burst.first_limits>
    longest: first moment at which a part reaches its limit of repeated work with the work piece's current left on; it
        begins at `.first_current_rms_A`
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class ContinuousIdle:
    """Plugged in for good with nothing connected."""

    temperatures: Mapping[str, float] | Unknown = of("K", "settled mean temperature by part")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")
    first_too_hot: float | Unknown = of("s", "until the first does")


def work_burst(machine: Machine) -> WorkBurst | Unknown:
    """Return what the burst of the work piece does to the machine, and for how long the machine would stand it."""
    case = machine.case
    run, fed = case.burst, case.fed
    if run is None or fed is None:
        return Unknown("no [work_piece] is described")
    current, lasts = fed.drawn.secondary_current, float(fed.time[-1])
    limit = attempt(lambda: _limit(machine))
    return WorkBurst(
        duration=lasts,
        melted_through=ended_melted(run, lasts) or Unknown("not in this burst"),
        first_current_rms=float(current[0]),
        last_current_rms=float(current[-1]),
        current_rms=fed.rms(current),
        heat=machine.named(fed.heat, sum),
        temperatures=machine.named(fed.temperatures[-1]),
        too_hot=machine.too_hot(fed.temperatures.max(axis=0)),
        longest=limit if isinstance(limit, Unknown) else limit[0],
        limiting_part=limit if isinstance(limit, Unknown) else limit[1],
    )


def ended_melted(run: HeatingRun, lasts: float) -> float | None:
    """Return when the work melted through [s] if that ended its burst."""
    return lasts if run.ending is Ending.MELTED and float(run.time[-1]) <= lasts else None


def limit_phases(case: Case) -> tuple[Phase, ...]:
    """Return what flows into the work with the current left on, up to where the work melts through, else for days."""
    settled = case.settled
    drawn = case.feed.drawn(settled.run.resistance + case.feed.rise(case.circuit))
    phases = joined(stretches(settled.run.time, drawn), within=ALIKE)
    return phases if settled.temperature is None else (*phases, phases[-1].lasting(LONGEST))


def _limit(machine: Machine) -> tuple[float, str] | Unknown:
    """Return when the first part reaches its limit with the current left on, and which."""
    case, settled = machine.case, machine.case.settled
    start = np.full(len(machine.network.nodes), case.design.temperature)
    if found := first_limits(machine.network, limit_phases(case), start)[0]:
        return found
    if settled.temperature is None:
        return Unknown(f"the work melts through first, after {duration(settled.time)}")
    return NO_LIMIT


def bursts_of(machine: Machine, workings: Sequence[Working]) -> list[BurstState | Unknown]:
    """Return how long the parts stand one burst from cold into each of several things, which may fail by itself."""
    drawn = [attempt(partial(machine.cold, working)) for working in workings]
    known = [phase for phase in drawn if not isinstance(phase, Unknown)]
    found = attempt(lambda: bursts(machine.network, known) if known else [])
    each = iter(found or ())
    return [
        phase if isinstance(phase, Unknown) else found if isinstance(found, Unknown) else _one(working, next(each))
        for phase, working in zip(drawn, workings, strict=True)
    ]


def _one(working: Working, found: Burst) -> BurstState:
    end = Unknown("not reached within two days" if found.beyond is None else str(found.beyond))
    return BurstState(
        load_resistance=working.resistance,
        longest=_finite(found.longest, NO_LIMIT),
        limiting_part=NO_LIMIT if found.limiting is None else found.limiting,
        parts={
            name: PartBurst(
                working=_finite(part.working, end),
                once=_finite(part.once, end),
                adiabatic_working=_finite(part.adiabatic_working, end),
                adiabatic_once=_finite(part.adiabatic_once, end),
                current_density=part.current_density,
            )
            for name, part in found.parts.items()
        },
    )


def plugged_in(machine: Machine) -> ContinuousIdle:
    """Return where the machine settles plugged in with nothing connected."""
    found = continuous(machine.network, phase_idle(machine.case.at_idle, 1.0))
    end = "some part passes 627 degC before it settles" if found.beyond is None else str(found.beyond)
    settled = found.temperatures
    return ContinuousIdle(
        temperatures=Unknown(end) if settled is None else machine.named(settled),
        too_hot=found.over,
        first_too_hot=_finite(found.first_over, Unknown("none does")),
    )


def _finite(value: float | None, otherwise: Unknown) -> float | Unknown:
    return value if value is not None and isfinite(value) else otherwise
