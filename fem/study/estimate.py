"""One design in, everything the tool knows about it out."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Set
from dataclasses import replace
from enum import Enum
from functools import cache
from importlib.metadata import version

from fem.characteristics.characterise import Characteristics, Fields, Progress, characterise, fields_of
from fem.field.model import solve_model
from fem.lumped.short_circuit import short_circuit
from fem.lumped.work_piece_results import HeatingRun
from fem.study import bench_sections, heat_sections, idle_sections, results, results_bench, sections, work_sections
from fem.study.bands import bands
from fem.study.cautions import cautions
from fem.study.design import Design, RectifierKind, as_given
from fem.study.network import circuit_of, coupled, knee_of, winding_states
from fem.study.pictures import Pictures
from fem.study.sections import Case
from fem.study.sheet import Sheet, sheet_of
from geometries.blocks import Block
from geometries.fit import fit
from geometries.windings import place

PACKAGES = ("numpy", "scipy", "scikit-fem", "gmsh", "cvxopt")

Characterise = Callable[[Design, tuple[Block, ...], Sheet, Progress], tuple[Characteristics, Fields | None]]
"""How characteristics are come by: solved, or taken from where they are kept (then without their fields)."""


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


class DoesNotFit(ValueError):
    """The windings do not go into the window; `faults` has one (key, sentence) for each reason."""

    def __init__(self, faults: tuple[tuple[str, str], ...]) -> None:
        super().__init__("; ".join(f"{key}: {text}" for key, text in faults))
        self.faults = faults


def solve_characteristics(
    design: Design, blocks: tuple[Block, ...], sheet: Sheet, progress: Progress
) -> tuple[Characteristics, Fields]:
    """Solve the fields of a design's core and arrangement; see `characterise`."""
    return characterise(
        design.core,
        blocks,
        curve=sheet.curve,
        loss=sheet.loss,
        density=sheet.density,
        progress=progress,
        shunt=design.fitted_shunt,
        shunt_curve=sheet.shunt,
    )


def estimate(
    design: Design,
    *,
    wanted: Set[Part] = EVERYTHING,
    characteristics: Characterise = solve_characteristics,
    progress: Progress | None = None,
) -> results.Estimate:
    """Estimate one design.

    Parameters
    ----------
    design
        What is built and what it is plugged into.
    wanted
        Which of the costly parts to compute; the others are None with that reason.
    characteristics
        Where the field's curves and numbers come from.
    progress
        Told in words what is under way.

    Raises
    ------
    DoesNotFit
        If the windings do not go into the window.
    OutOfRange
        If the core would go beyond the end of a B-H table.
    NotConverged
        If an iteration fails.
    ValueError
        If a B-H table is not usable.
    """
    tell = progress or (lambda _: None)
    blocks = place(design.core, design.windings)
    fitted = fit(design.core, design.windings, blocks)
    in_the_way = [] if design.fitted_shunt is None else design.fitted_shunt.faults(design.core, blocks)
    if faults := (*fitted.faults, *in_the_way):
        raise DoesNotFit(tuple((fault.key, fault.message) for fault in faults))
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
    windings = winding_states(design, found, with_slice=Part.CONDUCTOR_SLICE in wanted)
    tell("circuit")
    at_idle, circuit = coupled(circuit_of(design, found, windings), found)
    found.magnetising.check(at_idle.peak_flux_per_turn)
    case = Case(
        design=design,
        found=found,
        fitted=fitted,
        sheet=sheet,
        windings=windings,
        circuit=circuit,
        at_idle=at_idle,
        knee=knee_of(found, circuit.frequency),
        shorted=short_circuit(circuit),
    )
    if Part.FIRST_PEAKS in wanted:
        tell("first peaks after switching on")
    if design.work_piece is not None:
        tell("work piece")
    work, run = work_sections.work_piece(case) if Part.WORK_PIECE in wanted else (None, None)
    load = sections.load(case)
    switch = idle_sections.switch_on(case) if Part.SWITCH_ON in wanted else None
    resistance = _load_resistance(design, work)
    if Part.HEATING in wanted:
        tell("heat in the machine")
    heat = heat_sections.heating(case, resistance) if Part.HEATING in wanted else None
    computed = results.Estimate(
        title=design.title,
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
        half_wave_supply=idle_sections.half_wave_supply(case) if Part.HALF_WAVE_SUPPLY in wanted else None,
        load_line=bench_sections.load_line(case, resistance) if Part.LOAD_LINE in wanted else None,
        work_piece=work,
        heating=heat,
        supply=bench_sections.supply(case, load, switch),
        meters=bench_sections.meters(case) if Part.METERS in wanted else None,
        bands={
            **bands(design, found, circuit),
            **work_sections.work_piece_bands(case, work),
            **heat_sections.heating_bands(case, heat, resistance),
        }
        if Part.BANDS in wanted
        else {},
        reasons={
            **sections.reasons(case),
            **work_sections.work_piece_reasons(case, work),
            **heat_sections.heating_reasons(case, resistance, heat),
            **_left_out(wanted),
        },
        cautions=(),
        provenance=_provenance(case),
        pictures=_pictures(case, fields, run) if fields is not None and Part.PICTURES in wanted else None,
    )
    tell("done")
    return replace(computed, cautions=cautions(design, fitted, computed))


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


def _load_resistance(design: Design, work: results_bench.WorkPieceState | None) -> float | None:
    """Return what the machine works into [ohm]: the load, else the hot work piece, else nothing known."""
    if design.load is not None and design.load.rectifier is RectifierKind.NONE:
        return design.load.resistance
    return None if work is None else work.hot_resistance


def _left_out(wanted: Set[Part]) -> dict[str, str]:
    return {key: "not asked for" for part, keys in _KEYS.items() if part not in wanted for key in keys}


@cache
def versions() -> dict[str, str]:
    """Return the versions of the tool and of what it computes with; looking them up takes milliseconds each."""
    return {name: version(name) for name in ("rewound", *PACKAGES)}


def _provenance(case: Case) -> results.Provenance:
    text = json.dumps(as_given(case.design), sort_keys=True)
    found = case.found
    return results.Provenance(
        version=versions()["rewound"],
        packages={name: versions()[name] for name in PACKAGES},
        job_digest=hashlib.sha256(text.encode()).hexdigest(),
        section_digest=found.section.digest,
        mesh_level=found.mesh_level,
        mesh_unknowns=found.unknowns,
        end_region_unknowns=found.leakage.end_region_unknowns,
        flux_discretisation_error=found.magnetising.discretisation_error,
        leakage_discretisation_error=found.leakage.discretisation_error,
    )


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
