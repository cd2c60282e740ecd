"""What a loaded state tells, however it was found."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import of_each
from fem.circuit.equivalent import Circuit


@dataclass(frozen=True, kw_only=True, slots=True)
class Loaded:
    """The steady state with a resistance across the lead ends, 0 for a short circuit.

    Powers and voltages on the input side are at the primary terminals. By phasors, voltages are
    fundamental and the primary current carries the harmonics of the magnetising current; by waves, all are r.m.s. with
    every harmonic, except `primary_emf_rms`.

    Parameters
    ----------
    load_resistance
        [ohm].
    secondary_current_rms, primary_current_rms
        [A].
    load_voltage_rms, secondary_terminal_voltage_rms
        Across the load; at the winding's ends, before the leads [V].
    terminal_voltage_rms
        At the primary terminals [V].
    primary_emf_rms
        Induced in the primary [V].
    peak_flux_per_turn
        At the primary [Wb].
    load_power
        Into the load [W].
    primary_copper_loss, secondary_copper_loss, lead_loss, core_loss, source_loss
        [W].
    input_power, input_apparent_power
        At the primary terminals [W], [VA].
    power_factor, efficiency
        At the terminals; load power / input power [-].
    primary_phasor, secondary_phasor
        Fundamental currents, r.m.s., the e.m.f. of the core's flux being the phase reference; negative imaginary parts
        lag [A].
    """

    load_resistance: float
    secondary_current_rms: float
    primary_current_rms: float
    load_voltage_rms: float
    secondary_terminal_voltage_rms: float
    terminal_voltage_rms: float
    primary_emf_rms: float
    peak_flux_per_turn: float
    load_power: float
    primary_copper_loss: float
    secondary_copper_loss: float
    lead_loss: float
    core_loss: float
    source_loss: float
    input_power: float
    input_apparent_power: float
    power_factor: float
    efficiency: float
    primary_phasor: complex
    secondary_phasor: complex


def state_of(
    circuit: Circuit,
    load_resistance: Any,
    *,
    primary_rms: Any,
    secondary_rms: Any,
    terminal_voltage_rms: Any,
    core_loss: Any,
    input_power: Any = None,
    **others: Any,
) -> Loaded:
    """Return the state with all powers that follow from the currents; input power where it is not known otherwise."""
    losses = {
        "primary_copper_loss": circuit.primary_resistance * primary_rms**2,
        "secondary_copper_loss": circuit.secondary_resistance * secondary_rms**2,
        "lead_loss": circuit.lead_resistance * secondary_rms**2,
        "core_loss": core_loss,
    }
    load_power = load_resistance * secondary_rms**2
    if input_power is None:
        input_power = sum(losses.values()) + load_power
    apparent = terminal_voltage_rms * primary_rms
    return Loaded(
        load_resistance=load_resistance,
        secondary_current_rms=secondary_rms,
        primary_current_rms=primary_rms,
        load_voltage_rms=load_resistance * secondary_rms,
        terminal_voltage_rms=terminal_voltage_rms,
        load_power=load_power,
        source_loss=circuit.source_resistance * primary_rms**2,
        input_power=input_power,
        input_apparent_power=apparent,
        power_factor=input_power / apparent,
        efficiency=of_each(load_power / np.where(input_power > 0, input_power, np.inf)),
        **losses,
        **others,
    )
