"""The loaded state where core or leakage path saturate: currents and fluxes over half a period, no phasors."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Number
from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.half_period import derivative, integral, vertex
from fem.errors import NotConverged

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
    """The equation of `distorted` for the leakage flux per turn y, with its tangent."""

    def __init__(self, circuit: Circuit, curve: LeakageCurve, load_resistance: float, points: int) -> None:
        self.circuit, self.curve = circuit, curve
        omega, squared = circuit.angular_frequency, circuit.secondary_turns**2
        resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
        self.rate = omega * derivative(points)
        self.beside = circuit.lead_inductance / squared * np.eye(points) + resistance / squared / omega * integral(
            points
        )
        self.series = circuit.loop_resistance * np.eye(points) + circuit.source_inductance * self.rate
        self.emf = np.sqrt(2) * circuit.voltage_rms * np.sin(np.pi * np.arange(points) / points)

    def flux(self, leakage: Floats, ampere_turns: Floats) -> Floats:
        """Return the core's flux per turn phi(y), (n,) [Wb]."""
        return np.asarray(leakage + self.beside @ ampere_turns)

    def residual(self, leakage: Floats, conductance: float) -> tuple[Floats, Floats]:
        """Return what the primary loop misses, (n,) [V], and its slope against y, (n, n)."""
        turns = self.circuit.primary_turns
        ampere_turns, rise = self.curve.excitation(leakage)
        flux = self.flux(leakage, ampere_turns)
        core, core_rise = self.circuit.magnetising.excitation(flux)
        rate = self.rate @ flux
        missed = turns * rate + self.series @ (core + conductance * rate + ampere_turns) / turns - self.emf
        along = np.eye(leakage.size) + self.beside * rise
        drawn = core_rise[:, None] * along + np.diag(rise) + conductance * (self.rate @ along)
        return missed, turns * (self.rate @ along) + self.series @ drawn / turns

    def solve(self, leakage: Floats, conductance: float, share: float) -> tuple[Floats, float]:
        """Return y, (n,) [Wb], at a share of the mains e.m.f., and the relative residual reached."""
        peak = float(np.abs(self.emf).max()) * share

        def at(trial: Floats) -> tuple[Floats, Floats, float]:
            missed, slope = self.residual(trial, conductance)
            missed = missed + (1 - share) * self.emf
            return missed, slope, float(np.abs(missed).max()) / peak

        missed, slope, size = at(leakage)
        for _ in range(_NEWTON_STEPS):
            if size <= _TOLERANCE:
                break
            step = np.linalg.solve(slope, missed)
            part = 1.0
            while True:
                trial = leakage - part * step
                missed, slope, new = at(trial)
                if new < (1 - 0.1 * part) * size or part < 1e-3:
                    break
                part *= 0.5
            if new >= size:
                break
            leakage, size = trial, new
        return leakage, size


def distorted(circuit: Circuit, load_resistance: float, *, points: int = POINTS) -> Distorted:
    """Solve the periodic state with a resistance across the lead ends.

    Parameters
    ----------
    circuit
        Of one design.
    load_resistance
        [ohm].
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
    curve = given if isinstance(given, LeakageCurve) else _straight(given)
    equations = _Equations(circuit, curve, load_resistance, points)
    start = _sine(circuit, curve, load_resistance, points)
    for steps in (1, 8, 32):
        leakage, conductance = start / steps, circuit.core_loss.conductance(0.0, circuit.frequency)
        for step in range(1, steps + 1):
            if step > 1:
                leakage = leakage * (step / (step - 1))
            for _ in range(_PASSES):
                leakage, size = equations.solve(leakage, conductance, step / steps)
                flux = equations.flux(leakage, curve.ampere_turns_at(leakage))
                before, conductance = conductance, circuit.core_loss.conductance(vertex(flux), circuit.frequency)
                if size > _TOLERANCE or abs(conductance - before) <= 1e-8 * abs(conductance):
                    break
            if size > _TOLERANCE:
                break
        else:
            ampere_turns = curve.ampere_turns_at(leakage)
            core = circuit.magnetising.ampere_turns_at(flux) + before * (equations.rate @ flux)
            return Distorted(
                flux=flux,
                primary=(core + ampere_turns) / circuit.primary_turns,
                secondary=ampere_turns / circuit.secondary_turns,
                conductance=before,
            )
    what = f"loaded state with saturating iron at {circuit.voltage_rms:g} V"
    tried = "Newton with line search, then the voltage raised in 8 and in 32 steps"
    raise NotConverged(what, residual=size, tolerance=_TOLERANCE, tried=tried)


def _straight(permeance: float) -> LeakageCurve:
    """Return a permeance [H] as a curve, which goes on straight."""
    ampere_turns = np.array([0.0, 1.0, 2.0])
    return LeakageCurve(ampere_turns=ampere_turns, flux_per_turn=permeance * ampere_turns)


def _sine(circuit: Circuit, curve: LeakageCurve, load_resistance: float, points: int) -> Floats:
    """Return a sinusoidal leakage flux to begin with: the path as a permeance, the core's own current left out."""
    ratio, omega = circuit.secondary_turns / circuit.primary_turns, circuit.angular_frequency
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    resistance += circuit.loop_resistance * ratio**2
    outside = circuit.lead_inductance + circuit.source_inductance * ratio**2
    permeance = curve.unsaturated_permeance
    for _ in range(6):
        impedance = complex(resistance, omega * (outside + circuit.secondary_turns**2 * permeance))
        current = np.sqrt(2) * circuit.voltage_rms * ratio / impedance
        ampere_turns = circuit.secondary_turns * current
        permeance = float(np.interp(abs(ampere_turns), curve.ampere_turns, curve.flux_per_turn)) / abs(ampere_turns)
    turn = np.exp(1j * np.pi * np.arange(points) / points)
    return np.asarray((permeance * ampere_turns * turn).imag)
