"""One burst from cold, and left on for good: until which part is too hot."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import isfinite

from fem.estimation.inputs.working import Working
from fem.estimation.stations.bench.machine import Machine
from fem.heat.burst import burst, continuous
from fem.heat.phases import phase_idle
from fem.quantity import Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class PartBurst:
    """How long one part stands one burst from cold."""

    working: float | Unknown = of("s", "until its limit of repeated work")
    once: float | Unknown = of("s", "until the limit of a single fault")
    adiabatic_once: float | Unknown = of("s", "the same with no heat escaping")
    current_density: float = of("A/m2", "current density")


@dataclass(frozen=True, kw_only=True, slots=True)
class BurstState:
    """One burst from cold, resistances and currents those of the cold machine."""

    load_resistance: float = of("ohm", "resistance across the lead ends")
    longest: float | Unknown = of("s", "longest burst within the limits of repeated work")
    limiting_part: str | Unknown = of("", "the part that sets it")
    parts: Mapping[str, PartBurst] = of("", "by part")


@dataclass(frozen=True, kw_only=True, slots=True)
class ContinuousIdle:
    """Plugged in for good with nothing connected."""

    temperatures: Mapping[str, float] | Unknown = of("K", "settled mean temperature by part")
    too_hot: tuple[str, ...] = of("", "parts that pass their limit of repeated work")
    first_too_hot: float | Unknown = of("s", "until the first does")


def one_burst(machine: Machine, working: Working) -> BurstState:
    """Return how long the parts stand one burst from cold."""
    found = burst(machine.network, machine.cold(working))
    end = Unknown("not reached within two days" if found.beyond is None else str(found.beyond))
    no_limit = Unknown("no part reaches its limit of repeated work")
    return BurstState(
        load_resistance=working.resistance,
        longest=_finite(found.longest, no_limit),
        limiting_part=no_limit if found.limiting is None else found.limiting,
        parts={
            name: PartBurst(
                working=_finite(part.working, end),
                once=_finite(part.once, end),
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
