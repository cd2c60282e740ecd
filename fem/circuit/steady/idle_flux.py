"""The flux of the no-load state: what balances the mains over half a period."""

import numpy as np

from fem.arrays import Floats, Integers
from fem.circuit.block import taken
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.core_flux import core_flux
from fem.circuit.steady.half_period import derivative, vertex
from fem.errors import NotConverged

_TOLERANCE = 1e-10
_NEWTON_STEPS = 40
_PASSES = 20
_MOST_ENTRIES = 1 << 20
"""Of all tangents that are solved side by side: 8 MB of each matrix."""


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
    By `core_flux`; where that does not contract by Newton's method from the start, every design for itself, with the
    exact tangent, a full matrix (n, n), halving steps that gain too little; where that fails the voltage comes up in 8
    and in 32 steps.
    """
    flux, conductance, left = core_flux(circuit, start)
    together = max(1, _MOST_ENTRIES // start.shape[-1] ** 2)
    for first in range(0, len(left), together):
        places = np.array(left[first : first + together])
        some = taken(circuit, places)
        flux[places], conductance[places], size = _settle(some, start[places])
        for one in np.flatnonzero(~(size <= _TOLERANCE)):
            place = places[one]
            flux[place], conductance[place] = _raised(taken(some, np.array([one])), start[place])
    return flux, conductance


def _newton(circuit: Circuit, flux: Floats, conductance: Floats) -> tuple[Floats, Floats]:
    """Return the flux per turn (m, n) [Wb] that balances the voltages, and the relative residuals reached (m,)."""
    points = flux.shape[-1]
    turns, ohms, henrys, omega = (
        np.reshape(number, (-1, 1, 1))
        for number in (
            circuit.primary_turns,
            circuit.loop_resistance,
            circuit.source_inductance,
            circuit.angular_frequency,
        )
    )
    rate = omega * derivative(points)
    series = ohms * np.eye(points) + henrys * rate
    twice = omega**2 * (derivative(points) @ derivative(points))
    constant = conductance[:, None, None] / turns * (ohms * rate + henrys * twice) + turns * rate
    peak = np.sqrt(2) * circuit.voltage_rms * np.ones(len(flux))
    emf = np.multiply.outer(peak, np.sin(np.pi * np.arange(points) / points))

    def residual(places: Integers, trial: Floats) -> tuple[Floats, Floats, Floats]:
        excitation, slope = circuit.magnetising.taken(places).excitation(trial)
        drop = series[places] @ (excitation / turns[places, :, 0])[..., None]
        error = (drop + constant[places] @ trial[..., None])[..., 0] - emf[places]
        return error, slope, np.abs(error).max(axis=-1) / peak[places]

    flux, going = flux.copy(), np.arange(len(flux))
    error, slope, size = residual(going, flux)
    for _ in range(_NEWTON_STEPS):
        going = going[size[going] > _TOLERANCE]
        if not going.size:
            break
        tangent = series[going] * (slope[going] / turns[going, :, 0])[:, None] + constant[going]
        step = np.linalg.solve(tangent, error[going][..., None])[..., 0]
        share, trying, gains = np.ones(len(going)), np.arange(len(going)), np.zeros(len(going), dtype=bool)
        while trying.size:
            places = going[trying]
            trial = flux[places] - share[trying, None] * step[trying]
            new_error, new_slope, new = residual(places, trial)
            taken_up = (new < (1 - 0.1 * share[trying]) * size[places]) | (share[trying] < 1e-3)
            better = taken_up & (new < size[places])
            gains[trying] = better
            at = places[better]
            flux[at], error[at], slope[at], size[at] = trial[better], new_error[better], new_slope[better], new[better]
            trying = trying[~taken_up]
            share[trying] *= 0.5
        going = going[gains]
    return flux, size


def _settle(circuit: Circuit, flux: Floats) -> tuple[Floats, Floats, Floats]:
    """Return flux (m, n), core-loss conductance at its peak and relative residual (m,)."""
    frequency = circuit.frequency * np.ones(len(flux))
    conductance = circuit.core_loss.conductance(vertex(flux), frequency)
    flux, size, going = flux.copy(), np.full(len(flux), np.inf), np.arange(len(flux))
    for _ in range(_PASSES):
        flux[going], size[going] = _newton(taken(circuit, going), flux[going], conductance[going])
        settled = circuit.core_loss.taken(going).conductance(vertex(flux[going]), frequency[going])
        moved = np.abs(settled - conductance[going]) > 1e-8 * np.abs(settled)
        further = (size[going] <= _TOLERANCE) & moved
        going, settled = going[further], settled[further]
        if not going.size:
            return flux, conductance, size
        left = np.abs(settled - conductance[going]) / settled
        conductance[going] = settled
    size[going] = left
    return flux, conductance, size


def _raised(circuit: Circuit, start: Floats) -> tuple[Floats, float]:
    """Return one design's flux (n,) and core-loss conductance, the voltage coming up in steps; it is a block of one."""
    # Come up from a voltage at which the core hardly saturates, each solution stretched to the next voltage.
    for steps in (8, 32):
        flux = start[None] * (0.25 / vertex(start) * circuit.nominal_peak_flux)
        for share in np.linspace(0.25, 1.0, steps):
            flux, conductance, size = _settle(circuit.with_voltage(share * circuit.voltage_rms), flux)
            if not size[0] <= _TOLERANCE:
                break
        else:
            return flux[0], float(conductance[0])
    what = f"no-load current at {float(np.squeeze(circuit.voltage_rms)):g} V"
    tried = "Newton with line search, then the voltage raised in 8 and in 32 steps"
    raise NotConverged(what, residual=float(size[0]), tolerance=_TOLERANCE, tried=tried)
