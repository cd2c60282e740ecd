"""Plugged in, nothing connected to the secondary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import of_each
from fem.circuit.steady.idle import idle as solve_idle
from fem.circuit.steady.voltage_sweep import idle_curve, voltages_up_to
from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.estimation.inputs.circuit import separated_loss
from fem.estimation.parts import Part
from fem.estimation.stations.section import Station
from fem.quantity import Show, Unknown, of
from fem.rows import between

SWEEP_TO, SWEEP_POINTS = 4.0, 24
"""The voltage sweep ends where the idle current is so many times the present one."""


@dataclass(frozen=True, kw_only=True, slots=True)
class VoltageSweep:
    """Idle current against primary voltage: the curve one measures with a variable transformer."""

    voltage_rms: tuple[float, ...] = of("V", "primary voltage")
    current_rms: tuple[float, ...] = of("A", "no-load current, r.m.s.")
    real_power: tuple[float, ...] = of("W", "input power")


@dataclass(frozen=True, kw_only=True, slots=True)
class Idle:
    """Plugged in, nothing connected to the secondary."""

    current_rms: float = of("A", "no-load current, r.m.s.")
    current_peak: float = of("A", "no-load current, peak")
    crest_factor: float = of("-", "peak over r.m.s.")
    current_at_106_percent: float | Unknown = of("A", "no-load current, r.m.s., at 106 % of the mains voltage")
    current_at_110_percent: float | Unknown = of("A", "no-load current, r.m.s., at 110 % of the mains voltage")
    harmonics: Mapping[str, float] = of("A", "harmonics of the no-load current, r.m.s., by order")
    joint_share: float = of("-", "of the peak ampere-turns, what joints and gaps take", show=Show.SHARE)
    core_loss: float = of("W", "core loss")
    hysteresis_loss: float = of("W", "of it by hysteresis and excess")
    eddy_loss: float = of("W", "of it by classical eddy currents")
    copper_loss: float = of("W", "primary copper loss")
    apparent_power: float = of("VA", "apparent power")
    power_factor: float = of("-", "power factor")
    share_of_rated: float | Unknown = of("-", "no-load current as a share of the rated current", show=Show.SHARE)
    voltage_sweep: VoltageSweep | Unknown = of("", "what a variable transformer shows")

    FORMULAS = """
    crest_factor = `.current_peak_A` / `.current_rms_A`
    eddy_loss = `.core_loss_W` - `.hysteresis_loss_W`
    copper_loss = `.current_rms_A`**2 * `build.primary.resistance_ohm` * `build.primary.ac_ratio`
    apparent_power = `.current_rms_A` * `job.mains.voltage` * (1 - `supply.idle_dip`)
    power_factor = (`.core_loss_W` + `.copper_loss_W`) / `.apparent_power_VA`
    share_of_rated: `.current_rms_A` over `job.mains.rated_current`, or over the rating of `job.mains.breaker` where
        that is not told
    <fem.circuit.steady.idle.idle>
    current_rms: r.m.s. over a period of the ampere-turns that the curve takes at a sine of flux, and of the core loss'
        current, over the turns; flux from `saturation.volts_per_turn_V`, loss `.core_loss_W` [textbooks: equivalent
        circuit of the transformer]
    current_peak: largest of the same current over a period; flux from `saturation.volts_per_turn_V`
    current_at_106_percent: `.current_rms_A` solved anew at 1.06 times `job.mains.voltage` [IEC 60038 allows 10 %]
    current_at_110_percent: `.current_rms_A` solved anew at 1.10 times `job.mains.voltage` [IEC 60038 allows 10 %]
    harmonics: Fourier series of the idle current, `.current_rms_A` all together
    <fem.estimation.inputs.circuit.core_loss_curve>
    core_loss: loss of the sheet at the flux density of each place, times its iron, times what building adds; at
        `job.mains.frequency`, flux from `saturation.volts_per_turn_V` [grades of EN 10106; Bertotti's separation]
    <fem.estimation.inputs.circuit.separated_loss>
    hysteresis_loss: the part of `.core_loss_W` that goes with the frequency
    """


def idle(case: Case) -> Idle:
    """Return the idle state."""
    at_idle, rated, circuit = case.at_idle, _rated_current(case.design), case.circuit
    loss = separated_loss(case.found)
    within = np.clip(at_idle.peak_flux_per_turn, loss.flux_per_turn[..., 0], loss.flux_per_turn[..., -1])
    parts = [
        of_each(between(within, loss.flux_per_turn, part))
        for part in (loss.hysteresis * (circuit.frequency / loss.frequency), loss.loss(circuit.frequency))
    ]
    hysteresis = at_idle.core_loss * parts[0] / parts[1]
    orders = zip(at_idle.harmonic_orders, np.moveaxis(at_idle.harmonics_rms, -1, 0), strict=True)
    no_rating = Unknown("neither mains.rated_current nor mains.breaker is given")
    return Idle(
        current_rms=at_idle.current_rms,
        current_peak=at_idle.current_peak,
        crest_factor=at_idle.crest_factor,
        current_at_106_percent=case.part(Part.MAINS_TOLERANCE, lambda: _raised(case, 1.06)),
        current_at_110_percent=case.part(Part.MAINS_TOLERANCE, lambda: _raised(case, 1.10)),
        harmonics={str(order): of_each(amps) for order, amps in orders if order % 2},
        joint_share=case.found.magnetising.joint_share_at(at_idle.peak_flux_per_turn),
        core_loss=at_idle.core_loss,
        hysteresis_loss=hysteresis,
        eddy_loss=at_idle.core_loss - hysteresis,
        copper_loss=at_idle.copper_loss,
        apparent_power=at_idle.apparent_power,
        power_factor=at_idle.power_factor,
        share_of_rated=no_rating if rated is None else at_idle.current_rms / rated,
        voltage_sweep=case.part(Part.VOLTAGE_SWEEP, lambda: _voltage_sweep(case)),
    )


def _rated_current(design: Design) -> float | None:
    """Return the input current to compare with [A]: the nameplate's, else the breaker's rating, else None."""
    return design.mains.rated_current or design.mains.breaker_rating


def _raised(case: Case, factor: float) -> float:
    """Return the idle current at so many times the mains voltage [A]."""
    state = solve_idle(case.circuit.with_voltage(factor * case.circuit.voltage_rms))
    case.found.magnetising.check(state.peak_flux_per_turn)
    return state.current_rms


def _voltage_sweep(case: Case) -> VoltageSweep:
    """Return the idle current from a tenth of the mains voltage up to where it is several times the present one."""
    circuit, highest = case.circuit, SWEEP_TO * case.at_idle.current_rms
    found = idle_curve(circuit, voltages_up_to(circuit, highest, SWEEP_POINTS, known=case.at_idle))
    case.found.magnetising.check(float(found.peak_flux_per_turn.max()))
    return VoltageSweep(
        voltage_rms=tuple(map(float, found.voltage_rms)),
        current_rms=tuple(map(float, found.current_rms)),
        real_power=tuple(map(float, found.real_power)),
    )


IDLE = Station(key="idle", result=Idle, compute=idle, banded=("current_rms", "current_peak", "core_loss"))
