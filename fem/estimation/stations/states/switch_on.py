"""Switching on with nothing connected, at the worst moment."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace

from fem.circuit.time.connection import OPEN
from fem.circuit.time.first_peaks import QUICK, first_peaks
from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Unknown, of


@dataclass(frozen=True, kw_only=True, slots=True)
class SwitchOn:
    """Switched on with nothing connected, at the worst moment: the voltage's zero crossing."""

    remanent_flux_density: float = of("T", "remanence assumed in the primary's leg")
    remanence_chosen: str = of("", "why this remanence")
    primary_first_peak: float = of("A", "primary first peak, with that remanence")
    primary_first_peak_without_remanence: float = of("A", "primary first peak without remanence")
    rms_10_ms: float = of("A", "largest r.m.s. over any 10 ms, as a fast clamp reads")
    rms_100_ms: float = of("A", "largest r.m.s. over any 100 ms, as an inrush function reads")
    joule_integral: float = of("A2s", "current squared times time over the first half period")
    peak_by_cycle: tuple[float, ...] = of("A", "primary peak by cycle")

    FORMULAS = """
    <fem.estimation.inputs.remanence.remanence_of>
    remanent_flux_density: a share of the idle peak by the joints, `.remanence_chosen`, as flux density in the leg
        [`rewound list assumptions`: remanence]
    <fem.circuit.time.switch_on.switch_on>
    primary_first_peak: largest instant of the circuit marched in time from the voltage's zero crossing, flux starting
        at `.remanent_flux_density_T`: it goes to twice the idle peak and the remanence besides [textbooks: inrush]
    <fem.circuit.time.first_peaks.first_peaks>
    primary_first_peak_without_remanence: the same from no flux; see `.primary_first_peak_A`
    <fem.circuit.time.switch_on.joule_integral>
    joule_integral: integral of the squared current over the first half period, the one with `.primary_first_peak_A`
    """


def switch_on(case: Case) -> SwitchOn:
    """Return what happens on switching on with nothing connected, with the assumed remanence."""
    found, remanence = case.switched_on, case.remanence
    magnetising, place = case.found.magnetising, case.found.flux_place
    return SwitchOn(
        remanent_flux_density=magnetising.by_place(remanence.flux_per_turn)[place],
        remanence_chosen=remanence.why,
        primary_first_peak=found.first_peak,
        primary_first_peak_without_remanence=first_peaks(case.circuit, OPEN).primary.current,
        rms_10_ms=found.rms_10_ms,
        rms_100_ms=found.rms_100_ms,
        joule_integral=found.joule_integral,
        peak_by_cycle=tuple(map(float, found.by_cycle.primary_peak)),
    )


def _of_members(case: Case) -> SimpleNamespace:
    """Return what of it has bands, as quickly as draws allow."""
    remanence = case.remanence.flux_per_turn
    peaks = case.part(Part.SWITCH_ON, lambda: first_peaks(case.circuit, OPEN, remanence=remanence, fineness=QUICK))
    return SimpleNamespace(primary_first_peak=peaks if isinstance(peaks, Unknown) else peaks.primary.current)


SWITCH_ON = Station(
    key="switch_on",
    result=SwitchOn,
    compute=switch_on,
    part=Part.SWITCH_ON,
    banded=("primary_first_peak",),
    of_members=_of_members,
)
