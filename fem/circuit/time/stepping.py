"""The circuit stepped through time: one integrator for switching on, settling and the periodic state."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from fem.arrays import Floats, Number, finite
from fem.circuit.curves import LeakageCurve
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import Connection
from fem.errors import NotConverged

STEPS = 512
"""Time steps per period; first peaks within 0.1 % of a tightly controlled integration (see the tests)."""

_NEWTON_STEPS = 50
_TOLERANCE = 1e-6
"""Last Newton change, of the nominal peak flux: what is left after it is of the order of its square."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Where an integration starts, one entry for each run.

    Parameters
    ----------
    flux, primary, secondary
        (...,) flux per turn [Wb], currents [A].
    older_flux, older_secondary
        (...,) one step earlier; None starts from rest.
    """

    flux: Floats
    primary: Floats
    secondary: Floats
    older_flux: Floats | None = None
    older_secondary: Floats | None = None


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Run:
    """Runs side by side: `times` (n + 1,) [s], the rest (n + 1, ...) or, for `angles`, (...,) [rad]."""

    angles: Floats
    times: Floats
    voltage: Floats
    primary: Floats
    secondary: Floats
    flux: Floats

    @property
    def end(self) -> State:
        """State to go on from."""
        return State(
            flux=self.flux[-1],
            primary=self.primary[-1],
            secondary=self.secondary[-1],
            older_flux=self.flux[-2],
            older_secondary=self.secondary[-2],
        )


def at_rest(circuit: Circuit, remanence: Number, runs: int | tuple[int, ...]) -> State:
    """Return the state at closing, `runs`: a remanent flux per turn [Wb] with the magnetising current it takes."""
    flux: Floats = np.full(runs, remanence, dtype=np.float64)
    primary = circuit.magnetising.ampere_turns_at(flux) / circuit.primary_turns
    return State(flux=flux, primary=primary, secondary=np.zeros(runs))


def leakage_flux(circuit: Circuit, secondary_current: Floats) -> Floats:
    """Return the windings' leakage flux per turn phi_l [Wb] at a secondary current [A], (...,)."""
    ampere_turns = circuit.secondary_turns * secondary_current
    leakage = circuit.leakage_permeance
    return leakage.flux(ampere_turns) if isinstance(leakage, LeakageCurve) else leakage * ampere_turns


def _loop_current(
    circuit: Circuit, connection: Connection, weight: Floats, drop_weight: Floats
) -> Callable[[Floats], tuple[Floats, Floats | float]]:
    """Return the law from the volt-seconds that a step leaves for the secondary loop, (...,) [V s], to its current.

    The loop takes leakage linkage plus `weight` [s] times its resistive drop plus `drop_weight` [s] times the valves'.
    A valve holds back whatever does not reach its drop. The law gives the current [A] and its slope [1/H].
    """
    turns, leakage, rectifier = circuit.secondary_turns, circuit.leakage_permeance, connection.rectifier
    resistance = circuit.secondary_resistance + circuit.lead_resistance + connection.load_resistance
    series = circuit.lead_inductance + weight * resistance

    if isinstance(leakage, LeakageCurve):
        curve, last = leakage, np.zeros(1)

        def through(left: Floats) -> tuple[Floats, Floats | float]:
            nonlocal last
            last, excitation, rise = curve.shared(left / turns, series / turns**2, last)
            return excitation / turns, rise / turns**2
    else:
        inverse = 1.0 / (turns**2 * leakage + series)

        def through(left: Floats) -> tuple[Floats, Floats | float]:
            return inverse * left, inverse

    if rectifier is None:
        return through
    held, both = drop_weight * rectifier.forward_drop, rectifier.full_wave

    def through_valves(left: Floats) -> tuple[Floats, Floats | float]:
        passed = np.maximum(left - held, 0.0)
        if both:
            passed = passed + np.minimum(left + held, 0.0)
        current, slope = through(passed)
        return current, np.where(passed != 0.0, slope, 0.0)

    return through_valves


