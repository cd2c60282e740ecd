"""The work piece in a burst, and what it would settle at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product
from math import hypot, sqrt

import numpy as np

from fem.circuit.equivalent import Circuit
from fem.constants import ZERO_CELSIUS
from fem.digits import brief
from fem.estimation.case import Case, last_loaded
from fem.estimation.inputs.circuit import circuit_of, coupled
from fem.estimation.inputs.contact import ContactDoubt, doubts_of
from fem.estimation.inputs.joints import joints_doubt
from fem.estimation.inputs.ring import WIDE_LOOP, loop_beyond
from fem.estimation.inputs.work import across, work_of
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.bench.contact import (
    BANDED,
    NO_JAWS,
    ContactInBurst,
    LapInBurst,
    PowerInBurst,
    contact_cautions,
    contact_in_burst,
    lap_in_burst,
    power_in_burst,
)
from fem.estimation.stations.section import Station
from fem.materials.work_metals import work_metal
from fem.quantity import Band, Show, Unknown, of
from fem.trust.caution import Caution
from fem.trust.doubts import MAINS
from fem.work.burst import Burst
from fem.work.feed import feed_of
from fem.work.feeding import fed_side_by_side
from fem.work.run import HeatingRun, Settled, milestones
from fem.work.warmer import Machine

LONGER = 3.0
"""How much longer than the burst the current is left on to find when the target is reached."""
BEYOND = 100.0
"""How far past the target [K] that is followed, so that the moment lies between points."""
BAND_TOLERANCE = 0.5
"""Estimated error of one time step [K] where a band is looked for."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SecondPathInBurst:
    """What flows beside the work, from jaw to jaw."""

    cold_share: float = of("-", "its current over that of the lead ends, at the start", show=Show.SHARE)
    hot_share: float = of("-", "the same at the end of the burst", show=Show.SHARE)
    hot_current_rms: float = of("A", "its current at the end of the burst, r.m.s.")
    hottest_temperature: float = of("K", "its hottest place at the end of the burst")
    heat: float = of("J", "heat made in it and in its part of the jaws' contacts")


@dataclass(frozen=True, kw_only=True, slots=True)
class WorkPieceState:
    """The work in a burst: the current follows its hot resistance."""

    cold_current_rms: float = of("A", "current at the start, r.m.s.")
    hot_current_rms: float = of("A", "current at the end of the burst, r.m.s.")
    cold_resistance: float = of("ohm", "resistance between the lead ends at the start")
    hot_resistance: float = of("ohm", "resistance between the lead ends at the end of the burst")
    hot_voltage_rms: float = of("V", "voltage between the lead ends at the end of the burst, r.m.s.")
    hottest_temperature: float = of("K", "hottest place of the work at the end of the burst")
    hottest_position: float | Unknown = of("m", "its distance from the left jaw")
    jaw_temperature: float | Unknown = of("K", "hotter jaw at the end of the burst")
    coldest_jaw_temperature: float | Unknown = of("K", "colder jaw at the end of the burst")
    hottest_at_the_end: float = of("K", "hottest place of the work at the end of the run, cooling included")
    time_to_target: float | Unknown = of("s", "time to the wanted temperature")
    time_to_visible_red: float | Unknown = of("s", "time to just visible red, 525 degC")
    time_to_dull_red: float | Unknown = of("s", "time to dull red, 699 degC")
    time_to_melting: float | Unknown = of("s", "time until melting begins")
    time_to_melting_through: float | Unknown = of("s", "time until melted through")
    settles_at: float | Unknown = of("K", "temperature it settles at if the current is left on")
    settles_after: float | Unknown = of(
        "s", "time until it has settled, or melted through, from a machine that stays cool"
    )
    settled_current_rms: float | Unknown = of("A", "current by then, r.m.s.")
    contact: ContactInBurst | Unknown = of("", "contact of work and jaw")
    lap: LapInBurst | Unknown = of("", "lap")
    power: PowerInBurst = of("", "power at the end of the burst")
    second_path: SecondPathInBurst | Unknown = of("", "second path")
    energy: float = of("J", "electric energy of the burst")
    energy_stored_share: float | Unknown = of(
        "-", "share of it still in the work at the end of the run", show=Show.SHARE
    )
    energy_imbalance: float = of("J", "what the energy balance does not account for")


