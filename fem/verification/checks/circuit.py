"""Worked examples of transformer texts, through the circuit; leads by their formulas."""

from __future__ import annotations

from math import atan2, cos, hypot, pi, sin, sqrt

import numpy as np

from fem.circuit.curves import MagnetisingCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.excitation import peak_flux_of
from fem.circuit.leads.go_and_return import bar_pair_inductance, pair_inductance_per_m
from fem.circuit.loss_curve import CoreLossCurve
from fem.circuit.steady.idle import idle
from fem.circuit.steady.load import loaded
from fem.circuit.steady.remedies import fewest_turns
from fem.circuit.steady.short_circuit import short_test
from fem.circuit.time.first_peaks import asymmetric_peak
from fem.constants import MU0

X_OVER_R = (1, 1.5, 2, 3, 4, 5, 6, 8, 10, 14)
NEVER = 1e6
"""Inductance per turn squared [H] whose current is none that counts."""


def _circuit(
    *,
    voltage_rms: float,
    turns: tuple[int, int],
    frequency: float = 60.0,
    resistances: tuple[float, float] = (0.0, 0.0),
    reactance: float = 1e-6,
    magnetising: float = NEVER,
    conductance: float = 0.0,
    load_inductance: float = 0.0,
) -> Circuit:
    """Return a linear circuit on stiff mains.

    Parameters
    ----------
    voltage_rms, frequency, turns
        Of the mains [V], [Hz]; primary and secondary.
    resistances
        Of primary and secondary [ohm].
    reactance
        Of the leakage, seen from the secondary [ohm].
    magnetising, conductance
        Inductance [H] and core-loss conductance [S] per turn squared.
    load_inductance
        In series with any load [H].
    """
    ampere_turns, flux = np.array([0.0, 1.0, 2.0]), np.array([1.0, 2.0])
    return Circuit(
        voltage_rms=voltage_rms,
        frequency=frequency,
        source_resistance=0.0,
        source_inductance=0.0,
        primary_turns=turns[0],
        secondary_turns=turns[1],
        primary_resistance=resistances[0],
        secondary_resistance=resistances[1],
        lead_resistance=0.0,
        lead_inductance=load_inductance,
        leakage_permeance=reactance / (2 * pi * frequency * turns[1] ** 2),
        magnetising=MagnetisingCurve(ampere_turns=ampere_turns, flux_per_turn=magnetising * ampere_turns),
        core_loss=CoreLossCurve(flux_per_turn=flux, loss=conductance * (sqrt(2) * pi * frequency * flux) ** 2),
    )


def excitation() -> dict[str, float]:
    """Compute induced voltages, turns and no-load currents."""
    found = {
        "emf_constant": 1 / peak_flux_of(1.0, 1.0),
        "hubert_2_1": peak_flux_of(240 / 200, 60.0),
        "fitzgerald_1_8": 200 * 1.5 * 4 * 0.0254**2 * 0.94 / peak_flux_of(1.0, 60.0),
    }
    flux = 1.5 * 50e-4
    first = _circuit(voltage_rms=2400.0, turns=(1000, 100), magnetising=flux / (450 * 0.667))
    remedy = fewest_turns(first, peak_flux_per_turn=flux)
    found["hubert_2_2_primary"] = remedy.primary_turns
    found["hubert_2_2_secondary"] = round(remedy.primary_turns * 240 / 2400)
    built = _circuit(voltage_rms=2400.0, turns=(remedy.primary_turns, 120), magnetising=flux / (450 * 0.667))
    found["hubert_2_2_current"] = idle(built).current_peak

    branch = idle(
        _circuit(
            voltage_rms=2400.0,
            turns=(1000, 100),
            magnetising=8.96e3 / (2 * pi * 60.0 * 1000**2),
            conductance=1000**2 / 41.7e3,
        )
    )
    found["hubert_2_3_current"] = branch.current_rms
    found["hubert_2_3_power_factor"] = branch.power_factor
    found["hubert_2_3_power"] = branch.real_power

    area, path = 2.5e-3 * 0.9, 2.5
    loss = 2.6 * 7800 * area * path
    core = idle(
        _circuit(
            voltage_rms=400.0,
            frequency=50.0,
            turns=(800, 80),
            magnetising=MU0 * 1000 * area / path,
            conductance=loss / (400 / 800) ** 2,
        )
    )
    found["sawhney_5_18_flux"] = core.peak_flux_per_turn
    found["sawhney_5_18_current"] = core.current_rms
    return found


