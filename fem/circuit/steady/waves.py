"""The loaded state where harmonics count: its waves over half a period."""

from dataclasses import fields
from typing import Any

import numpy as np

from fem.arrays import Floats, of_each
from fem.circuit.block import at, taken
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.core_flux import core_flux
from fem.circuit.steady.distorted import Distorted, distorted
from fem.circuit.steady.half_period import derivative, fundamental, modes, orders, rms, samples, vertex
from fem.circuit.steady.loaded_state import Loaded, state_of

_POINTS = (64, 128, 256)
_BALANCE = 1e-3
"""Share of the input power that losses and load may leave unaccounted for; more asks for more points. Saturated
branches take no energy over a period, but samples of a spiky current say so only roughly."""


def by_waves(circuit: Circuit, load_resistance: Floats) -> Loaded:
    """Return the states of m designs on as many points as it takes to account for the power, fields (m,).

    Parameters
    ----------
    circuit
        Of m designs, (m,) for each number; its leakage is a permeance.
    load_resistance
        (m,) [ohm].

    Raises
    ------
    NotConverged
        As `distorted`.

    Notes
    -----
    With a permeance the secondary is linear: a flux phi_k drives phi_k/(Lambda + L_l/N_2^2 + (R_2 + R_l + R)/(j k omega
    N_2^2)) ampere-turns of order k, and `core_flux` finds the rest; where that does not contract, `distorted`.
    """
    state = _on_points(circuit, load_resistance, _POINTS[0])
    for points in _POINTS[1:]:
        rough = np.flatnonzero(~_balances(state))
        if not rough.size:
            break
        finer = _on_points(taken(circuit, rough), load_resistance[rough], points)
        for item in fields(state):
            getattr(state, item.name)[rough] = getattr(finer, item.name)
    return state


def by_curve(circuit: Circuit, load_resistance: Floats) -> Loaded:
    """Return the states of m designs with leakage curves, as `by_waves`."""
    state = _state(circuit, load_resistance, distorted(circuit, load_resistance))
    for points in _POINTS[1:]:
        rough = np.flatnonzero(~_balances(state))
        if not rough.size:
            break
        some, loads = taken(circuit, rough), load_resistance[rough]
        finer = _state(some, loads, distorted(some, loads, points=points))
        for item in fields(state):
            getattr(state, item.name)[rough] = getattr(finer, item.name)
    return state


def _balances(state: Loaded) -> Any:
    losses = state.primary_copper_loss + state.secondary_copper_loss + state.lead_loss + state.core_loss
    return np.abs(losses + state.load_power - state.input_power) <= _BALANCE * state.input_power


def _on_points(circuit: Circuit, load_resistance: Floats, points: int) -> Loaded:
    return _state(circuit, load_resistance, waves_of(circuit, load_resistance, points))


def waves_of(circuit: Circuit, load_resistance: Floats, points: int = _POINTS[0]) -> Distorted:
    """Return the waves of m designs over half a period, fields (m, points); see `by_waves`.

    Raises
    ------
    NotConverged
        As `distorted`.
    """
    turns = np.reshape(circuit.secondary_turns, (-1, 1))
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    rate = 1j * np.multiply.outer(circuit.angular_frequency * np.ones(load_resistance.size), orders(points))
    inductance = np.reshape(circuit.leakage_inductance_secondary, (-1, 1))
    beside = turns**2 / (inductance + np.reshape(resistance, (-1, 1)) / rate)
    flux, conductance, left = core_flux(circuit, np.zeros((load_resistance.size, points)), beside)
    ampere_turns = samples(beside * modes(flux))
    loss = conductance[:, None] * samples(rate * modes(flux))
    primary = circuit.magnetising.ampere_turns_at(flux) + loss + ampere_turns
    found = Distorted(
        flux=flux,
        primary=primary / np.reshape(circuit.primary_turns, (-1, 1)),
        secondary=ampere_turns / turns,
        conductance=conductance,
    )
    for one in left:
        alone = distorted(at(circuit, one), float(load_resistance[one]), points=points)
        for item in fields(found):
            getattr(found, item.name)[one] = getattr(alone, item.name)
    return found


def _along(number: Any) -> Floats:
    """Return a number, or (m,) of them, to go with waves along the last axis."""
    return np.asarray(number)[..., None]


def _state(circuit: Circuit, load_resistance: Any, found: Distorted) -> Loaded:
    """Return what waves tell, of one design or of m."""
    omega, rate = _along(circuit.angular_frequency), derivative(found.flux.shape[-1]).T
    induced = omega * (found.flux @ rate)
    emf = circuit.primary_turns * fundamental(induced)
    terminal = _along(circuit.primary_turns) * induced + _along(circuit.primary_resistance) * found.primary
    outside = _along(circuit.lead_resistance + load_resistance) * found.secondary
    outside = outside + _along(circuit.lead_inductance) * omega * (found.secondary @ rate)
    lagging = np.conj(emf) / np.abs(emf)
    return state_of(
        circuit,
        load_resistance,
        primary_rms=rms(found.primary),
        secondary_rms=rms(found.secondary),
        secondary_terminal_voltage_rms=rms(outside),
        terminal_voltage_rms=rms(terminal),
        input_power=of_each(np.mean(terminal * found.primary, axis=-1)),
        primary_emf_rms=of_each(np.abs(emf)),
        peak_flux_per_turn=vertex(found.flux),
        core_loss=found.conductance * of_each(np.mean(induced**2, axis=-1)),
        primary_phasor=fundamental(found.primary) * lagging,
        secondary_phasor=fundamental(found.secondary) * lagging,
    )
