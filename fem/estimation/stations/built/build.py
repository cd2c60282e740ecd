"""What is built: both windings in the window, and the iron."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.estimation.case import Case
from fem.estimation.inputs.lays import lay_text, places_text
from fem.estimation.inputs.windings import Wound, computed_resistance
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, extended, of
from fem.trust.caution import PRACTICE, Caution, Danger
from fem.trust.live import extra_turns
from fem.trust.unlikely import unlikely
from geometries.shapes.blocks import blocks_of, winding_names
from geometries.windings.fit import BlockFit
from geometries.windings.turns import Winding


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingState(Wound):
    """One winding as it sits in the window."""

    turns: int = of("-", "turns")
    height: float = of("m", "height along the leg")
    build: float = of("m", "build across the window")
    spare_build: float = of("m", "width to spare in the window")
    ohms: str = of("", "its ohms, d.c.")
    lay: str = of("", "how its conductors lie")
    places: str | Unknown = of("", "their centres from the leg's face | above the lower yoke, in mm")

    FORMULAS = """
    turns: `job.windings.*.turns`, extra turns added or taken
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class Build:
    """What is built."""

    cores: int = of("-", "cores under the secondary")
    primaries: str | Unknown = of("", "how the cores' primaries are wired")
    core_mass: float = of("kg", "iron mass")
    fill_factor: float = of("-", "bare conductor in the window, as a share of it", show=Show.SHARE)
    spare_height: float = of("m", "window height to spare, clearances and spacing kept")
    temperature: float = of("K", "temperature the resistances are given at")
    primary: WindingState = of("", "primary")
    secondary: WindingState = of("", "secondary")

    FORMULAS = """
    temperature = `job.temperature`
    core_mass: volume of the stack times `job.core.stacking_factor` times the sheet's density
    <geometries.windings.fit.fit>
    fill_factor: bare conductor of both windings over window width times height
    """


def build(case: Case) -> Build:
    """Return what is built."""
    design, fitted = case.design, case.fitted
    first, second = winding_names(case.blocks)
    return Build(
        cores=design.core.count,
        primaries=Unknown("there is one core") if design.core.second is None else design.core.second.primaries.value,
        core_mass=design.core.iron_mass(case.sheet.density),
        fill_factor=fitted.fill_factor,
        spare_height=fitted.spare_height,
        temperature=design.temperature,
        primary=_winding(case, first, design.windings.primary, fitted.primary, case.windings.primary),
        secondary=_winding(case, second, design.windings.secondary, fitted.secondary, case.windings.secondary),
    )


def _winding(case: Case, name: str, winding: Winding, room: BlockFit, wound: Wound) -> WindingState:
    coils = blocks_of(case.blocks, name)
    return extended(
        WindingState,
        wound,
        turns=winding.net_turns,
        height=sum(coil.height for coil in coils),
        build=max(coil.build for coil in coils),
        spare_build=room.side_room,
        ohms=winding.conductor.ohms if winding.resistance is None else "measured",
        lay=lay_text(case.design.windings, case.blocks, name),
        places=places_text(case.blocks, name) or Unknown("too many to be placed one by one"),
    )


def _cautions(case: Case, found: Build) -> Iterator[Caution]:
    if found.cores > 1:
        text = (
            "Switch and unplug both primaries together. The secondary couples them, and with one on the mains the "
            "other is live too. Check on reduced voltage, ends apart, that they push the same way: else no voltage."
        )
        yield Caution(about="two cores", text=text, danger=Danger.KILLS, source=PRACTICE)
    yield from extra_turns(case.design)
    yield from unlikely(case.design, computed_resistance(case.design, case.blocks), found.primary.resistance)
    for text in case.fitted.warnings:
        yield Caution(about="fit", text=f"{text[:1].upper()}{text[1:]}.", danger=Danger.DAMAGES, source=PRACTICE)


BUILD = Station(key="build", result=Build, compute=build, cautions=_cautions)
