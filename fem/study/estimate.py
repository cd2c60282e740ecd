"""One design in, everything the tool knows about it out."""

from __future__ import annotations

import hashlib
import json
from cmath import rect
from dataclasses import dataclass, replace
from importlib.metadata import version
from math import pi, sqrt
from pathlib import Path

import numpy as np

from fem.characteristics.characterise import Characteristics, Progress, characterise
from fem.characteristics.shorted_flux import shorted_flux
from fem.field.model import solve_model
from fem.lumped.circuit import Circuit
from fem.lumped.idle import Idle, idle
from fem.lumped.inrush import inrush
from fem.lumped.knee import Knee, knee_point
from fem.lumped.load import Loaded, loaded, secondary_impedance
from fem.lumped.remedies import turns_for_idle_current, turns_for_peak_flux
from fem.lumped.short_circuit import short_circuit, short_test
from fem.lumped.switch_on import first_peaks
from fem.materials.bh import BHCurve, read_bh_table
from fem.materials.loss import CoreLoss
from fem.materials.steel import steel
from fem.study import results
from fem.study.bands import bands
from fem.study.cautions import cautions
from fem.study.design import Design, as_given
from fem.study.network import circuit_of, lead_impedance, wound
from fem.study.pictures import Pictures
from geometries.fit import Fit, fit
from geometries.windings import Arrangement, place

SHORT_TEST_CURRENT = 10.0
"""Primary current of the reduced-voltage short test [A]."""
REMANENCE = 0.8
"""Remanent flux density assumed at switch-on [T]. Static loops of non-oriented sheet fall back to 1.0 to 1.4 T
(tests/published); the joints of a stamped core bring that down: common practice, no source."""
UNKNOWN_SHEET_LOSS = "M800-65A"
"""Grade whose loss is taken where only a B-H table is given."""
PACKAGES = ("numpy", "scipy", "scikit-fem", "gmsh", "cvxopt")


class DoesNotFit(ValueError):
    """The windings do not go into the window; `faults` has one (key, sentence) for each reason."""

    def __init__(self, faults: tuple[tuple[str, str], ...]) -> None:
        super().__init__("; ".join(f"{key}: {text}" for key, text in faults))
        self.faults = faults


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Sheet:
    curve: BHCurve
    loss: CoreLoss
    density: float


