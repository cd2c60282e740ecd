"""One design in, everything the tool knows about it out."""

from __future__ import annotations

from collections.abc import Callable, Set
from dataclasses import replace
from enum import Enum
from typing import TypeVar

from fem.characteristics.characterise import Fields, Progress, fields_of
from fem.characteristics.resistance.slice import ac_slice
from fem.circuit.steady.short_circuit import short_circuit
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.case import Case
from fem.estimation.fields.source import Solved, Source
from fem.estimation.network import circuit_of, coupled, knee_of, winding_states
from fem.estimation.pictures import Pictures
from fem.estimation.provenance import provenance
from fem.estimation.stations import (
    bench_sections,
    heat_sections,
    idle_sections,
    load_section,
    results,
    results_bench,
    sections,
    work_sections,
)
from fem.field.static.model import solve_model
from fem.quantity import Band
from fem.threads import one_thread
from fem.trust.bands import bands
from fem.trust.cautions import cautions
from fem.work.run import HeatingRun
from geometries.windings.arrangement import place
from geometries.windings.fit import fit

Found = TypeVar("Found")


class Part(Enum):
    """What an estimate may leave out, because it costs more than the rest of the circuit together."""

    REMEDIES = "turns that cure saturation"
    FIRST_PEAKS = "first peaks and forces of a short circuit"
    SHORTED_PLACES = "flux density by place while shorted"
    PHASOR_CHECK = "phasors of the short circuit against the time domain"
    SWITCH_ON = "switching on with nothing connected"
    HALF_WAVE_SUPPLY = "idle with one half wave of the supply missing"
    MAINS_TOLERANCE = "idle current at 106 and 110 % of the mains voltage"
    VOLTAGE_SWEEP = "idle current against voltage"
    SHORT_TEST = "the reduced-voltage short test"
    CONDUCTOR_SLICE = "sharing of current between wires in hand, loss in thick conductors"
    LOAD_LINE = "the lead ends from open to short circuit"
    WORK_PIECE = "the work piece in a burst"
    HEATING = "heat in the machine"
    METERS = "what meters will show"
    BANDS = "bands"
    PICTURES = "fields and curves for figures"


EVERYTHING: Set[Part] = frozenset(Part)


_SOLVED = Solved()


@one_thread()
def estimate(
    design: Design,
    *,
    wanted: Set[Part] = EVERYTHING,
    characteristics: Source = _SOLVED,
    progress: Progress | None = None,
) -> results.Estimate:
    """Estimate one design; a part that cannot be computed is a gap, everything else stands.

    Parameters
    ----------
    design
        What is built and what it is plugged into.
    wanted
        Which of the costly parts to compute; the others are None with that reason.
    characteristics
        Where the fields' curves and numbers come from; for pictures slices are solved, as only their ratios are kept.
    progress
        Told in words what is under way.

    Raises
    ------
    DoesNotFit
        If the windings do not go into the window.
    OutOfRange
        If the core would go beyond the end of a B-H table when idle, or conductors take too fine a mesh.
    NotConverged
        If the fields or the idle state cannot be solved.
    ValueError
        If a B-H table is not usable.
    """
    tell = progress or (lambda _: None)
    blocks = place(design.core, design.windings)
    fitted = fit(design.core, design.windings, blocks, shunt=design.shunt)
    if not fitted.fits:
        raise DoesNotFit(fitted.faults)
    sheet = sheet_of(design.core, design.fitted_shunt)
    found, fields = characteristics(design, blocks, sheet, tell)
    if fields is None and wanted & {Part.PICTURES, Part.SHORTED_PLACES}:
        fields = fields_of(
            design.core,
            blocks,
            sheet.curve,
            level=found.mesh_level,
            shunt=design.fitted_shunt,
            shunt_curve=sheet.shunt,
        )
    tell("resistances")
    slices = ac_slice if Part.PICTURES in wanted else characteristics.slices
    windings = winding_states(design, found, with_slice=Part.CONDUCTOR_SLICE in wanted, slices=slices)
    tell("circuit")
    at_idle, circuit = coupled(circuit_of(design, found, windings), found)
    found.magnetising.check(at_idle.peak_flux_per_turn)
    case = Case(
        design=design,
        fitted=fitted,
        sheet=sheet,
        found=found,
        windings=windings,
        circuit=circuit,
        at_idle=at_idle,
        knee=knee_of(found, circuit.frequency),
        shorted=short_circuit(circuit),
    )
    computed = _sections(case, wanted, fields, tell)
    tell("done")
    return replace(computed, cautions=cautions(design, fitted, computed))


