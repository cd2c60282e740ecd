"""The joints between winding and work: which there are, told or taken, and their resistance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.inputs.joints import joints_of
from fem.estimation.stations.section import Station
from fem.materials.contact import contact_metal
from fem.quantity import of
from fem.trust.caution import PRACTICE, Caution, Danger


@dataclass(frozen=True, kw_only=True, slots=True)
class GroupState:
    """Joints of one kind at one end of the leads, in series."""

    count: int = of("-", "joints; 0 where only their resistance is told")
    between: str = of("", "what they join")
    resistance: float = of("ohm", "of all of them together")


@dataclass(frozen=True, kw_only=True, slots=True)
class JointsState:
    """The joints between winding and work."""

    resistance: float = of("ohm", "joints between winding and work, together")
    told: bool = of("", "whether the job tells them; else what the build needs is taken")
    groups: Mapping[str, GroupState] = of("", "by kind and place")

    FORMULAS = """
    <fem.estimation.inputs.joints.joints_of>
    resistance: `job.leads.joint_resistance` and what `job.leads.joints` counts, each at its typical resistance
        [`rewound list assumptions`: joints]
    """


def joints(case: Case) -> JointsState:
    """Return the joints that the circuit has."""
    taken = joints_of(case.design)
    return JointsState(
        resistance=taken.resistance.typical if case.given is None else case.given.joints,
        told=taken.told,
        groups={
            group.name: GroupState(count=group.count, between=group.between, resistance=group.resistance.typical)
            for group in taken.groups
        },
    )


def _cautions(case: Case, found: JointsState) -> Iterator[Caution]:
    yield from _softening(case, found)
    if found.told or not found.groups:
        return
    band = joints_of(case.design).resistance
    counted = " and ".join(f"{group.count} {name}" for name, group in found.groups.items())
    text = (
        f"The joints are not told: {brief(found.resistance * 1e6)} uohm are taken. That is {counted}, of "
        f"{brief(band.low * 1e6)} to {brief(band.high * 1e6)} uohm: measure millivolts across each at a known current, "
        "or count yours in leads.joints."
    )
    numbers = {"joints.resistance_ohm": found.resistance}
    yield Caution(about="joints", text=text, danger=Danger.DISTURBS, source=PRACTICE, numbers=numbers)


def _softening(case: Case, found: JointsState) -> Iterator[Caution]:
    """Say which joints drop more, shorted, than a bright contact of copper holds for long."""
    copper, current = contact_metal("copper"), case.shorted.secondary_current_rms
    for name, group in found.groups.items():
        drop = current * group.resistance / group.count if group.count else 0.0
        if drop > copper.softening_voltage:
            text = (
                f"{name.capitalize()} drop {brief(drop * 1e3)} mV each, and soften. That is shorted: copper does from "
                f"{brief(copper.softening_voltage * 1e3)} mV and melts from {brief(copper.melting_voltage * 1e3)} mV, "
                "spreads or burns. Clean it and press it harder."
            )
            yield Caution(about="joints", text=text, danger=Danger.DAMAGES, source="R. Holm, from memory")


JOINTS = Station(key="joints", result=JointsState, compute=joints, banded=("resistance",), cautions=_cautions)
