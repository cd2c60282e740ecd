"""The core's flux where waves are no sines: the fixed point by orders that carries most designs there."""

import numpy as np

from fem.arrays import Complexes, Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import modes, orders, samples, vertex

_SETTLED = 1e-13
_STEPS = 40
_CONTRACTS = 0.4
"""Least gain of a step [-]: where it gains less, the core saturates deeply and Newton's method is quicker."""


def core_flux(circuit: Circuit, start: Floats, beside: Complexes | None = None) -> tuple[Floats, Floats, list[int]]:
    """Return the flux that balances the mains, the core-loss conductances at its peaks, and whose is not found.

    Parameters
    ----------
    circuit
        Of m designs, (m,) for each number of the primary's loop.
    start
        (m, n) flux per turn at n points of half a period, to begin with [Wb].
    beside
        (m, n/2) ampere-turns that the secondary takes for the flux, by order [A/Wb]; none where it is open.

    Returns
    -------
    flux, conductance
        (m, n) [Wb], (m,) [S].
    left
        Designs for which this does not contract.

    Notes
    -----
    The primary's loop with k omega j for d/dt, S_k = R_s + R_1 + j k omega L_s and a_k the secondary's ampere-turns
    for a flux of one weber per turn (symbols: `fem.circuit.equivalent`) is a fixed point of

        phi_k = (e_k - S_k F_k(phi)/N_1)/C_k,   C_k = j k omega N_1 + S_k (j k omega G + a_k)/N_1.

    What the magnetising current takes of the voltage is little, so each step gains one or two digits for the price of
    two Fourier transforms. Every design goes its own way and drops out when it is there: what it finds does not depend
    on the others.
    """
    flux, conductance, left = np.empty_like(start), np.empty(len(start)), np.zeros(len(start), dtype=bool)
    points, turns = start.shape[-1], np.reshape(circuit.primary_turns, (-1, 1))
    rate = 1j * np.multiply.outer(circuit.angular_frequency * np.ones(len(start)), orders(points))
    through = (
        np.reshape(circuit.loop_resistance, (-1, 1)) + np.reshape(circuit.source_inductance, (-1, 1)) * rate
    ) / turns
    peak = np.sqrt(2) * circuit.voltage_rms
    emf = np.multiply.outer(peak, modes(np.sin(np.pi * np.arange(points) / points)))
    fixed = rate * turns if beside is None else rate * turns + through * beside
    frequency, weight = circuit.frequency * np.ones(len(start)), circuit.angular_frequency * turns[:, 0] / peak
    magnetising, core_loss = circuit.magnetising, circuit.core_loss
    going, here, before, slope = np.arange(len(start)), start, np.full(len(start), np.inf), through * rate
    for step in range(1, _STEPS + 1):
        now = core_loss.conductance(vertex(here), frequency)
        drop = through * modes(magnetising.ampere_turns_at(here))
        change = here - samples((emf - drop) / (fixed + now[:, None] * slope))
        here, size = here - change, weight * np.abs(change).max(axis=-1)
        there = size <= _SETTLED
        over = there | ~(size <= _CONTRACTS * before) if step < _STEPS else np.ones_like(there)
        before = size
        if over.any():
            flux[going[over]], conductance[going[over]], left[going[over]] = here[over], now[over], ~there[over]
            if over.all():
                break
            magnetising, core_loss = magnetising.taken(~over), core_loss.taken(~over)
            parts = going, here, before, through, emf, fixed, slope, frequency, weight
            going, here, before, through, emf, fixed, slope, frequency, weight = (part[~over] for part in parts)
    return flux, conductance, np.flatnonzero(left).tolist()
