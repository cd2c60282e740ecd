"""The flux of the no-load state: what balances the mains over half a period."""

import numpy as np

from fem.arrays import Floats
from fem.circuit.block import at
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import derivative, modes, orders, samples, vertex
from fem.errors import NotConverged

_SETTLED = 1e-13
_FIXED_STEPS = 40
_CONTRACTS = 0.4
"""Least gain of a step [-]: where it gains less, the core saturates deeply and Newton's method is quicker."""
_TOLERANCE = 1e-10
_NEWTON_STEPS = 40
_PASSES = 20


def idle_flux(circuit: Circuit, start: Floats) -> tuple[Floats, Floats]:
    """Return the flux per turn (m, n) [Wb] and the core-loss conductances at their peaks (m,) [S].

    Parameters
    ----------
    circuit
        Of m designs, (m,) for each number of the primary's loop.
    start
        (m, n) flux per turn to begin with [Wb].

    Raises
    ------
    NotConverged
        If Newton's method fails for one of them also when the voltage is raised in steps.

    Notes
    -----
    By orders k, with S_k = R_s + R_1 + j k omega L_s and the loop without its magnetising current
    C_k = j k omega (G S_k/N_1 + N_1), the equation of `idle` is a fixed point:

        phi_k = (e_k - S_k F_k(phi)/N_1)/C_k.

    Resistance takes little of the voltage, so each step gains one or two digits, for the price of two Fourier
    transforms; every design goes its own way and drops out when it is there. Where the core saturates so deeply that a
    step gains less, Newton's method takes over from the start.
    """
    flux, conductance = start.copy(), np.zeros(len(start))
    points, turns = start.shape[-1], np.asarray(circuit.primary_turns)
    rate = 1j * np.multiply.outer(circuit.angular_frequency * np.ones(len(start)), orders(points))
    series = np.reshape(circuit.loop_resistance, (-1, 1)) + np.reshape(circuit.source_inductance, (-1, 1)) * rate
    peak = np.sqrt(2) * circuit.voltage_rms
    emf = np.multiply.outer(peak, modes(np.sin(np.pi * np.arange(points) / points)))
    going, left = np.arange(len(start)), []
    before = np.full(len(start), np.inf)
    frequency, weight = circuit.frequency * np.ones(len(start)), circuit.angular_frequency * turns / peak
    for _ in range(_FIXED_STEPS):
        own = turns[going, None]
        now = circuit.core_loss.conductance(vertex(flux[going]), frequency[going])
        inner = rate[going] * (now[:, None] / own * series[going] + own)
        drop = series[going] / own * modes(circuit.magnetising.ampere_turns_at(flux[going]))
        change = flux[going] - samples((emf[going] - drop) / inner)
        size = weight[going] * np.abs(change).max(axis=-1)
        flux[going] -= change
        conductance[going] = now
        there, slow = size <= _SETTLED, ~(size <= _CONTRACTS * before[going])
        left += going[slow & ~there].tolist()
        before[going] = size
        going = going[~(there | slow)]
        if not going.size:
            break
    for one in (*left, *going.tolist()):
        flux[one], conductance[one] = _by_newton(at(circuit, one), start[one])
    return flux, conductance


def _newton(circuit: Circuit, flux: Floats, conductance: float) -> tuple[Floats, float]:
    """Return the flux per turn (n,) [Wb] that balances the voltages, and the relative residual reached."""
    turns = circuit.primary_turns
    rate = circuit.angular_frequency * derivative(flux.size)
    series = circuit.loop_resistance * np.eye(flux.size) + circuit.source_inductance * rate
    constant = conductance / turns * (series @ rate) + turns * rate
    peak = np.sqrt(2) * circuit.voltage_rms
    emf = peak * np.sin(np.pi * np.arange(flux.size) / flux.size)

    def residual(trial: Floats) -> tuple[Floats, Floats, float]:
        excitation, slope = circuit.magnetising.excitation(trial)
        error = series @ excitation / turns + constant @ trial - emf
        return error, slope, float(np.abs(error).max()) / peak

    error, slope, size = residual(flux)
    for _ in range(_NEWTON_STEPS):
        if size <= _TOLERANCE:
            break
        step = np.linalg.solve(series * (slope / turns) + constant, error)
        share = 1.0
        while True:
            trial = flux - share * step
            error, slope, new = residual(trial)
            if new < (1 - 0.1 * share) * size or share < 1e-3:
                break
            share *= 0.5
        if new >= size:
            break
        flux, size = trial, new
    return flux, size


def _settle(circuit: Circuit, flux: Floats) -> tuple[Floats, float, float]:
    """Return flux, core-loss conductance at its peak and relative residual."""
    conductance = circuit.core_loss.conductance(vertex(flux), circuit.frequency)
    for _ in range(_PASSES):
        flux, size = _newton(circuit, flux, conductance)
        settled = circuit.core_loss.conductance(vertex(flux), circuit.frequency)
        if size > _TOLERANCE or abs(settled - conductance) <= 1e-8 * abs(settled):
            return flux, conductance, size
        conductance = settled
    return flux, conductance, abs(settled - conductance) / settled


def _by_newton(circuit: Circuit, start: Floats) -> tuple[Floats, float]:
    flux, conductance, size = _settle(circuit, start)
    if size <= _TOLERANCE:
        return flux, conductance
    # Come up from a voltage at which the core hardly saturates, each solution stretched to the next voltage.
    for steps in (8, 32):
        flux = start * (0.25 / vertex(start) * circuit.nominal_peak_flux)
        for share in np.linspace(0.25, 1.0, steps):
            flux, conductance, size = _settle(circuit.with_voltage(share * circuit.voltage_rms), flux)
            if size > _TOLERANCE:
                break
        else:
            return flux, conductance
    what = f"no-load current at {circuit.voltage_rms:g} V"
    tried = "Newton with line search, then the voltage raised in 8 and in 32 steps"
    raise NotConverged(what, residual=size, tolerance=_TOLERANCE, tried=tried)
