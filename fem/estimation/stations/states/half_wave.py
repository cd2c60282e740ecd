"""Idle while one half of the switching device has failed and the primary current flows one way only."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fem.circuit.time.connection import Connection
from fem.circuit.time.periodic import periodic
from fem.digits import brief
from fem.estimation.case import Case
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import of
from fem.trust.caution import Caution, Danger


@dataclass(frozen=True, kw_only=True, slots=True)
class HalfWaveSupply:
    """Idle, but one half of the switching device has failed and the primary current flows one way only."""

    current_rms: float = of("A", "primary current, r.m.s.")
    current_mean: float = of("A", "direct part of the primary current")
    current_peak: float = of("A", "primary current, peak")
    peak_flux_density: float = of("T", "peak flux density, the primary's leg, iron")

    FORMULAS = """
    <fem.circuit.time.periodic.periodic>
    current_rms: periodic state of the circuit in time while current flows one way only: flux drifts until it saturates
        each period, `job.mains.voltage` held by R and the saturated core
    current_mean: of the same state in time as `half_wave_supply.current_rms_A`
    current_peak: of the same state in time as `half_wave_supply.current_rms_A`
    peak_flux_density: of the same state in time as `half_wave_supply.current_rms_A`
    """


def half_wave_supply(case: Case) -> HalfWaveSupply:
    """Return the idle state when the primary current flows one way only."""
    state = periodic(case.circuit, Connection(half_wave_supply=True))
    flux = max(abs(state.flux_highest), abs(state.flux_lowest))
    return HalfWaveSupply(
        current_rms=state.primary_rms,
        current_mean=abs(state.primary_mean),
        current_peak=state.primary_peak,
        peak_flux_density=case.found.magnetising.by_place(flux)[case.found.flux_place],
    )


def _cautions(case: Case, found: HalfWaveSupply) -> Iterator[Caution]:
    text = (
        f"A solid-state switch that fails by half lets {brief(found.current_rms, 2)} A flow idle. "
        f"{brief(found.current_mean, 2).capitalize()} A of it are direct, and the primary burns out unless a fuse or "
        "breaker opens: use a switch made for transformers, that closes at the voltage's peak."
    )
    numbers = {"half_wave_supply.current_rms_A": found.current_rms}
    yield Caution(about="relay", text=text, danger=Danger.BURNS, numbers=numbers)


HALF_WAVE_SUPPLY = Station(
    key="half_wave_supply",
    result=HalfWaveSupply,
    compute=half_wave_supply,
    part=Part.HALF_WAVE_SUPPLY,
    cautions=_cautions,
)
