"""The work piece in a burst, and what it would settle at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import hypot

from fem.constants import ZERO_CELSIUS
from fem.digits import brief, duration
from fem.estimation.case import Case, last_loaded
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.bench.contact import (
    NO_JAWS,
    ContactInBurst,
    LapInBurst,
    PowerInBurst,
    SecondPathInBurst,
    contact_cautions,
    contact_in_burst,
    lap_in_burst,
    power_in_burst,
    second_path_in_burst,
)
from fem.estimation.stations.bench.work_bands import inner_inductance, work_bands
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, of
from fem.trust.caution import Caution, Danger
from fem.trust.hot import solder_fumes
from fem.work.run import HeatingRun, Settled, milestones


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

    FORMULAS = """
    hot_voltage_rms: `.hot_current_rms_A` times `.hot_resistance_ohm`, as the step that ends the burst has them
    <fem.work.feeding.fed_side_by_side>
    cold_current_rms: the circuit's with `.cold_resistance_ohm` across the lead ends
    hot_current_rms: the circuit's, warm as it is by then, with `.hot_resistance_ohm` across the lead ends
    hottest_temperature: heat conduction along the work in one dimension: heat of the current `.hot_current_rms_A` and
        its like before, less what goes into the jaws, radiates and is carried off; resistance by temperature
        [textbooks: heat equation; tables of `rewound list work-pieces`]
    <fem.work.run.milestones>
    time_to_target: when the hottest place of that course first reaches `job.work_piece.target_temperature`
    time_to_melting: when the hottest place of that course first reaches the solidus of `job.work_piece.metal`
    <fem.work.feeding.fed_side_by_side>
    energy: integral of current squared times resistance over the burst; at its end `.power.total_W`
    """


def work_piece(case: Case) -> WorkPieceState | Unknown:
    """Return the work in a burst."""
    given, run = case.design.work_piece, case.burst
    if given is None or run is None:
        return Unknown("no [work_piece] is described")
    reached = milestones(run, given.target_temperature)
    not_reached = Unknown(f"not in the burst of {duration(given.switch_off or given.duration)}")
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
        second_path=second_path_in_burst(run, end),
        energy=energy.electric,
        energy_stored_share=_stored_share(run),
        energy_imbalance=energy.imbalance,
    )


def _settles_at(settled: Settled) -> float | Unknown:
    if settled.temperature is None:
        return Unknown(f"it melts through after {duration(settled.time)}, before it settles")
    return settled.temperature


def _stored_share(run: HeatingRun) -> float | Unknown:
    # where hot jaws or a hot piece give or take more than the current, the one is no part of the other
    energy = run.energy
    if not 0 <= energy.stored < 1.01 * energy.electric:
        return Unknown("the current is not what warms it")
    return energy.stored / energy.electric


def _cautions(case: Case, found: WorkPieceState) -> Iterator[Caution]:
    given = case.design.work_piece
    assert given is not None
    yield from solder_fumes(case.design)
    if not isinstance(found.time_to_melting, Unknown):
        after = duration(found.time_to_melting)
        text = f"The work begins to melt after {after}. Drops of molten metal fall and spatter."
        yield _of_work(text, Danger.BURNS, {"work_piece.time_to_melting_s": found.time_to_melting})
    elif isinstance(found.settles_at, Unknown) and not found.settles_at.gap:
        after, numbers = "", {}
        if not isinstance(found.settles_after, Unknown):
            after, numbers = (
                f" after {brief(found.settles_after, 2)} s",
                {"work_piece.settles_after_s": found.settles_after},
            )
        text = f"Left on, the current melts the work through{after}. Time the burst, do not hold it by hand."
        yield _of_work(text, Danger.BURNS, numbers)
    if given.ring is not None:
        text = (
            "The whole ring is live and hot while the primary is on the mains. No switch opens it: a gap in it draws "
            "sparks, and what closes it burns. With lead ends joined it is told cold."
        )
        yield _of_work(text, Danger.BURNS)
        if inner := inner_inductance(case) * case.circuit.angular_frequency / found.cold_resistance:
            text = (
                f"Cold, the ring's current may be told {brief(hypot(1, inner), 2)} times too high. The flux inside its "
                "own steel is left out; heat goes by the square, and above 770 degC nothing of it is left. The bands "
                "hold it."
            )
            yield _of_work(text, Danger.DISTURBS)
    if not isinstance(path := found.second_path, Unknown):
        hot = f"The other way round reaches {path.hottest_temperature - ZERO_CELSIUS:.0f} degC"
        text = f"{hot} with {brief(path.hot_current_rms, 2)} A. The whole loop is live, hot and a magnet."
        yield _of_work(text, Danger.BURNS, {"work_piece.second_path.hot_current_rms_A": path.hot_current_rms})
    if not isinstance(found.contact, Unknown):
        yield from contact_cautions(found.contact)


def _of_work(text: str, danger: Danger, numbers: Mapping[str, float] | None = None) -> Caution:
    return Caution(about="work", text=text, danger=danger, numbers=numbers or {})


WORK_PIECE = Station(
    key="work_piece",
    result=WorkPieceState,
    compute=work_piece,
    part=Part.WORK_PIECE,
    bands=work_bands,
    cautions=_cautions,
)
