"""Lead ends joined, full mains voltage: currents, first peaks, forces, flux; and the same test on reduced voltage."""

from __future__ import annotations

from cmath import rect
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite, pi, sqrt
from types import SimpleNamespace

from fem.assumptions import assumed
from fem.characteristics.leakage.force import coil_forces, largest_forces
from fem.characteristics.magnetising.shorted import shorted_flux
from fem.characteristics.resistance.leads import pair_force_per_m
from fem.circuit.steady.load import PHASOR_BOUND
from fem.circuit.time.first_peaks import QUICK, FirstPeaks, first_peaks
from fem.circuit.time.phasor_check import phasor_difference
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.once import attempt
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.estimation.stations.states.reduced_voltage import ChosenTest, reduced_voltage_test
from fem.quantity import Show, Unknown, of
from fem.trust.caution import Caution, Danger
from fem.trust.live import stray
from fem.trust.near_leads import near_leads
from geometries.shapes.blocks import winding_names

WINDING_FORCE, LEAD_FORCE = assumed("force between windings").typical, assumed("force between leads").typical
"""Forces [N], [N/m] from which tying down is worth a sentence."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ShortCircuit:
    """Lead ends joined, full mains voltage."""

    secondary_current_rms: float = of("A", "secondary current, r.m.s.")
    primary_current_rms: float = of("A", "primary current, r.m.s.")
    secondary_first_peak: float | Unknown = of("A", "secondary first peak, closed at the worst moment, with remanence")
    primary_first_peak: float | Unknown = of("A", "primary first peak, closed at the worst moment, with remanence")
    input_apparent_power: float = of("VA", "input apparent power")
    input_power: float = of("W", "input power")
    power_factor: float = of("-", "power factor")
    primary_current_density: float = of("A/m2", "current density in the primary")
    secondary_current_density: float = of("A/m2", "current density in the secondary")
    axial_force: float | Unknown = of("N", "largest force along the leg on a coil, at the secondary's first peak")
    radial_force: float | Unknown = of(
        "N", "largest force across the leg on a coil, out of its turns or sideways, then"
    )
    lead_force: float | Unknown = of("N/m", "repulsion between the leads, per metre, at the secondary's first peak")
    peak_flux_density: Mapping[str, float] | Unknown = of("T", "peak flux density by place, iron, lead ends joined")
    phasor_difference: float | Unknown = of(
        "-", "largest difference of phasor currents from the time domain", show=Show.SHARE
    )
    reduced_voltage_test: ChosenTest | Unknown = of("", "lead ends joined on reduced voltage")

    FORMULAS = """
    input_apparent_power = `job.mains.voltage` * (1 - `supply.shorted_dip`) * `.primary_current_rms_A`
    power_factor = `.input_power_W` / `.input_apparent_power_VA`
    primary_current_density = `.primary_current_rms_A` / `build.primary.conductor_area_m2`
    secondary_current_density = `.secondary_current_rms_A` / `build.secondary.conductor_area_m2`
    <fem.circuit.steady.load.loaded>
    secondary_current_rms = `milliohms.shorted.voltage_V` / sqrt(`milliohms.shorted.resistance_ohm`**2 +
        `milliohms.shorted.reactance_ohm`**2); volts of the mains as they appear at the secondary over R and X of all in
        series, X mostly `leakage.reactance_secondary_ohm`. Solved as I2 = E N2/N1 / (R2 + Rl + j w (N2^2 L + Ll)),
        |E + (Rs + R1 + j w Ls) I1| = U [textbooks: equivalent circuit of the transformer]
    primary_current_rms: `.secondary_current_rms_A` by the turns, `build.secondary.turns` over `build.primary.turns`,
        and the magnetising current [textbooks: equivalent circuit of the transformer]
    <fem.circuit.time.first_peaks.first_peaks>
    secondary_first_peak: largest instant of the circuit marched in time from the worst moment of closing, remanence
        `switch_on.remanent_flux_density_T` in the core; at most 2 sqrt(2) `.secondary_current_rms_A` where X decides
    primary_first_peak: the same of the primary, saturation of the core in it; settled it is sqrt(2)
        `.primary_current_rms_A`
    <fem.circuit.steady.load.loaded>
    input_power: heat in all resistances beyond the socket's terminals: `.secondary_current_rms_A`^2 times those of
        winding, leads and joints, `.primary_current_rms_A`^2 times the primary's, and the core loss
    <fem.characteristics.leakage.force.largest_forces>
    axial_force: J x B summed over each coil in the leakage field, at the ampere-turns of `.secondary_first_peak_A`
    radial_force: J x B summed over each coil in the leakage field, at the ampere-turns of `.secondary_first_peak_A`
    <fem.characteristics.resistance.leads.pair_force_per_m>
    lead_force = 2e-7 * `.secondary_first_peak_A`**2 / `job.leads.spacing` [two long parallel wires, mu0/(2 pi)]
    <fem.circuit.time.phasor_check.phasor_difference>
    phasor_difference: primary or secondary r.m.s. current of the periodic state in time over that of phasors, less 1
    """


def short_circuit(case: Case) -> ShortCircuit:
    """Return the state with the lead ends joined; peaks, the reduced test, forces and flux where asked for."""
    design, shorted = case.design, case.shorted
    areas = case.windings.areas
    if Part.FIRST_PEAKS in case.wanted:
        case.tell(Part.FIRST_PEAKS.value)
    peaks = case.part(Part.FIRST_PEAKS, lambda: _first_peaks(case))
    peak: float | Unknown = peaks if isinstance(peaks, Unknown) else peaks.secondary.current
    forces = peak if isinstance(peak, Unknown) else attempt(lambda: _winding_forces(case, peak))
    lead_force: float | Unknown = peak
    if not isinstance(peak, Unknown):
        lead_force = (
            Unknown("no [leads] are described")
            if design.leads is None
            else pair_force_per_m(peak, design.leads.spacing)
        )
    elif peak.gap and design.leads is None:
        lead_force = Unknown("no [leads] are described")
    return ShortCircuit(
        secondary_current_rms=shorted.secondary_current_rms,
        primary_current_rms=shorted.primary_current_rms,
        secondary_first_peak=peak,
        primary_first_peak=peaks if isinstance(peaks, Unknown) else peaks.primary.current,
        input_apparent_power=shorted.input_apparent_power,
        input_power=shorted.input_power,
        power_factor=shorted.power_factor,
        primary_current_density=shorted.primary_current_rms / areas[0],
        secondary_current_density=shorted.secondary_current_rms / areas[1],
        axial_force=forces if isinstance(forces, Unknown) else forces[0],
        radial_force=forces if isinstance(forces, Unknown) else forces[1],
        lead_force=lead_force,
        peak_flux_density=case.part(Part.SHORTED_PLACES, lambda: _by_place(case)),
        phasor_difference=case.part(Part.PHASOR_CHECK, lambda: _phasor_difference(case)),
        reduced_voltage_test=case.part(Part.SHORT_TEST, lambda: _reduced(case)),
    )


def _reduced(case: Case) -> ChosenTest:
    """Return the test at one current: what the meter is set to, whatever is in doubt."""
    return reduced_voltage_test(case.design, case.circuit, (case.drawn_of or case).circuit)


def _of_members(case: Case) -> SimpleNamespace:
    """Return what of the state has bands; peaks as quickly as draws allow."""
    shorted, remanence = case.shorted, case.remanence.flux_per_turn
    peaks = case.part(Part.FIRST_PEAKS, lambda: first_peaks(case.circuit, remanence=remanence, fineness=QUICK))
    return SimpleNamespace(
        secondary_current_rms=shorted.secondary_current_rms,
        primary_current_rms=shorted.primary_current_rms,
        secondary_first_peak=peaks if isinstance(peaks, Unknown) else peaks.secondary.current,
        primary_first_peak=peaks if isinstance(peaks, Unknown) else peaks.primary.current,
        input_power=shorted.input_power,
        reduced_voltage_test=case.part(Part.SHORT_TEST, lambda: _reduced(case)),
    )


def _first_peaks(case: Case) -> FirstPeaks:
    """Return the first peaks with the same remanence as on switching on with nothing connected."""
    found = first_peaks(case.circuit, remanence=case.remanence.flux_per_turn)
    if isfinite(case.found.magnetising.valid_to):
        case.switched_on_shorted  # noqa: B018  followed on, it tells where the core's data end
    return found


def _phasor_difference(case: Case) -> float:
    found = phasor_difference(case.circuit)
    return max(abs(found.primary_rms), abs(found.secondary_rms))


def _winding_forces(case: Case, secondary_peak: float) -> tuple[float, float]:
    """Return the largest axial and radial force on a coil [N], as sizes."""
    leak, design = case.found.leakage, case.design
    ampere_turns = design.windings.secondary.turns * secondary_peak
    return largest_forces(coil_forces(leak, design.core, case.blocks, ampere_turns))


def _by_place(case: Case) -> dict[str, float]:
    """Hand the circuit's phasors to the field. The primary's e.m.f. is the reference; its flux lags by a quarter."""
    shorted = case.shorted
    flux = rect(shorted.peak_flux_per_turn, -pi / 2)
    ampere_turns = -sqrt(2) * case.design.windings.secondary.turns * shorted.secondary_phasor

    def solve() -> dict[str, float]:
        return shorted_flux(
            case.fields.model,
            case.found.iron,
            case.found.magnetising,
            secondary=winding_names(case.blocks)[1],
            depth=case.design.core.frame.iron_depth,
            primary_end_permeance=case.found.leakage.primary_end_permeance,
            primary_flux=flux,
            secondary_ampere_turns=ampere_turns,
        ).flux_density

    return case.source.places(case.design, case.blocks, case.sheet, (flux, ampere_turns), solve=solve)


def _cautions(case: Case, found: ShortCircuit) -> Iterator[Caution]:
    yield from _forces(found)
    difference = found.phasor_difference
    if not isinstance(difference, Unknown) and difference > PHASOR_BOUND:
        text = (
            f"With the lead ends joined phasor currents are {brief(100 * difference, 2)} % off. The core saturates; "
            "the time domain tells the difference."
        )
        numbers = {"short_circuit.phasor_difference": difference}
        yield Caution(about="model", text=text, danger=Danger.DISTURBS, numbers=numbers)
    leads = case.design.leads
    spacing = None if leads is None or leads.length == 0 else leads.spacing
    yield from near_leads(found.secondary_current_rms, case.circuit.frequency, spacing)
    yield from stray(found.secondary_current_rms)


def _forces(found: ShortCircuit) -> Iterator[Caution]:
    between, leads = max(found.axial_force or 0.0, found.radial_force or 0.0), found.lead_force or 0.0
    if between < WINDING_FORCE and leads < LEAD_FORCE:
        return
    pushed = [] if isinstance(found.axial_force, Unknown) else [f"a coil with {brief(between)} N"]
    pushed += [] if isinstance(found.lead_force, Unknown) else [f"the leads with {brief(leads)} N/m"]
    numbers = {
        f"short_circuit.{key}": size
        for key, size in (
            ("axial_force_N", found.axial_force),
            ("radial_force_N", found.radial_force),
            ("lead_force_N_per_m", found.lead_force),
        )
        if not isinstance(size, Unknown)
    }
    text = (
        f"A short pushes {' and '.join(pushed)}. That is at its first peak: wedge the windings, tie the cable down, "
        "and again after the first bursts."
    )
    yield Caution(about="forces", text=text, danger=Danger.DAMAGES, numbers=numbers)


SHORT_CIRCUIT = Station(
    key="short_circuit",
    result=ShortCircuit,
    compute=short_circuit,
    banded=(
        "secondary_current_rms",
        "primary_current_rms",
        "secondary_first_peak",
        "primary_first_peak",
        "input_power",
        "reduced_voltage_test.primary_voltage_rms",
        "reduced_voltage_test.secondary_current_rms",
        "reduced_voltage_test.power",
    ),
    of_members=_of_members,
    cautions=_cautions,
)
