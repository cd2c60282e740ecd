"""The contacts between jaws, carbons and work in a burst: voltage, spot, heat; and where the power goes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import inf, isnan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.constants import ZERO_CELSIUS
from fem.design.work_piece import WorkPieceDescription
from fem.digits import brief
from fem.estimation.inputs.contact import scatter_of
from fem.materials.contact import contact_metal
from fem.quantity import Show, Unknown, of
from fem.trust.caution import Caution, Danger
from fem.work.run import HeatingRun
from fem.work.spot import SETTLING

BANDED = ("cold_resistance", "hot_resistance", "highest_voltage_rms", "hottest_spot", "heat")
"""Which of a contact's results have bands."""
NO_JAWS = "a ring round the leg has neither jaws nor contacts"


@dataclass(frozen=True, kw_only=True, slots=True)
class _InBurst:
    """What a contact does in a burst."""

    kind: str = of("", "what it is taken as")
    cold_resistance: float = of("ohm", "resistance at the start")
    hot_resistance: float = of("ohm", "resistance at the end of the burst")
    highest_voltage_rms: float = of("V", "highest voltage across it once its spot is hot, r.m.s.")
    hottest_spot: float | Unknown = of("K", "hottest place inside it during the burst")
    heat: float = of("J", "heat made in it")

    FORMULAS = """
    <fem.work.feeding.fed_side_by_side>
    hottest_spot: T_max^2 = T_faces^2 + V^2/(4 L), V the contact's voltage, at most `.highest_voltage_rms_V`, L the
        Lorenz number; settling of the spot in it [R. Holm, Electric Contacts: voltage-temperature relation]
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class ContactInBurst(_InBurst):
    """The worse of the two contacts between jaws and work."""

    softening_voltage: float = of("V", "voltage at which a clean one begins to soften")
    melting_voltage: float = of("V", "voltage that no clean one holds: it melts")
    softens_at: float = of("K", "temperature at which the softer metal's contacts soften")
    melts_at: float = of("K", "temperature at which one of its metals melts")
    heat_into_jaws: float = of("J", "heat that went into both jaws by the end of the run")


@dataclass(frozen=True, kw_only=True, slots=True)
class LapInBurst(_InBurst):
    """The lap in the middle of the work."""

    filled_after: float | Unknown = of("s", "time until its filler has flowed")


@dataclass(frozen=True, kw_only=True, slots=True)
class SecondPathInBurst:
    """What flows beside the work, from jaw to jaw."""

    cold_share: float = of("-", "its current over that of the lead ends, at the start", show=Show.SHARE)
    hot_share: float = of("-", "the same at the end of the burst", show=Show.SHARE)
    hot_current_rms: float = of("A", "its current at the end of the burst, r.m.s.")
    hottest_temperature: float = of("K", "its hottest place at the end of the burst")
    heat: float = of("J", "heat made in it and in its part of the jaws' contacts")

    FORMULAS = """
    hot_current_rms = `.hot_share` * `work_piece.hot_current_rms_A`
    """


@dataclass(frozen=True, kw_only=True, slots=True)
class PowerInBurst:
    """Where the power between the lead ends is turned into heat at the end of a burst."""

    work: float = of("W", "in the work")
    carbons: float = of("W", "in the carbons' bodies")
    tips: float = of("W", "in the faces between carbons and work")
    joint: float = of("W", "in the lap")
    second_path: float = of("W", "in the second path")
    jaws: float = of("W", "in the contacts of the jaws or holders")
    total: float = of("W", "all together")

    FORMULAS = """
    total = `.work_W` + `.carbons_W` + `.tips_W` + `.joint_W` + `.second_path_W` + `.jaws_W`
    """


def contact_in_burst(given: WorkPieceDescription, run: HeatingRun, *, until: float = inf) -> ContactInBurst | Unknown:
    """Return the worse of the jaws' contacts with the work, up to a time [s]."""
    if given.ring is not None:
        return Unknown(NO_JAWS)
    if given.carbons is not None:
        return Unknown("carbons: no contact of metals")
    on = np.flatnonzero((run.current_rms > 0) & (run.time <= until))
    spots = run.spot_temperature[on][:, [0, -1]]
    if np.isnan(spots).any():
        return Unknown("the jaws are said to have no contact resistance")
    metals = [contact_metal(name) for name in (given.jaws.material, given.metal)]
    return ContactInBurst(
        kind=scatter_of(given.jaws, (given.jaws.material, given.metal)).told,
        **_course(run, on, -int(spots.max(axis=0).argmax())),
        softening_voltage=min(metal.softening_voltage for metal in metals),
        melting_voltage=min(metal.melting_voltage for metal in metals),
        softens_at=min(metal.softening for metal in metals),
        melts_at=min(metal.melting for metal in metals),
        heat_into_jaws=run.energy.into_jaws,
    )