def work_piece(case: Case) -> WorkPieceState | Unknown:
    """Return the work in a burst."""
    given, run = case.design.work_piece, case.burst
    if given is None or run is None:
        return Unknown("no [work_piece] is described")
    reached = milestones(run, given.target_temperature)
    not_reached = Unknown(f"not in the burst of {given.switch_off or given.duration:g} s")
    no_target = Unknown("no work_piece.target_temperature is given")
    end, energy, settled = last_loaded(run), run.energy, attempt(lambda: case.settled)

    def from_jaws(value: float) -> float | Unknown:
        return float(value) if given.ring is None else Unknown(NO_JAWS)

    def moment(time: float | None) -> float | Unknown:
        return not_reached if time is None else time

    return WorkPieceState(
        cold_current_rms=float(run.current_rms[0]),
        hot_current_rms=float(run.current_rms[end]),
        cold_resistance=float(run.resistance[0]),
        hot_resistance=float(run.resistance[end]),
        hot_voltage_rms=float(run.voltage_rms[end]),
        hottest_temperature=float(run.hottest_temperature[end]),
        hottest_position=from_jaws(run.hottest_position[end]),
        jaw_temperature=from_jaws(run.jaw_temperature[end].max()),
        time_to_target=no_target if given.target_temperature is None else moment(reached.target),
        time_to_visible_red=moment(reached.visible_red),
        time_to_dull_red=moment(reached.dull_red),
        time_to_melting=moment(reached.melting_begins),
        time_to_melting_through=moment(reached.melted_through),
        coldest_jaw_temperature=from_jaws(run.jaw_temperature[end].min()),
        hottest_at_the_end=float(run.hottest_temperature[-1]),
        settles_at=settled if isinstance(settled, Unknown) else _settles_at(settled),
        settles_after=settled if isinstance(settled, Unknown) else settled.time,
        settled_current_rms=settled if isinstance(settled, Unknown) else settled.current_rms,
        contact=contact_in_burst(given, run),
        lap=lap_in_burst(given, run),
        power=power_in_burst(run),
        second_path=_second_path(run, end),
        energy=energy.electric,
        energy_stored_share=_stored_share(run),
        energy_imbalance=energy.imbalance,
    )


def _second_path(run: HeatingRun, end: int) -> SecondPathInBurst | Unknown:
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


def _settles_at(settled: Settled) -> float | Unknown:
    if settled.temperature is None:
        return Unknown(f"it melts through after {brief(settled.time)} s, before it settles")
    return settled.temperature


def _stored_share(run: HeatingRun) -> float | Unknown:
    # where hot jaws or a hot piece give or take more than the current, the one is no part of the other
    energy = run.energy
    if not 0 <= energy.stored < 1.01 * energy.electric:
        return Unknown("the current is not what warms it")
    return energy.stored / energy.electric


def _bands(case: Case, found: WorkPieceState) -> dict[str, Band | Unknown]:
    """Return what mains, joints of the leads and contacts make of the burst.

    The machine with high mains and good joints, and the one with low mains and bad joints, into good and into bad
    contacts, and into bad ones that conduct heat well: a contact that is worse may warm the work more, for its heat is
    made beside it. To tell how long the target takes, the current is left on for longer than the burst.
    """
    given = case.design.work_piece
    assert given is not None
    on, target = given.switch_off or given.duration, given.target_temperature
    reached = None if isinstance(found.time_to_target, Unknown) else found.time_to_target
    hottest, currents, times = [found.hottest_temperature], [found.hot_current_rms], [reached]
    ohms = [found.hot_resistance]
    contacts_found, laps, beside = [found.contact], [found.lap], [found.second_path]
    weak, strong, machine_why = _machines(case)
    doubts = list(doubts_of(given))
    # all but typical ones; good spots under faces that conduct badly are none
    ways = list(ContactDoubt)[1:] if doubts else [ContactDoubt.TYPICAL]
    bursts = []
    for circuit, contacts in product((weak, strong), ways):
        piece = work_of(given, contacts=contacts)
        feed = feed_of(piece, circuit, case.network, now=case.design.temperature)
        bursts.append(
            Burst(
                piece=piece,
                line=Machine(feed=feed, circuit=circuit, network=case.network, now=case.design.temperature),
                duration=on if target is None else LONGER * on,
                start_temperature=given.ambient,
                frequency=circuit.frequency,
                tolerance=BAND_TOLERANCE,
                until=(on, (target or 0.0) + BEYOND),
            )
        )
    for found_run in fed_side_by_side(bursts):
        if isinstance(found_run, Exception):
            raise found_run
        run, _ = found_run
        hottest.append(float(np.interp(on, run.time, run.hottest_temperature)))
        currents.append(float(np.interp(on, run.time, run.current_rms)))
        ohms.append(float(np.interp(on, run.time, run.resistance)))
        times.append(milestones(run, given.target_temperature).target)
        contacts_found.append(contact_in_burst(given, run, until=on))
        laps.append(lap_in_burst(given, run, until=on))
        beside.append(_second_path(run, max(int(np.searchsorted(run.time, on, side="right")) - 1, 0)))
    why = "; ".join((machine_why, *doubts))
    bands: dict[str, Band | Unknown] = {
        "hottest_temperature": Band(low=min(hottest), high=max(hottest), why=why),
        "hot_current_rms": Band(low=min(currents), high=max(currents), why=why),
        "hot_resistance": Band(low=min(ohms), high=max(ohms), why=why),
    }
    for key, names, states in (
        ("contact", BANDED, contacts_found),
        ("lap", BANDED, laps),
        ("second_path", ("hot_share", "hot_current_rms", "hottest_temperature", "heat"), beside),
    ):
        for name in () if any(isinstance(one, Unknown) for one in states) else names:
            values = [getattr(one, name) for one in states]
            if not any(isinstance(value, Unknown) for value in values):
                bands[f"{key}.{name}"] = Band(
                    low=min(values), high=max(values), why="from what bounds the hottest place"
                )
    known = [time for time in times if time is not None]
    if len(known) == len(times):
        bands["time_to_target"] = Band(low=min(known), high=max(known), why=why)
    elif reached is not None:
        bands["time_to_target"] = Unknown(f"{brief(min(known))} s or more, or not within {LONGER * on:g} s: {why}")
    return bands