def short_tests() -> dict[str, float]:
    """Compute the readings of short-circuit tests from printed resistances and reactances."""
    large = short_test(
        _circuit(voltage_rms=2400.0, turns=(1000, 100), resistances=(0.71, 0.0071), reactance=0.0182), 20.8
    )
    # R and X are printed seen from the low side, which is the primary here; the test is made on the other one.
    small = short_test(
        _circuit(voltage_rms=400.0, frequency=50.0, turns=(200, 100), resistances=(0.0, 0.225), reactance=0.4465),
        10.0,
    )
    return {
        "fitzgerald_2_6_volts": large.primary_voltage_rms,
        "fitzgerald_2_6_watts": large.power,
        "verma_3_14_volts": small.primary_voltage_rms,
        "verma_3_14_watts": small.power,
    }


def fifty_kva() -> dict[str, float]:
    """Compute open-circuit test, efficiency and regulation of a 50 kVA, 2400:240 V transformer.

    The branch follows from 186 W and 5.41 A at 240 V, the series part from 617 W, 48 V and 20.8 A. At full load, 208 A
    at a power factor of 0.8, reactance and load stand in the secondary's loop, so the core sees the mains.
    """
    turns, omega = (1000, 100), 2 * pi * 60.0
    active = 186 / 240**2
    reactive = sqrt((5.41 / 240) ** 2 - active**2)
    permeance, conductance = 1 / (reactive * omega * turns[1] ** 2), active * turns[1] ** 2
    open_circuit = idle(_circuit(voltage_rms=240.0, turns=turns[::-1], magnetising=permeance, conductance=conductance))
    resistance = 617 / 20.8**2 / 100
    reactance = sqrt((48 / 20.8 / 100) ** 2 - resistance**2)
    current, voltage, angle = 50e3 / 240, 240.0, atan2(0.6, 0.8)
    inductance = voltage / current * sin(angle) / omega
    # The mains that leave 240 V at the terminals, and with it the regulation.
    needed = hypot(voltage * cos(angle) + resistance * current, voltage * sin(angle) + reactance * current)
    state = loaded(
        _circuit(
            voltage_rms=needed * turns[0] / turns[1],
            turns=turns,
            resistances=(0.0, resistance),
            reactance=reactance,
            magnetising=permeance,
            conductance=conductance,
            load_inductance=inductance,
        ),
        voltage / current * cos(angle),
    )
    no_load = state.primary_emf_rms * turns[1] / turns[0]
    # The book takes the core loss at 240 V.
    at_rated = state.load_power + state.secondary_copper_loss + open_circuit.real_power
    return {
        "fitzgerald_2_6_open": open_circuit.current_rms,
        "fitzgerald_2_6_open_watts": open_circuit.real_power,
        "fitzgerald_2_6_efficiency": 100 * state.load_power / at_rated,
        "fitzgerald_2_6_regulation": 100 * (no_load / state.secondary_terminal_voltage_rms - 1),
    }


def first_peaks() -> dict[str, float]:
    """Compute the first peak over the sustained r.m.s. current of a short circuit."""
    return {f"peak_factor_{ratio:g}": float(asymmetric_peak(ratio)) for ratio in X_OVER_R}


def leads() -> dict[str, float]:
    """Compute inductances of go and return leads [nH/m]."""
    found = {"leads_round_pair": 1e9 * pair_inductance_per_m(0.020, 0.002)}
    for thickness, width, spacing in ((5, 50, 15), (6, 60, 26), (10, 100, 60), (1, 100, 2)):
        pair = bar_pair_inductance(2.0, width * 1e-3, thickness * 1e-3, spacing * 1e-3)
        found[f"leads_bars_{thickness}x{width}_{spacing}"] = 1e9 * pair
    return found
