"""The loaded state where core or leakage path saturate: currents and fluxes over half a period, no phasors."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fem.arrays import Floats, Number
from fem.circuit.block import taken
from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import derivative, integral, vertex
from fem.errors import NotConverged
from fem.rows import between

POINTS = 64
"""Collocation points per half period: currents within 1e-3 of a fine stepping in time (see the tests)."""

_TOLERANCE = 1e-9
_NEWTON_STEPS = 60
_PASSES = 20


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Distorted:
    """Half a period from the rising zero of the mains e.m.f., (..., n) each; the other half is the same upside down.

    Parameters
    ----------
    flux
        Of the core at the primary, per turn [Wb].
    primary, secondary
        Currents [A].
    conductance
        Of the core loss, per turn squared [S].
    """

    flux: Floats
    primary: Floats
    secondary: Floats
    conductance: Number


class _Equations:
    """The equation of `distorted` for the leakage flux per turn y of m designs (m, n), with its tangent."""

    def __init__(self, circuit: Circuit, curve: LeakageCurve, load_resistance: Floats, points: int) -> None:
        self.circuit, self.curve = circuit, curve
        omega, squared = _matrix(circuit.angular_frequency), _matrix(circuit.secondary_turns**2)
        resistance = _matrix(circuit.secondary_resistance + circuit.lead_resistance + load_resistance)
        self.eye = np.eye(points)
        self.rate = omega * derivative(points)
        self.beside = _matrix(circuit.lead_inductance) / squared * self.eye
        self.beside = self.beside + resistance / squared / omega * integral(points)
        self.series = _matrix(circuit.loop_resistance) * self.eye + _matrix(circuit.source_inductance) * self.rate
        angle = np.pi * np.arange(points) / points
        self.emf = np.sqrt(2) * np.reshape(circuit.voltage_rms, (-1, 1)) * np.sin(angle)

    def flux(self, leakage: Floats, ampere_turns: Floats) -> Floats:
        """Return the core's flux per turn phi(y), (m, n) [Wb]."""
        return leakage + _times(self.beside, ampere_turns)

    def residual(self, leakage: Floats, conductance: Floats) -> tuple[Floats, Floats]:
        """Return what the primary loop misses, (m, n) [V], and its slope against y, (m, n, n)."""
        turns, loss = np.reshape(self.circuit.primary_turns, (-1, 1)), conductance[:, None]
        ampere_turns, rise = self.curve.excitation(leakage)
        flux = self.flux(leakage, ampere_turns)
        core, core_rise = self.circuit.magnetising.excitation(flux)
        rate = _times(self.rate, flux)
        missed = turns * rate + _times(self.series, core + loss * rate + ampere_turns) / turns - self.emf
        along = self.eye + self.beside * rise[:, None, :]
        rates = self.rate @ along
        drawn = core_rise[:, :, None] * along + self.eye * rise[:, None, :] + loss[:, :, None] * rates
        return missed, turns[:, :, None] * rates + self.series @ drawn / turns[:, :, None]

    def solve(self, leakage: Floats, conductance: Floats, share: float) -> tuple[Floats, Floats]:
        """Return y, (m, n) [Wb], at a share of the mains e.m.f., and the relative residuals reached (m,)."""
        peak = np.abs(self.emf).max(axis=1) * share

        def at(trial: Floats) -> tuple[Floats, Floats, Floats]:
            missed, slope = self.residual(trial, conductance)
            missed = missed + (1 - share) * self.emf
            return missed, slope, np.abs(missed).max(axis=1) / peak

        missed, slope, size = at(leakage)
        going = size > _TOLERANCE
        for _ in range(_NEWTON_STEPS):
            if not going.any():
                break
            step = np.linalg.solve(slope, missed[..., None])[..., 0]
            part = np.where(going, 1.0, 0.0)  # who is there stays
            while True:
                trial = leakage - part[:, None] * step
                missed, slope, new = at(trial)
                poor = going & (new >= (1 - 0.1 * part) * size) & (part >= 1e-3)
                if not poor.any():
                    break
                part[poor] *= 0.5
            better = going & (new < size)
            leakage, size = np.where(better[:, None], trial, leakage), np.where(better, new, size)
            going = better & (size > _TOLERANCE)
        return leakage, size


def _matrix(number: Number) -> Floats:
    """Return a number of each design, to go with matrices (m, n, n)."""
    return np.reshape(number, (-1, 1, 1))


def _times(matrix: Floats, waves: Floats) -> Floats:
    """Return matrices (m, n, n) times waves (m, n)."""
    return np.asarray((matrix @ waves[..., None])[..., 0])