def _machines(case: Case) -> tuple[Circuit, Circuit, str]:
    """Return the weakest and the strongest machine that mains and the joints of the leads leave in doubt, and why."""
    below, above, joints = joints_doubt(case.design)
    # what of the primary's flux the secondary links hangs on the mains: before that
    alone = circuit_of(case.design, case.found, case.windings)
    loop, inner = loop_beyond(case.design, case.found.blocks), _inner_inductance(case)
    weak, strong = (
        coupled(
            replace(
                alone.with_voltage((1 + share) * alone.voltage_rms),
                lead_resistance=max(alone.lead_resistance + joint, 0.0),
                lead_inductance=alone.lead_inductance + (wide / WIDE_LOOP.typical - 1) * loop + more,
            ),
            case.found,
        )
        for share, joint, wide, more in (
            (-MAINS, above, WIDE_LOOP.high, inner),
            (MAINS, below, WIDE_LOOP.low, 0.0),
        )
    )
    wide_too = [f"loop of the ring {WIDE_LOOP.low:g} to {WIDE_LOOP.high:g} times that of circles"] if loop else []
    wide_too += ["flux inside magnetic steel"] if inner else []
    return weak, strong, "; ".join([f"mains +-{MAINS:.0%}", *joints, *wide_too])


def _inner_inductance(case: Case) -> float:
    """Return the most that the flux inside a cold magnetic ring adds to its loop [H]; the burst leaves it out.

    In linear steel a strip's X/R is 2/3 x^2 where R/R_dc - 1 = 4/45 x^4, a round bar's less; 0.95 at most in saturating
    steel, by marching the diffusion through sections (tests/physics/test_ring_round_leg.py).
    """
    given, run = case.design.work_piece, case.burst
    if given is None or run is None or given.ring is None:
        return 0.0
    metal = work_metal(given.metal)
    if metal.half_polarisation_field == 0:
        return 0.0
    direct = float(metal.resistivity_at(given.ambient)) * given.path / across(given.section).area
    ohms = float(run.bar_resistance[0].sum())
    return min(sqrt(5 * max(ohms / direct - 1, 0.0)), 0.95) * ohms / case.circuit.angular_frequency


def _cautions(case: Case, found: WorkPieceState) -> Iterator[Caution]:
    given = case.design.work_piece
    assert given is not None
    if not isinstance(found.time_to_melting, Unknown):
        after = brief(found.time_to_melting, 2)
        text = f"The work begins to melt after {after} s: drops of molten metal fall and spatter."
        yield Caution(about="work", text=text)
    elif isinstance(found.settles_at, Unknown) and not found.settles_at.gap:
        text = "Left on, the current melts the work through: time the burst, do not hold it by hand."
        yield Caution(about="work", text=text)
    if given.ring is not None:
        text = (
            "The whole ring is live and hot while the primary is on the mains, and no switch opens it: a fraction of a "
            "volt, yet a gap in it draws sparks, and what closes it again burns. Joined lead ends are told of it cold."
        )
        yield Caution(about="work", text=text)
        if inner := _inner_inductance(case) * case.circuit.angular_frequency / found.cold_resistance:
            text = (
                "The flux inside the ring's own steel is left out: cold, its current is up to "
                f"{brief(hypot(1, inner), 2)} times too high, its heat by the square; above 770 degC nothing of "
                "it is left. The bands hold it."
            )
            yield Caution(about="work", text=text)
    if not isinstance(path := found.second_path, Unknown):
        where = f"{brief(path.hot_current_rms, 2)} A flow the other way round, and warm it to"
        text = f"{where} {path.hottest_temperature - ZERO_CELSIUS:.0f} degC: the whole loop is live, hot and a magnet."
        yield Caution(about="work", text=text)
    if not isinstance(found.contact, Unknown):
        yield from contact_cautions(found.contact)


WORK_PIECE = Station(
    key="work_piece",
    result=WorkPieceState,
    compute=work_piece,
    part=Part.WORK_PIECE,
    bands=_bands,
    cautions=_cautions,
)
