"""The flux of the no-load state: what balances the mains over half a period."""

import numpy as np

from fem.arrays import Floats
from fem.circuit.block import at
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.core_flux import core_flux
from fem.circuit.steady.half_period import derivative, vertex
from fem.errors import NotConverged

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
    By `core_flux`; where that does not contract by Newton's method from the start, design by design, with the exact
    tangent, a full matrix (n, n), halving steps that gain too little; where that fails the voltage comes up in 8 and in
    32 steps.
    """
    flux, conductance, left = core_flux(circuit, start)
    for one in left:
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