def integrate(
    circuit: Circuit,
    connection: Connection,
    start: State,
    *,
    angles: Floats,
    conductance: Number,
    cycles: int,
    steps: int,
) -> Run:
    """Step several runs side by side, each from its own state and closing angle, and perhaps of its own circuit.

    Parameters
    ----------
    circuit
        Its numbers may be arrays that broadcast against the runs, save frequency: (m,) for as many runs, or (n, 1) for
        the fans of n circuits (n, k), see `fem.circuit.block.lined`.
    angles
        (...,) phase of the mains e.m.f. at the start, one for each run [rad].
    conductance
        Of the core loss, per turn squared, as the circuit's numbers [S].
    cycles, steps
        Periods; steps in each [-].

    Raises
    ------
    NotConverged
        If a time step fails.

    Notes
    -----
    The equations of `fem.circuit.equivalent` for the linkages psi_1 = N_1 phi + L_s i_1 and psi_2 = N_2 (phi - phi_l) -
    L_l i_2, stepped by the trapezoidal rule: second order, A-stable, so that no saturated inductance asks for a smaller
    step, and without damping of its own, so that a direct flux decays as it should:

        psi_1' - psi_1 = h/2 (e + e') - h/2 (R_s + R_1) (i_1 + i_1')
        psi_2' - psi_2 = h/2 (R_2 + R_l + R) (i_2 + i_2') [+ h v, a valve's drop]
        N_1 i_1' = F(phi') + G dphi/dt' + N_2 i_2'

    i_2' rises with phi' by the second line, so the first is one rising scalar equation for phi', solved by Newton's
    method from a cubic through the last fluxes until all runs along the last axis have settled. Where the rule would
    ring, the two-step backward difference stands in (second order, damped at infinity; its first step is Euler's):
    dx/dt' = (3 x' - 4 x + x_older)/(2 h) for the loss current, and for psi_2 where the loop's time constant is below
    half a step. A valve turns its loop's equation into the larger of two roots: of the loop closed, and of no current;
    what it holds back in a step is the difference.
    """
    n1, n2 = circuit.primary_turns, circuit.secondary_turns
    step = 1.0 / (circuit.frequency * steps)
    times: Floats = step * np.arange(cycles * steps + 1, dtype=np.float64)
    mains = sqrt(2) * circuit.voltage_rms * np.sin(np.add.outer(circuit.angular_frequency * times, angles))
    mains += connection.dc_voltage
    drive = 0.5 * step * (mains[:-1] + mains[1:])
    half_r1 = 0.5 * step * circuit.loop_resistance
    series_per_turn = (circuit.source_inductance + half_r1) / n1
    r2 = circuit.secondary_resistance + circuit.lead_resistance + connection.load_resistance
    is_open, one_way = connection.load_resistance == inf, connection.half_wave_supply
    quick = np.asarray(0.5 * step * r2 > circuit.leakage_inductance_secondary)
    weight = np.where(quick, 2.0 / 3.0, 0.5) * step
    law = None if is_open else _loop_current(circuit, connection, weight, np.where(quick, weight, step))
    # What a step keeps of the last two linkages and of the last current.
    shares = np.where(quick, 4.0 / 3.0, 1.0), np.where(quick, 1.0 / 3.0, 0.0), np.where(quick, 0.0, 0.5 * step * r2)
    scale = _TOLERANCE * circuit.nominal_peak_flux

    def linkage(at: Floats, current: Floats) -> Floats:
        return n2 * (at - leakage_flux(circuit, current)) - circuit.lead_inductance * current

    from_rest = start.older_flux is None
    flux, i1, i2 = start.flux, start.primary, start.secondary
    # Backward differences of the flux: they carry it into each step as a cubic, so close that one Newton step does.
    rise = np.zeros_like(flux) if start.older_flux is None else flux - start.older_flux
    bend = twist = np.zeros_like(flux)
    linkage2 = linkage(flux, i2)
    older2 = linkage2 if start.older_secondary is None else linkage(flux - rise, start.older_secondary)
    primary, secondary, fluxes = np.empty_like(mains), np.zeros_like(mains), np.empty_like(mains)
    primary[0], secondary[0], fluxes[0] = i1, i2, flux
    for k in range(cycles * steps):
        known1 = n1 * flux + (circuit.source_inductance - half_r1) * i1 + drive[k]
        starting = k == 0 and from_rest
        lead, lag = (1.0 if starting else 1.5) * conductance / step, 0.5 * conductance / step * rise
        current_law = law
        if law is not None:
            known2 = shares[0] * linkage2 - shares[1] * older2 + shares[2] * i2
            if starting and quick.any():
                known2 = linkage2 + shares[2] * i2
                current_law = _loop_current(circuit, connection, np.where(quick, step, weight), np.asarray(step))
        trial, settled = flux + rise + bend + twist, np.zeros(1, dtype=np.bool_)
        kept: list[Floats] = []
        for _ in range(_NEWTON_STEPS):
            ampere_turns, slope = circuit.magnetising.excitation(trial)
            ampere_turns, slope = ampere_turns + lead * (trial - flux) - lag, slope + lead
            if current_law is not None:
                i2, share = current_law(n2 * trial - known2)
                ampere_turns, slope = ampere_turns + n2 * i2, slope + n2**2 * share
            change = (series_per_turn * ampere_turns + n1 * trial - known1) / (series_per_turn * slope + n1)
            if one_way:
                change = np.minimum(change, ampere_turns / slope)
            # The last Newton step is below the tolerance, so the tangent carries the currents over it exactly enough.
            found = [trial - change, (ampere_turns - slope * change) / n1]
            if current_law is not None:
                found.append(i2 - n2 * share * change)
            if kept:
                found = [np.where(settled, one, other) for one, other in zip(kept, found, strict=True)]
            settled = settled | (np.abs(change) <= scale).all(axis=-1, keepdims=True)
            if settled.all():
                break
            kept, trial = found, found[0]
        else:
            worst = float((np.abs(change) / scale).max()) * _TOLERANCE
            what = f"flux {times[k + 1]:.3g} s after switching on"
            raise NotConverged(what, residual=worst, tolerance=_TOLERANCE, tried=f"{_NEWTON_STEPS} Newton steps")
        trial, i1 = found[:2]
        if one_way:
            i1 = np.maximum(i1, 0.0)
        if current_law is not None:
            i2 = found[2]
            older2, linkage2 = linkage2, linkage(trial, i2)
        twist = trial - flux - rise - bend
        bend = trial - flux - rise
        flux, rise = trial, trial - flux
        primary[k + 1], secondary[k + 1], fluxes[k + 1] = i1, i2, flux
    return Run(angles=angles, times=times, voltage=mains, primary=primary, secondary=secondary, flux=fluxes)


def nominal_conductance(circuit: Circuit) -> float:
    """Return the core-loss conductance per turn squared, (...,) [S], at the flux the whole mains voltage asks for."""
    return circuit.core_loss.conductance(circuit.nominal_peak_flux, circuit.frequency)


def check_run(remanence: Number, cycles: int, steps: int) -> None:
    """Refuse a remanence, (...,) [Wb], that is not finite, no cycles, or fewer than 64 steps.

    Raises
    ------
    ValueError
        With the number.
    """
    finite(remanence=remanence)
    if cycles < 1:
        msg = f"cycles must be at least 1, got {cycles}"
        raise ValueError(msg)
    if steps < 64:
        msg = f"steps must be at least 64, got {steps}"
        raise ValueError(msg)
