"""The sections of an estimate with nothing connected: idle, no-load voltage, switching on, a failed half wave."""

from __future__ import annotations

from functools import lru_cache, partial
from math import ceil

import numpy as np

from fem.circuit.steady.idle import idle
from fem.circuit.steady.voltage_sweep import idle_curve, voltages_up_to
from fem.circuit.time.connection import OPEN, Connection
from fem.circuit.time.first_peaks import first_peaks
from fem.circuit.time.periodic import periodic
from fem.circuit.time.switch_on import SwitchOn
from fem.circuit.time.switch_on import switch_on as worst_switch_on
from fem.estimation.case import Case
from fem.estimation.network import separated_loss
from fem.estimation.stations import results
from fem.estimation.stations.sections import rated_current

REMANENCE = 0.8
"""Remanent flux density assumed at switch-on [T]. Static loops of non-oriented sheet fall back to 1.0 to 1.4 T
(tests/published); the joints of a stamped core bring that down: common practice, no source."""
SHOWN_FOR = 0.1
"""How long the decay after switching on is followed [s]: the longest window of the meters that look at it."""
SWEEP_TO, SWEEP_POINTS = 4.0, 24
"""The voltage sweep ends where the idle current is so many times the present one."""


def idle_state(case: Case, *, sweep: bool, raised: bool) -> results.Idle:
    """Return the idle state."""
    at_idle, rated, circuit = case.at_idle, rated_current(case.design), case.circuit
    loss = separated_loss(case.found)
    parts = [
        float(np.interp(at_idle.peak_flux_per_turn, loss.flux_per_turn, part))
        for part in (loss.hysteresis * (circuit.frequency / loss.frequency), loss.loss(circuit.frequency))
    ]
    hysteresis = at_idle.core_loss * parts[0] / parts[1]
    attempt = case.gaps.attempt
    above = {
        percent: attempt(f"idle.current_at_{percent}_percent_A", partial(_raised, case, percent / 100))
        for percent in (106, 110)
        if raised
    }
    return results.Idle(
        current_rms=at_idle.current_rms,
        current_peak=at_idle.current_peak,
        crest_factor=at_idle.crest_factor,
        current_at_106_percent=above.get(106),
        current_at_110_percent=above.get(110),
        harmonics={
            str(order): float(amps)
            for order, amps in zip(at_idle.harmonic_orders, at_idle.harmonics_rms, strict=True)
            if order % 2
        },
        joint_share=case.found.magnetising.joint_share_at(at_idle.peak_flux_per_turn),
        core_loss=at_idle.core_loss,
        hysteresis_loss=hysteresis,
        eddy_loss=at_idle.core_loss - hysteresis,
        copper_loss=at_idle.copper_loss,
        apparent_power=at_idle.apparent_power,
        power_factor=at_idle.power_factor,
        share_of_rated=None if rated is None else at_idle.current_rms / rated,
        voltage_sweep=attempt("idle.voltage_sweep", lambda: _voltage_sweep(case)) if sweep else None,
    )


def _raised(case: Case, factor: float) -> float:
    """Return the idle current at so many times the mains voltage [A]."""
    state = idle(case.circuit.with_voltage(factor * case.circuit.voltage_rms))
    case.found.magnetising.check(state.peak_flux_per_turn)
    return state.current_rms


def _voltage_sweep(case: Case) -> results.VoltageSweep:
    """Return the idle current from a tenth of the mains voltage up to where it is several times the present one."""
    circuit, highest = case.circuit, SWEEP_TO * case.at_idle.current_rms
    found = idle_curve(circuit, voltages_up_to(circuit, highest, SWEEP_POINTS, known=case.at_idle))
    case.found.magnetising.check(float(found.peak_flux_per_turn.max()))
    return results.VoltageSweep(
        voltage_rms=tuple(map(float, found.voltage_rms)),
        current_rms=tuple(map(float, found.current_rms)),
        real_power=tuple(map(float, found.real_power)),
    )


def open_circuit(case: Case) -> results.OpenCircuit:
    """Return the voltage of the secondary without load."""
    return results.OpenCircuit(secondary_voltage_rms=case.at_idle.secondary_voltage_rms)


def remanent_flux(case: Case) -> float:
    """Return the flux per turn assumed to be left in the core when it is switched on [Wb]."""
    return case.found.magnetising.flux_at(case.found.flux_place, REMANENCE)


@lru_cache(maxsize=2)
def switched_on(case: Case, connection: Connection = OPEN) -> SwitchOn:
    """Return what happens on switching on at the worst moment with the assumed remanence; meters look at it as well.

    Raises
    ------
    OutOfRange
        If the steel's data end below the flux.
    """
    cycles = ceil(SHOWN_FOR * case.circuit.frequency - 1e-9)
    found = worst_switch_on(case.circuit, connection, remanence=remanent_flux(case), cycles=cycles)
    case.found.magnetising.check(float(found.by_cycle.peak_flux_per_turn.max()))
    return found


def switch_on(case: Case) -> results.SwitchOn:
    """Return what happens on switching on with nothing connected, with the assumed remanence."""
    found = switched_on(case)
    return results.SwitchOn(
        remanent_flux_density=REMANENCE,
        primary_first_peak=found.first_peak,
        primary_first_peak_without_remanence=first_peaks(case.circuit, OPEN).primary.current,
        rms_10_ms=found.rms_10_ms,
        rms_100_ms=found.rms_100_ms,
        joule_integral=found.joule_integral,
        peak_by_cycle=tuple(map(float, found.by_cycle.primary_peak)),
    )


def half_wave_supply(case: Case) -> results.HalfWaveSupply:
    """Return the idle state when the primary current flows one way only."""
    state = periodic(case.circuit, Connection(half_wave_supply=True))
    flux = max(abs(state.flux_highest), abs(state.flux_lowest))
    return results.HalfWaveSupply(
        current_rms=state.primary_rms,
        current_mean=abs(state.primary_mean),
        current_peak=state.primary_peak,
        peak_flux_density=case.found.magnetising.by_place(flux)[case.found.flux_place],
    )
