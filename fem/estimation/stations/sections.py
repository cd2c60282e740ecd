"""From solved states to the sections of an estimate: each function fills one."""

from __future__ import annotations

from cmath import rect
from math import ceil, isfinite, pi, sqrt

import numpy as np

from fem.characteristics.characterise import Fields
from fem.characteristics.leakage.force import coil_forces, largest_forces
from fem.characteristics.leakage.recipe import no_recipe_reason
from fem.characteristics.magnetising.shorted import shorted_flux
from fem.characteristics.resistance.leads import pair_force_per_m
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.remedies import Remedy, turns_for_idle_current, turns_for_peak_flux
from fem.circuit.time.connection import SHORTED
from fem.circuit.time.first_peaks import FirstPeaks
from fem.circuit.time.first_peaks import first_peaks as worst_first_peaks
from fem.circuit.time.phasor_check import phasor_difference
from fem.circuit.time.switch_on import switch_on
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.network import lead_impedance, leakage_permeance
from fem.estimation.stations import results
from fem.estimation.stations.reduced_test import reduced_voltage_test
from fem.estimation.supply_of import supply_of
from geometries.shapes.blocks import blocks_of, winding_names


def build(case: Case) -> results.Build:
    """Return what is built."""
    design, fitted = case.design, case.fitted
    states = {}
    for name, winding, room, state in zip(
        winding_names(case.found.blocks),
        (design.windings.primary, design.windings.secondary),
        (fitted.primary, fitted.secondary),
        (case.windings.primary, case.windings.secondary),
        strict=True,
    ):
        coils = blocks_of(case.found.blocks, name)
        states[name] = results.WindingState(
            turns=winding.net_turns,
            mean_turn=state.mean_turn,
            height=sum(coil.height for coil in coils),
            build=max(coil.build for coil in coils),
            spare_build=room.side_room,
            resistance=state.resistance,
            ac_ratio=state.ac_ratio,
            conductor_area=state.conducting_area,
            mass=state.mass,
        )
    return results.Build(
        cores=design.core.count,
        primaries=None if design.core.second is None else design.core.second.primaries.value,
        core_mass=design.core.iron_mass(case.sheet.density),
        fill_factor=fitted.fill_factor,
        spare_height=fitted.spare_height,
        temperature=design.temperature,
        primary=states["primary"],
        secondary=states["secondary"],
    )


def saturation(case: Case, *, remedies: bool) -> results.Saturation:
    """Return the flux in the core, idle, and what would cure too much of it."""
    circuit, found = case.circuit, case.found
    flux = case.at_idle.peak_flux_per_turn
    # a shunt's flux has the sense that a short circuit gives it below the secondary; a peak is told as a size
    by_place = {place: abs(b) for place, b in found.magnetising.by_place(flux).items()}
    keys = ("saturation.fewest_primary_turns", "saturation.extra_turns")
    turns = case.gaps.attempt(keys, lambda: _remedy(case)) if remedies else None
    knee_voltage = None if case.knee.volts_per_turn is None else case.knee.volts_per_turn * circuit.primary_turns
    return results.Saturation(
        volts_per_turn=sqrt(2) * pi * circuit.frequency * flux,
        peak_flux_density=by_place[found.flux_place],
        peak_flux_density_by_place=by_place,
        knee_voltage=knee_voltage,
        margin=None if knee_voltage is None else knee_voltage / circuit.voltage_rms - 1,
        target_flux_density=case.design.limits.flux_density,
        fewest_primary_turns=None if turns is None else turns.primary_turns,
        extra_turns=None if turns is None else max(turns.extra_turns, 0),
    )


def _remedy(case: Case) -> Remedy:
    """Return the fewest primary turns that meet all limits."""
    found, limits, parallel = case.found, case.design.limits, case.design.core.parallel_primaries
    wanted = found.magnetising.flux_at(found.flux_place, limits.flux_density)
    found.magnetising.check(wanted)
    remedy = turns_for_peak_flux(case.circuit, wanted, in_parallel=parallel, known=case.at_idle)
    if limits.idle_current is None:
        return remedy
    other = turns_for_idle_current(case.circuit, limits.idle_current, in_parallel=parallel, known=case.at_idle)
    return max(remedy, other, key=lambda r: r.primary_turns)


def rated_current(design: Design) -> float | None:
    """Return the input current to compare with [A]: the nameplate's, else the breaker's rating, else None."""
    return design.mains.rated_current or design.mains.breaker_rating


def leakage(case: Case) -> results.Leakage:
    """Return the leakage by part, per turn squared and as inductance and reactance."""
    leak, circuit = case.found.leakage, case.circuit
    omega, squared = circuit.angular_frequency, case.design.windings.secondary.turns**2
    leads = lead_impedance(case.design)
    whole = leakage_permeance(leak, case.windings.permeance_ratio)
    window = whole - leak.end_turn_permeance
    return results.Leakage(
        permeance=whole,
        window_permeance=window,
        end_turn_permeance=leak.end_turn_permeance,
        recipe_permeance=leak.recipe_permeance,
        shorted_permeance=_shorted_permeance(case),
        lead_loop_inductance=leads.inductance,
        inductance_primary=circuit.leakage_inductance_secondary * circuit.primary_turns**2 / squared,
        inductance_secondary=circuit.leakage_inductance_secondary,
        window_reactance_secondary=omega * squared * window,
        end_turn_reactance_secondary=omega * squared * leak.end_turn_permeance,
        lead_reactance=omega * leads.inductance,
        reactance_secondary=omega * circuit.leakage_inductance_secondary,
        coupling=circuit.secondary_turns / case.design.windings.secondary.turns,
    )