def _sections(case: Case, wanted: Set[Part], fields: Fields | None, tell: Progress) -> results.Estimate:
    """Return all sections; a part that fails is None, with its reason among the gaps."""

    def part(which: Part, key: str, compute: Callable[[Case], Found]) -> Found | None:
        if which not in wanted:
            return None
        tell(which.value)
        return case.gaps.attempt(key, lambda: compute(case))

    work = part(Part.WORK_PIECE, "work_piece", work_sections.work_piece)
    load = case.gaps.attempt("load", lambda: load_section.load(case))
    switch = part(Part.SWITCH_ON, "switch_on", idle_sections.switch_on)
    heat = part(Part.HEATING, "heating", heat_sections.heating)
    if Part.FIRST_PEAKS in wanted:
        tell(Part.FIRST_PEAKS.value)
    computed = results.Estimate(
        title=case.design.title,
        build=sections.build(case),
        saturation=sections.saturation(case, remedies=Part.REMEDIES in wanted),
        idle=idle_sections.idle_state(case, sweep=Part.VOLTAGE_SWEEP in wanted, raised=Part.MAINS_TOLERANCE in wanted),
        leakage=sections.leakage(case),
        open_circuit=idle_sections.open_circuit(case),
        short_circuit=sections.short_circuit(
            case,
            first_peaks=Part.FIRST_PEAKS in wanted,
            fields=fields if Part.SHORTED_PLACES in wanted else None,
            against_time=Part.PHASOR_CHECK in wanted,
            reduced=Part.SHORT_TEST in wanted,
        ),
        load=load,
        switch_on=switch,
        half_wave_supply=part(Part.HALF_WAVE_SUPPLY, "half_wave_supply", idle_sections.half_wave_supply),
        load_line=part(Part.LOAD_LINE, "load_line", bench_sections.load_line),
        work_piece=work,
        heating=heat,
        supply=bench_sections.supply(case, load, switch),
        meters=part(Part.METERS, "meters", bench_sections.meters),
        bands=_bands(case, work, heat) if Part.BANDS in wanted else {},
        reasons={},
        gaps=(),
        cautions=(),
        provenance=provenance(case),
        pictures=(
            _pictures(case, fields, None if work is None else case.burst)
            if fields is not None and Part.PICTURES in wanted
            else None
        ),
    )
    return replace(
        computed,
        reasons={
            **sections.reasons(case),
            **work_sections.work_piece_reasons(case, work),
            **_left_out(wanted),
            **case.gaps.reasons,
        },
        gaps=tuple(case.gaps.failed),
    )


def _bands(
    case: Case, work: results_bench.WorkPieceState | None, heat: results_bench.Heating | None
) -> dict[str, Band]:
    of_work = case.gaps.attempt("bands.work_piece", lambda: work_sections.work_piece_bands(case, work))
    of_heat = case.gaps.attempt("bands.heating", lambda: heat_sections.heating_bands(case, heat))
    return {**bands(case), **(of_work or {}), **(of_heat or {})}


_KEYS = {
    Part.REMEDIES: ("saturation.fewest_primary_turns", "saturation.extra_turns"),
    Part.FIRST_PEAKS: (
        "short_circuit.secondary_first_peak_A",
        "short_circuit.primary_first_peak_A",
        "short_circuit.axial_force_N",
        "short_circuit.radial_force_N",
        "short_circuit.lead_force_N_per_m",
    ),
    Part.SHORTED_PLACES: ("short_circuit.peak_flux_density_T",),
    Part.PHASOR_CHECK: ("short_circuit.phasor_difference",),
    Part.SWITCH_ON: ("switch_on",),
    Part.HALF_WAVE_SUPPLY: ("half_wave_supply",),
    Part.MAINS_TOLERANCE: ("idle.current_at_106_percent_A", "idle.current_at_110_percent_A"),
    Part.VOLTAGE_SWEEP: ("idle.voltage_sweep",),
    Part.SHORT_TEST: ("short_circuit.reduced_voltage_test",),
    Part.LOAD_LINE: ("load_line",),
    Part.WORK_PIECE: ("work_piece",),
    Part.HEATING: ("heating",),
    Part.METERS: ("meters",),
}


def _left_out(wanted: Set[Part]) -> dict[str, str]:
    return {key: "not asked for" for part, keys in _KEYS.items() if part not in wanted for key in keys}


def _pictures(case: Case, fields: Fields, run: HeatingRun | None) -> Pictures:
    curve, at_idle = case.found.magnetising, case.at_idle
    ampere_turns = float(case.circuit.magnetising.ampere_turns_at(at_idle.peak_flux_per_turn))
    return Pictures(
        core=case.design.core,
        blocks=case.found.blocks,
        section=case.found.section,
        idle_field=solve_model(fields.model, {case.found.magnetising.winding: ampere_turns}),
        leakage_field=fields.leakage,
        ampere_turns=curve.ampere_turns,
        flux_per_turn=curve.flux_per_turn,
        flux_density=curve.flux_density_by_place[case.found.flux_place],
        operating_flux_per_turn=at_idle.peak_flux_per_turn,
        operating_ampere_turns=ampere_turns,
        knee_flux_per_turn=case.knee.peak_flux_per_turn,
        time=at_idle.time,
        voltage=at_idle.voltage,
        current=at_idle.current,
        ac_slice=case.windings.ac_slice,
        work_piece=run,
    )