def estimate(design: Design, *, progress: Progress | None = None) -> results.Estimate:
    """Estimate one design.

    Parameters
    ----------
    design
        What is built and what it is plugged into.
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
    if not fitted.fits:
        raise DoesNotFit(tuple((fault.key, fault.message) for fault in fitted.faults))
    sheet = _sheet(design)
    found = characterise(
        design.core,
        blocks,
        curve=sheet.curve,
        loss=sheet.loss,
        density=sheet.density,
        frequency=design.mains.frequency,
        progress=tell,
    )
    tell("circuit")
    return _assemble(design, found, fitted, sheet, circuit_of(design, found), tell)


def _sheet(design: Design) -> _Sheet:
    core = design.core
    if core.steel is not None:
        grade = steel(core.steel)
        return _Sheet(curve=grade.curve, loss=grade.loss, density=grade.density)
    assumed = steel(UNKNOWN_SHEET_LOSS)
    curve = read_bh_table(Path(str(core.bh_table)), core.saturation_polarisation)
    return _Sheet(curve=curve, loss=assumed.loss, density=assumed.density)


def _assemble(
    design: Design, found: Characteristics, fitted: Fit, sheet: _Sheet, circuit: Circuit, tell: Progress
) -> results.Estimate:
    at_idle = idle(circuit)
    found.magnetising.check(at_idle.peak_flux_per_turn)
    knee = knee_point(circuit.magnetising, circuit.frequency)
    shorted = short_circuit(circuit)
    tell("first peaks after switching on")
    computed = results.Estimate(
        title=design.title,
        build=_build(design, found, fitted, sheet),
        saturation=_saturation(design, found, circuit, at_idle, knee),
        idle=_idle(design, at_idle),
        leakage=_leakage(design, found, circuit),
        open_circuit=results.OpenCircuit(secondary_voltage_rms=_open_circuit_voltage(found, circuit, at_idle)),
        short_circuit=_short_circuit(design, found, circuit, shorted),
        load=_load(loaded(circuit)) if circuit.load_resistance is not None else None,
        switch_on=_switch_on(found, circuit),
        bands=bands(design, found, circuit),
        reasons=_reasons(design, knee),
        cautions=(),
        provenance=_provenance(design, found),
        pictures=_pictures(design, found, at_idle, knee, circuit),
    )
    tell("done")
    return replace(computed, cautions=cautions(design, fitted, computed))


def _build(design: Design, found: Characteristics, fitted: Fit, sheet: _Sheet) -> results.Build:
    states = {}
    for winding, block, room in zip(
        (design.windings.primary, design.windings.secondary),
        found.blocks,
        (fitted.primary, fitted.secondary),
        strict=True,
    ):
        length = wound(design, winding, block)
        states[block.winding] = results.WindingState(
            turns=winding.turns,
            mean_turn=length.mean_turn,
            height=block.height,
            build=block.build,
            spare_build=room.side_room,
            resistance=length.resistance,
            conductor_area=winding.wires_in_hand * winding.conductor.area,
            mass=length.mass,
        )
    return results.Build(
        core_mass=design.core.iron_mass(sheet.density),
        fill_factor=fitted.fill_factor,
        spare_height=_spare_height(design, fitted),
        temperature=design.temperature,
        primary=states["primary"],
        secondary=states["secondary"],
    )


def _spare_height(design: Design, fitted: Fit) -> float:
    rooms = (fitted.primary, fitted.secondary)
    below, above = min(r.room_below for r in rooms), min(r.room_above for r in rooms)
    if design.windings.arrangement is Arrangement.CONCENTRIC:
        return below + above
    return below + above + fitted.apart - design.windings.spacing


def _saturation(
    design: Design, found: Characteristics, circuit: Circuit, at_idle: Idle, knee: Knee
) -> results.Saturation:
    flux = at_idle.peak_flux_per_turn
    by_place = found.magnetising.by_place(flux)
    target = design.limits.flux_density
    remedy = turns_for_peak_flux(circuit, found.magnetising.flux_at("centre leg", target))
    if design.limits.idle_current is not None:
        other = turns_for_idle_current(circuit, design.limits.idle_current)
        remedy = max(remedy, other, key=lambda r: r.primary_turns)
    knee_voltage = None if knee.volts_per_turn is None else knee.volts_per_turn * circuit.primary_turns
    return results.Saturation(
        volts_per_turn=sqrt(2) * pi * circuit.frequency * flux,
        peak_flux_density=by_place["centre leg"],
        peak_flux_density_by_place=by_place,
        knee_voltage=knee_voltage,
        margin=None if knee_voltage is None else knee_voltage / circuit.voltage_rms - 1,
        target_flux_density=target,
        fewest_primary_turns=remedy.primary_turns,
        extra_turns=max(remedy.extra_turns, 0),
    )


def _open_circuit_voltage(found: Characteristics, circuit: Circuit, at_idle: Idle) -> float:
    """Return the r.m.s. voltage of the flux that the secondary links, a little less than the primary's, over a period.

    A Fourier series differentiates the waveform exactly.
    """
    flux = found.magnetising.other_flux(at_idle.flux_per_turn)
    amplitudes = np.abs(np.fft.rfft(flux)[1:]) * 2 / flux.size
    orders = np.arange(1, amplitudes.size + 1)
    rms = np.sqrt(0.5 * np.sum((orders * circuit.angular_frequency * amplitudes) ** 2))
    return float(circuit.secondary_turns * rms)


def _idle(design: Design, at_idle: Idle) -> results.Idle:
    rated = rated_current(design)
    return results.Idle(
        current_rms=at_idle.current_rms,
        current_peak=at_idle.current_peak,
        core_loss=at_idle.core_loss,
        copper_loss=at_idle.copper_loss,
        apparent_power=at_idle.apparent_power,
        power_factor=at_idle.power_factor,
        share_of_rated=None if rated is None else at_idle.current_rms / rated,
    )


def rated_current(design: Design) -> float | None:
    """Return the input current to compare with [A]: the nameplate's, else the breaker's rating, else None."""
    return design.mains.rated_current or design.mains.breaker_rating


def _leakage(design: Design, found: Characteristics, circuit: Circuit) -> results.Leakage:
    leak, omega = found.leakage, circuit.angular_frequency
    squared = circuit.secondary_turns**2
    _, lead_henries = lead_impedance(design.leads, design.temperature)
    return results.Leakage(
        permeance=leak.permeance,
        window_permeance=leak.window_permeance,
        end_turn_permeance=leak.end_turn_permeance,
        recipe_permeance=leak.recipe_permeance,
        lead_loop_inductance=lead_henries,
        inductance_primary=circuit.leakage_inductance_primary,
        inductance_secondary=circuit.leakage_inductance_secondary,
        window_reactance_secondary=omega * squared * leak.window_permeance,
        end_turn_reactance_secondary=omega * squared * leak.end_turn_permeance,
        lead_reactance=omega * lead_henries,
        reactance_secondary=omega * circuit.leakage_inductance_secondary,
    )


def _short_circuit(design: Design, found: Characteristics, circuit: Circuit, shorted: Loaded) -> results.ShortCircuit:
    first = first_peaks(circuit)
    test = short_test(circuit, SHORT_TEST_CURRENT)
    areas = [w.wires_in_hand * w.conductor.area for w in (design.windings.primary, design.windings.secondary)]
    return results.ShortCircuit(
        secondary_current_rms=shorted.secondary_current_rms,
        primary_current_rms=shorted.primary_current_rms,
        secondary_first_peak=first.secondary.current,
        primary_first_peak=first.primary.current,
        input_apparent_power=shorted.input_apparent_power,
        input_power=shorted.input_power,
        power_factor=shorted.power_factor,
        primary_current_density=shorted.primary_current_rms / areas[0],
        secondary_current_density=shorted.secondary_current_rms / areas[1],
        peak_flux_density=_shorted_by_place(design, found, circuit, shorted),
        reduced_voltage_test=results.ShortTest(
            primary_current_rms=test.primary_current_rms,
            primary_voltage_rms=test.primary_voltage_rms,
            secondary_current_rms=test.secondary_current_rms,
            power=test.power,
            power_factor=test.power_factor,
        ),
    )


def _shorted_by_place(design: Design, found: Characteristics, circuit: Circuit, shorted: Loaded) -> dict[str, float]:
    """Hand the circuit's phasors to the field. The primary's e.m.f. is the reference; its flux lags by a quarter."""
    emf = shorted.primary_emf_rms
    flux = rect(shorted.peak_flux_per_turn, -pi / 2)
    secondary_emf = emf * circuit.secondary_turns / circuit.primary_turns
    current = secondary_emf / secondary_impedance(circuit, 0.0)
    return shorted_flux(
        found.model,
        found.iron,
        found.magnetising,
        secondary=found.blocks[1].winding,
        depth=design.core.stack_depth,
        primary_end_permeance=found.leakage.primary_end_permeance,
        primary_flux=flux,
        secondary_ampere_turns=-sqrt(2) * circuit.secondary_turns * current,
    ).flux_density


def _load(state: Loaded) -> results.LoadState:
    return results.LoadState(
        resistance=state.load_resistance,
        current_rms=state.secondary_current_rms,
        voltage_rms=state.load_voltage_rms,
        power=state.load_power,
        primary_current_rms=state.primary_current_rms,
        input_apparent_power=state.input_apparent_power,
        input_power=state.input_power,
        power_factor=state.power_factor,
        efficiency=state.efficiency,
    )


def _switch_on(found: Characteristics, circuit: Circuit) -> results.SwitchOn:
    remanent = found.magnetising.flux_at("centre leg", REMANENCE)
    return results.SwitchOn(
        remanent_flux_density=REMANENCE, primary_first_peak=inrush(circuit, remanence=remanent).current
    )


def _reasons(design: Design, knee: Knee) -> dict[str, str]:
    reasons = {}
    if knee.reason is not None:
        reasons["saturation.knee_voltage_V"] = reasons["saturation.margin"] = knee.reason
    if rated_current(design) is None:
        reasons["idle.share_of_rated"] = "neither mains.rated_current nor mains.breaker is given"
    if design.load is None:
        reasons["load"] = "no [load] is described"
    for section in ("heating", "work_piece", "supply", "meters"):
        reasons[section] = "not computed by this version"
    return reasons


def _provenance(design: Design, found: Characteristics) -> results.Provenance:
    text = json.dumps(as_given(design), sort_keys=True)
    return results.Provenance(
        version=version("rewound"),
        packages={name: version(name) for name in PACKAGES},
        job_digest=hashlib.sha256(text.encode()).hexdigest(),
        section_digest=found.section.digest,
        mesh_level=found.model.mesh.level,
        mesh_unknowns=found.model.unknowns,
        end_region_unknowns=found.leakage.end_region_unknowns,
        flux_discretisation_error=found.magnetising.discretisation_error,
        leakage_discretisation_error=found.leakage.discretisation_error,
    )


def _pictures(design: Design, found: Characteristics, at_idle: Idle, knee: Knee, circuit: Circuit) -> Pictures:
    curve = found.magnetising
    ampere_turns = float(circuit.magnetising.ampere_turns_at(at_idle.peak_flux_per_turn))
    return Pictures(
        core=design.core,
        blocks=found.blocks,
        section=found.section,
        idle_field=solve_model(found.model, {found.blocks[0].winding: ampere_turns}),
        leakage_field=found.leakage.field,
        ampere_turns=curve.ampere_turns,
        flux_per_turn=curve.flux_per_turn,
        flux_density=curve.flux_density_by_place["centre leg"],
        operating_flux_per_turn=at_idle.peak_flux_per_turn,
        operating_ampere_turns=ampere_turns,
        knee_flux_per_turn=knee.peak_flux_per_turn,
        time=at_idle.time,
        voltage=at_idle.voltage,
        current=at_idle.current,
    )