def distorted(circuit: Circuit, load_resistance: Number, *, points: int = POINTS) -> Distorted:
    """Solve the periodic state with a resistance across the lead ends, of one design or of a block, each for itself.

    Parameters
    ----------
    circuit
        Of one design, or with an array (m,) for each number, and curves of as many rows or of none.
    load_resistance
        (...,) [ohm].
    points
        Collocation points per half period [-], even.

    Raises
    ------
    NotConverged
        If Newton's method fails also when the voltage is raised in steps.

    Notes
    -----
    All waves are sums of odd harmonics, d/dt = omega D at n points of half a period. With a(y) = N_2 i_2 the
    ampere-turns that the leakage flux y takes, the secondary loop gives the core's flux, and the primary loop has to
    balance then (symbols: `fem.circuit.equivalent`):

        phi = y + L_l/N_2^2 a(y) + (R_2 + R_l + R)/N_2^2 (omega D)^-1 a(y)
        N_1 omega D phi + (R_s + R_1 + L_s omega D) (F(phi) + G omega D phi + a(y))/N_1 = e

    Newton with the exact tangent and halved steps; where that fails, the voltage comes up in 8 and in 32 steps. G is
    that of the solution's peak flux by repetition. No phasor serves here: whether the flux or the current of saturated
    iron is nearer to a sine depends on the resistances around it.
    """
    given = circuit.leakage_permeance
    lone = np.ndim(circuit.voltage_rms) == 0
    loads = np.broadcast_to(np.asarray(load_resistance, dtype=np.float64), np.shape(circuit.voltage_rms)).reshape(-1)
    each = replace(circuit, leakage_permeance=given if isinstance(given, LeakageCurve) else _straight(given))
    flux, ampere_turns = np.empty((2, loads.size, points))
    conductance, left = np.empty(loads.size), np.arange(loads.size)
    for steps in _RAISED:
        some = each if lone else taken(each, left)
        found = _converged(some, loads[left], points, steps)
        flux[left], ampere_turns[left], conductance[left], size = found
        left = left[size > _TOLERANCE]
        if not left.size:
            break
    else:
        what = f"loaded state with saturating iron at {np.reshape(circuit.voltage_rms, -1)[left[0] * (not lone)]:g} V"
        tried = "Newton with line search, then the voltage raised in 8 and in 32 steps"
        raise NotConverged(what, residual=float(size.max()), tolerance=_TOLERANCE, tried=tried)
    rate = np.reshape(circuit.angular_frequency, (-1, 1)) * (flux @ derivative(points).T)
    core = circuit.magnetising.ampere_turns_at(flux) + conductance[:, None] * rate
    primary = (core + ampere_turns) / np.reshape(circuit.primary_turns, (-1, 1))
    secondary = ampere_turns / np.reshape(circuit.secondary_turns, (-1, 1))
    if lone:
        return Distorted(flux=flux[0], primary=primary[0], secondary=secondary[0], conductance=float(conductance[0]))
    return Distorted(flux=flux, primary=primary, secondary=secondary, conductance=conductance)


_RAISED = (1, 8, 32)


def _converged(circuit: Circuit, load: Floats, points: int, steps: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Return flux and ampere-turns (m, n), conductance of the loss and relative residual (m,), raised in some steps."""
    curve: Any = circuit.leakage_permeance
    equations = _Equations(circuit, curve, load, points)
    leakage = _sine(circuit, curve, load, points) / steps
    conductance: Floats = circuit.core_loss.conductance(np.zeros(load.size), circuit.frequency * np.ones(load.size))
    for step in range(1, steps + 1):
        if step > 1:
            leakage = leakage * (step / (step - 1))
        for _ in range(_PASSES):
            leakage, size = equations.solve(leakage, conductance, step / steps)
            ampere_turns = curve.ampere_turns_at(leakage)
            flux = equations.flux(leakage, ampere_turns)
            new = circuit.core_loss.conductance(vertex(flux), circuit.frequency)
            moving = (size <= _TOLERANCE) & (np.abs(new - conductance) > 1e-8 * np.abs(new))
            if not moving.any():
                break
            conductance = np.where(moving, new, conductance)
    return flux, ampere_turns, conductance, size


def _straight(permeance: Number) -> LeakageCurve:
    """Return a permeance, (...,) [H], as a curve, which goes on straight."""
    ampere_turns = np.array([0.0, 1.0, 2.0])
    return LeakageCurve(ampere_turns=ampere_turns, flux_per_turn=np.multiply.outer(permeance, ampere_turns))


def _sine(circuit: Circuit, curve: LeakageCurve, load_resistance: Floats, points: int) -> Floats:
    """Return a sinusoidal leakage flux to begin with: the path as a permeance, the core's own current left out."""
    ratio, omega = circuit.secondary_turns / circuit.primary_turns, circuit.angular_frequency
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    resistance = resistance + circuit.loop_resistance * ratio**2
    outside = circuit.lead_inductance + circuit.source_inductance * ratio**2
    permeance: Any = curve.unsaturated_permeance
    own = slice(None) if curve.members is None else curve.members
    known, flux = curve.ampere_turns[own], curve.flux_per_turn[own]
    for _ in range(6):
        impedance = resistance + 1j * omega * (outside + circuit.secondary_turns**2 * permeance)
        current = np.sqrt(2) * circuit.voltage_rms * ratio / impedance
        ampere_turns = circuit.secondary_turns * current
        permeance = between(np.abs(ampere_turns), known, flux) / np.abs(ampere_turns)
    turn = np.exp(1j * np.pi * np.arange(points) / points)
    return np.asarray(np.multiply.outer(permeance * ampere_turns, turn).imag)