def _shorted_permeance(case: Case) -> float | None:
    """Return the leakage flux per ampere-turn [H] at the peak of the settled short-circuit current, with shunts."""
    leak = case.found.leakage
    if leak.ampere_turns is None or leak.flux_per_turn is None:
        return None
    peak = sqrt(2) * case.shorted.secondary_current_rms * case.design.windings.secondary.turns
    return float(np.interp(peak, leak.ampere_turns, leak.flux_per_turn)) / peak


def short_circuit(
    case: Case, *, first_peaks: bool, reduced: bool, fields: Fields | None, against_time: bool
) -> results.ShortCircuit:
    """Return the state with the lead ends joined; peaks, the reduced test, forces and flux where asked for."""
    design, circuit, shorted = case.design, case.circuit, case.shorted
    areas = [w.conducting_area for w in (case.windings.primary, case.windings.secondary)]
    at_once = ("secondary_first_peak_A", "primary_first_peak_A", "axial_force_N", "radial_force_N")
    keys = tuple(f"short_circuit.{name}" for name in (*at_once, *(("lead_force_N_per_m",) if design.leads else ())))
    attempt = case.gaps.attempt
    peaks = attempt(keys, lambda: _first_peaks(case)) if first_peaks else None
    secondary_peak = None if peaks is None else peaks.secondary.current
    forces = None
    if secondary_peak is not None:
        forces = attempt(keys[2:4], lambda: _winding_forces(case, secondary_peak))
    return results.ShortCircuit(
        secondary_current_rms=shorted.secondary_current_rms,
        primary_current_rms=shorted.primary_current_rms,
        secondary_first_peak=secondary_peak,
        primary_first_peak=None if peaks is None else peaks.primary.current,
        input_apparent_power=shorted.input_apparent_power,
        input_power=shorted.input_power,
        power_factor=shorted.power_factor,
        primary_current_density=shorted.primary_current_rms / areas[0],
        secondary_current_density=shorted.secondary_current_rms / areas[1],
        axial_force=None if forces is None else forces[0],
        radial_force=None if forces is None else forces[1],
        lead_force=(
            None
            if secondary_peak is None or design.leads is None
            else pair_force_per_m(secondary_peak, design.leads.spacing)
        ),
        peak_flux_density=(
            None
            if fields is None
            else attempt("short_circuit.peak_flux_density_T", lambda: _shorted_by_place(case, fields))
        ),
        phasor_difference=(
            attempt("short_circuit.phasor_difference", lambda: _phasor_difference(circuit)) if against_time else None
        ),
        reduced_voltage_test=(
            None
            if not reduced
            else attempt("short_circuit.reduced_voltage_test", lambda: reduced_voltage_test(design, circuit))
        ),
    )


def _first_peaks(case: Case) -> FirstPeaks:
    found = worst_first_peaks(case.circuit)
    if isfinite(case.found.magnetising.valid_to):
        run = switch_on(case.circuit, SHORTED, cycles=ceil(0.1 * case.circuit.frequency))
        case.found.magnetising.check(float(run.by_cycle.peak_flux_per_turn.max()))
    return found


def _phasor_difference(circuit: Circuit) -> float:
    found = phasor_difference(circuit)
    return max(abs(found.primary_rms), abs(found.secondary_rms))


def _winding_forces(case: Case, secondary_peak: float) -> tuple[float, float]:
    """Return the largest axial and radial force on a coil [N], as sizes."""
    leak, design = case.found.leakage, case.design
    ampere_turns = design.windings.secondary.turns * secondary_peak
    return largest_forces(coil_forces(leak, design.core, case.found.blocks, ampere_turns))


def _shorted_by_place(case: Case, fields: Fields) -> dict[str, float]:
    """Hand the circuit's phasors to the field. The primary's e.m.f. is the reference; its flux lags by a quarter."""
    shorted = case.shorted
    return shorted_flux(
        fields.model,
        case.found.iron,
        case.found.magnetising,
        secondary=winding_names(case.found.blocks)[1],
        depth=case.design.core.frame.iron_depth,
        primary_end_permeance=case.found.leakage.primary_end_permeance,
        primary_flux=rect(shorted.peak_flux_per_turn, -pi / 2),
        secondary_ampere_turns=-sqrt(2) * case.design.windings.secondary.turns * shorted.secondary_phasor,
    ).flux_density


def reasons(case: Case) -> dict[str, str]:
    """Return why results are None that no option would have computed."""
    found = {}
    if case.knee.reason is not None:
        found["saturation.knee_voltage_V"] = found["saturation.margin"] = case.knee.reason
    if rated_current(case.design) is None:
        found["idle.share_of_rated"] = "neither mains.rated_current nor mains.breaker is given"
    if case.design.core.second is None:
        found["build.primaries"] = "there is one core"
    if case.design.load is None:
        found["load"] = found["supply.loaded_dip"] = "no [load] is described"
    if abs(supply_of(case.design.mains).at(case.design.mains.frequency)) == 0:
        found["supply.prospective_short_current_A"] = "the supply is given no impedance"
    if case.found.leakage.recipe_permeance is None:
        found["leakage.recipe_permeance_H"] = no_recipe_reason(case.design.core, case.found.blocks) or "no recipe"
    if case.design.fitted_shunt is None:
        found["leakage.shorted_permeance_H"] = "no [shunt] is fitted"
    if case.design.leads is None:
        found["short_circuit.lead_force_N_per_m"] = "no [leads] are described"
    return found