def lap_in_burst(given: WorkPieceDescription, run: HeatingRun, *, until: float = inf) -> LapInBurst | Unknown:
    """Return the lap in the middle of the work, up to a time [s]."""
    if (lap := given.joint) is None:
        return Unknown("no [work_piece.joint] is described")
    on = np.flatnonzero((run.current_rms > 0) & (run.time <= until))
    kind = scatter_of(lap, (given.metal, given.metal)).told
    filled: float | Unknown = Unknown("its filler does not flow in the burst")
    if lap.filler_melts_at is None:
        kind += "" if lap.resistance is not None else "; stays dry, as no filler_melts_at is told"
        filled = Unknown("no work_piece.joint.filler_melts_at is given")
    else:
        middle = run.temperature.shape[1] // 2
        hot = run.temperature[on][:, middle - 1 : middle + 1].mean(axis=1) >= lap.filler_melts_at
        filled = float(run.time[on][hot.argmax()]) if hot.any() else filled
    return LapInBurst(kind=kind, **_course(run, on, 1), filled_after=filled)


def second_path_in_burst(run: HeatingRun, end: int) -> SecondPathInBurst | Unknown:
    """Return what flows beside the work, up to a moment of the run."""
    if (path := run.beside) is None:
        return Unknown("no work_piece.second_path is given")
    made = path.current_rms**2 * path.resistance
    return SecondPathInBurst(
        cold_share=float(path.current_rms[0] / run.current_rms[0]),
        hot_share=float(path.current_rms[end] / run.current_rms[end]),
        hot_current_rms=float(path.current_rms[end]),
        hottest_temperature=float(path.hottest_temperature[end]),
        heat=float(np.trapezoid(made[: end + 1], run.time[: end + 1])),
    )


def _course(run: HeatingRun, on: NDArray[np.intp], at: int) -> dict[str, Any]:
    """Return what a contact does at moments with current on."""
    current = run.current_rms[on]
    # of two paths each has its part of the contact, with the voltage that all of it has
    resistance = run.contact_resistance[on, at] * run.own_current_rms[on] / current
    # a spot is as hot as its voltage has it only after some milliseconds
    settled = min(int(np.searchsorted(run.time[on], 10 * SETTLING)), on.size - 1)
    spot = float(run.spot_temperature[on, at].max())
    return {
        "cold_resistance": float(resistance[0]),
        "hot_resistance": float(resistance[-1]),
        "highest_voltage_rms": float((current * resistance)[settled:].max()),
        "hottest_spot": Unknown("a resistance without a spot") if isnan(spot) else spot,
        "heat": float(np.trapezoid(current**2 * resistance, run.time[on])),
    }


def power_in_burst(run: HeatingRun) -> PowerInBurst:
    """Return the power by place at the last moment with current on."""
    end = int(np.flatnonzero(run.current_rms > 0)[-1])
    square = float(run.own_current_rms[end]) ** 2
    bars, contacts = square * run.bar_resistance[end], square * run.contact_resistance[end]
    beside, jaws = 0.0, float(contacts[0] + contacts[-1])
    if (path := run.beside) is not None:
        beside = float(path.current_rms[end] ** 2 * path.bar_resistance[end].sum())
        jaws += float(path.current_rms[end] ** 2 * path.contact_resistance[end].sum())
    carbons = bars.size == 3
    inner = float(contacts[1:-1].sum())
    return PowerInBurst(
        work=float(bars[1] if carbons else bars.sum()),
        carbons=float(bars[0] + bars[2]) if carbons else 0.0,
        tips=inner if carbons else 0.0,
        joint=0.0 if carbons else inner,
        second_path=beside,
        jaws=jaws,
        total=float(bars.sum() + inner + beside + jaws),
    )


def contact_cautions(found: ContactInBurst) -> Iterator[Caution]:
    """Tell what softens or melts in a contact."""
    if isinstance(found.hottest_spot, Unknown):
        return
    drop, spot = brief(found.highest_voltage_rms, 2), found.hottest_spot - ZERO_CELSIUS
    numbers = {"work_piece.contact.highest_voltage_rms_V": found.highest_voltage_rms}
    soft, runs = brief(found.softening_voltage, 2), brief(found.melting_voltage, 2)
    if found.hottest_spot > found.softens_at + 0.9 * (found.melts_at - found.softens_at):
        text = (
            f"A jaw's contact reaches {spot:.0f} degC inside: it sticks or spits. It drops up to {drop} V, where a "
            f"clean one holds {runs} V at most. Press harder, clean the faces, or use less current."
        )
        yield Caution(about="contacts", text=text, danger=Danger.BURNS, numbers=numbers)
    elif found.hottest_spot > found.softens_at:
        text = (
            f"A jaw's contact reaches {spot:.0f} degC inside, softens and spreads. It drops up to {drop} V, and does "
            f"so above {soft} V; the jaw's face is marked and wears."
        )
        yield Caution(about="contacts", text=text, danger=Danger.DAMAGES, numbers=numbers)
