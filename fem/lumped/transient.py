"""The circuit in the time domain: one integrator for switching on, settling and the periodic state."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from fem.lumped.circuit import Circuit, check_load
from fem.lumped.curves import LeakageCurve
from fem.lumped.errors import NotConverged

Floats = NDArray[np.float64]

STEPS = 512
"""Time steps per period; first peaks within 0.1 % of a tightly controlled integration (see the tests)."""

_NEWTON_STEPS = 50
_TOLERANCE = 1e-6
"""Last Newton change, of the nominal peak flux: what is left after it is of the order of its square."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Rectifier:
    """Describe ideal valves in the secondary loop.

    Parameters
    ----------
    forward_drop : float
        Of all valves the current passes in series [V], >= 0.
    full_wave : bool
        Whether both half waves reach the load, as through a bridge; else only the positive one.

    Raises
    ------
    ValueError
        If the drop is negative or not finite.
    """

    forward_drop: float = 0.0
    full_wave: bool = False

    def __post_init__(self) -> None:
        """Refuse a drop no valve can have."""
        if not (isfinite(self.forward_drop) and self.forward_drop >= 0):
            msg = f"forward_drop must be finite and not negative, got {self.forward_drop!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True)
class Connection:
    """Describe what hangs on the circuit.

    Parameters
    ----------
    load_resistance : float
        Across the lead ends, or behind the rectifier [ohm]: 0 is a short circuit, infinite an open secondary.
    rectifier : Rectifier, optional
        Between lead ends and load.
    half_wave_supply : bool
        Whether the primary current can flow one way only, as with a solid-state relay of which one half has failed.
    dc_voltage : float
        Direct voltage in the mains e.m.f. [V], either sign.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    load_resistance: float = inf
    rectifier: Rectifier | None = None
    half_wave_supply: bool = False
    dc_voltage: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers out of range."""
        if self.load_resistance != inf:
            check_load(self.load_resistance)
        if not isfinite(self.dc_voltage):
            msg = f"dc_voltage must be finite, got {self.dc_voltage!r}"
            raise ValueError(msg)


OPEN = Connection()
"""Nothing across the lead ends."""
SHORTED = Connection(load_resistance=0.0)
"""The lead ends bridged."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Transient:
    """Hold the waveforms from closing on; n = cycles times steps per period.

    Parameters
    ----------
    connection : Connection
    frequency, closing_angle : float
        [Hz]; phase of the mains e.m.f. at closing, from its rising zero [rad].
    remanence : float
        Flux per turn at closing [Wb].
    steps : int
        Per period [-].
    time, voltage, terminal_voltage : (n + 1,) array
        From closing [s], mains e.m.f. [V], at the primary terminals [V].
    primary_current, secondary_current : (n + 1,) array
        [A].
    flux_per_turn, leakage_flux_per_turn : (n + 1,) array
        Of the core at the primary; of the whole leakage, referred to the secondary [Wb].
    """

    connection: Connection
    frequency: float
    closing_angle: float
    remanence: float
    steps: int
    time: Floats
    voltage: Floats
    terminal_voltage: Floats
    primary_current: Floats
    secondary_current: Floats
    flux_per_turn: Floats
    leakage_flux_per_turn: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class State:
    """Hold where an integration starts, one entry for each of m runs.

    Parameters
    ----------
    flux, primary, secondary : (m,) array
        Flux per turn [Wb], currents [A].
    older_flux, older_secondary : (m,) array or None
        One step earlier; None starts from rest.
    """

    flux: Floats
    primary: Floats
    secondary: Floats
    older_flux: Floats | None = None
    older_secondary: Floats | None = None


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Run:
    """Hold m runs side by side: `times` (n + 1,) [s], the rest (n + 1, m) or, for `angles`, (m,) [rad]."""

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


def at_rest(circuit: Circuit, remanence: float, runs: int) -> State:
    """Return the state at closing: a remanent flux per turn [Wb] with the magnetising current that belongs to it."""
    flux = np.full(runs, remanence)
    primary = circuit.magnetising.ampere_turns_at(flux) / circuit.primary_turns
    return State(flux=flux, primary=primary, secondary=np.zeros(runs))


def leakage_flux(circuit: Circuit, secondary_current: Floats) -> Floats:
    """Return the windings' leakage flux per turn [Wb] at a secondary current [A], any shape."""
    ampere_turns = circuit.secondary_turns * secondary_current
    leakage = circuit.leakage_permeance
    return leakage.flux(ampere_turns) if isinstance(leakage, LeakageCurve) else leakage * ampere_turns


def _loop_current(
    circuit: Circuit, connection: Connection, weight: float, drop_weight: float
) -> Callable[[Floats], tuple[Floats, Floats]]:
    """Return the secondary current and its slope against the volt-seconds a step leaves for the secondary loop.

    The loop takes leakage linkage plus `weight` [s] times its resistive drop plus `drop_weight` [s] times the valves'.
    A valve holds back whatever does not reach its drop.
    """
    turns, leakage, rectifier = circuit.secondary_turns, circuit.leakage_permeance, connection.rectifier
    resistance = circuit.secondary_resistance + circuit.lead_resistance + connection.load_resistance
    series = circuit.lead_inductance + weight * resistance

    if isinstance(leakage, LeakageCurve):
        curve, last = leakage, np.zeros(1)

        def through(left: Floats) -> tuple[Floats, Floats]:
            nonlocal last
            last, excitation, rise = curve.shared(left / turns, series / turns**2, last)
            return excitation / turns, rise / turns**2
    else:
        inverse = 1.0 / (turns**2 * leakage + series)

        def through(left: Floats) -> tuple[Floats, Floats]:
            return inverse * left, np.full_like(left, inverse)

    if rectifier is None:
        return through
    held, both = drop_weight * rectifier.forward_drop, rectifier.full_wave

    def through_valves(left: Floats) -> tuple[Floats, Floats]:
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
    conductance: float,
    cycles: int,
    steps: int,
) -> Run:
    """Step several runs side by side, each from its own state and closing angle.

    Parameters
    ----------
    circuit : Circuit
    connection : Connection
    start : State
    angles : (m,) array
        Phase of the mains e.m.f. at the start [rad].
    conductance : float
        Of the core loss, per turn squared [S].
    cycles, steps : int
        Periods; steps in each [-].

    Returns
    -------
    Run

    Raises
    ------
    NotConverged
        If a time step fails.

    Notes
    -----
    The flux linkages of primary and secondary loop are stepped by the trapezoidal rule: second order, stable for any
    saturated inductance, and each step leaves one rising scalar equation for the flux. Where it would ring, the damped
    two-step backward difference stands in: for the core-loss current, and for a secondary loop whose time constant is
    below half a step. A valve turns the equation of its loop into the larger of two roots: of the loop closed, and of
    no current; the volt-seconds it holds back in a step are the difference.
    """
    n1, n2 = circuit.primary_turns, circuit.secondary_turns
    step = 1.0 / (circuit.frequency * steps)
    times: Floats = step * np.arange(cycles * steps + 1, dtype=np.float64)
    mains = sqrt(2) * circuit.voltage_rms * np.sin(np.add.outer(circuit.angular_frequency * times, angles))
    mains += connection.dc_voltage
    half_r1 = 0.5 * step * circuit.loop_resistance
    series = circuit.source_inductance + half_r1
    r2 = circuit.secondary_resistance + circuit.lead_resistance + connection.load_resistance
    is_open, one_way = connection.load_resistance == inf, connection.half_wave_supply
    damped = 0.5 * step * r2 > circuit.leakage_inductance_secondary
    weight = 2.0 / 3.0 * step if damped else 0.5 * step
    drop_weight = weight if damped else step
    law = None if is_open else _loop_current(circuit, connection, weight, drop_weight)

    flux, older = start.flux, start.flux if start.older_flux is None else start.older_flux
    from_rest = start.older_flux is None
    i1, i2 = start.primary, start.secondary
    primary, secondary, fluxes = np.empty_like(mains), np.zeros_like(mains), np.empty_like(mains)
    primary[0], secondary[0], fluxes[0] = i1, i2, flux
    scale = _TOLERANCE * circuit.nominal_peak_flux
    linkage1 = circuit.source_inductance * i1 + n1 * flux

    def linkage(at: Floats, current: Floats) -> Floats:
        return n2 * (at - leakage_flux(circuit, current)) - circuit.lead_inductance * current

    linkage2 = linkage(flux, i2)
    older2 = linkage2 if start.older_secondary is None else linkage(older, start.older_secondary)
    for k in range(cycles * steps):
        known1 = linkage1 + 0.5 * step * (mains[k] + mains[k + 1]) - half_r1 * i1
        current_law = law
        if k == 0 and from_rest:
            lead, tail = conductance / step, conductance / step * flux
            known2 = linkage2 if damped else linkage2 + 0.5 * step * r2 * i2
            if damped and not is_open:
                current_law = _loop_current(circuit, connection, step, step)
        else:
            lead, tail = 1.5 * conductance / step, conductance / step * (2.0 * flux - 0.5 * older)
            known2 = (4.0 * linkage2 - older2) / 3.0 if damped else linkage2 + 0.5 * step * r2 * i2
        trial = 2.0 * flux - older
        for _ in range(_NEWTON_STEPS):
            excitation, rise = circuit.magnetising.excitation(trial)
            total, slope = excitation + lead * trial - tail, rise + lead
            if current_law is not None:
                i2, share = current_law(n2 * trial - known2)
                total, slope = total + n2 * i2, slope + n2**2 * share
            i1, slope = total / n1, slope / n1
            change = (series * i1 + n1 * trial - known1) / (series * slope + n1)
            if one_way:
                change = np.minimum(change, i1 / slope)
            trial = trial - change
            if np.abs(change).max() <= scale:
                break
        else:
            worst = float(np.abs(change).max()) * _TOLERANCE / scale
            what = f"flux {times[k + 1]:.3g} s after switching on"
            raise NotConverged(what, residual=worst, tolerance=_TOLERANCE, tried=f"{_NEWTON_STEPS} Newton steps")
        # The last Newton step is below the tolerance, so the tangent carries the currents over it exactly enough.
        i1 = i1 - slope * change
        if one_way:
            i1 = np.maximum(i1, 0.0)
        older, flux = flux, trial
        older2 = linkage2
        if current_law is not None:
            i2 = i2 - n2 * share * change
            linkage2 = linkage(flux, i2)
        primary[k + 1], secondary[k + 1], fluxes[k + 1] = i1, i2, flux
        linkage1 = circuit.source_inductance * i1 + n1 * flux
    return Run(angles=angles, times=times, voltage=mains, primary=primary, secondary=secondary, flux=fluxes)


def terminal_voltage(circuit: Circuit, run: Run) -> Floats:
    """Return the voltage at the primary terminals [V], shape of the currents, from winding drop and rate of flux."""
    rate = np.gradient(run.flux, run.times, axis=0, edge_order=2)
    return circuit.primary_resistance * run.primary + circuit.primary_turns * rate


def transient(
    circuit: Circuit,
    connection: Connection = OPEN,
    *,
    closing_angle: float = 0.0,
    remanence: float = 0.0,
    cycles: int = 1,
    steps: int = STEPS,
) -> Transient:
    """Follow currents and flux from the moment of switching on.

    Parameters
    ----------
    circuit : Circuit
    connection : Connection
    closing_angle : float
        Phase of the mains e.m.f. at closing, from its rising zero [rad].
    remanence : float
        Flux per turn at closing, either sign [Wb].
    cycles, steps : int
        Mains periods to follow; time steps in each, at least 64 [-].

    Returns
    -------
    Transient

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    As `integrate`, with the core-loss conductance of the flux that the mains voltage asks for. The magnetising curve
    has no hysteresis: the remanent flux decays with its own small current rather than staying.
    """
    check_run(remanence, cycles, steps)
    if not isfinite(closing_angle):
        msg = f"closing_angle must be finite, got {closing_angle!r}"
        raise ValueError(msg)
    run = integrate(
        circuit,
        connection,
        at_rest(circuit, remanence, 1),
        angles=np.array([closing_angle % (2 * pi)]),
        conductance=nominal_conductance(circuit),
        cycles=cycles,
        steps=steps,
    )
    return Transient(
        connection=connection,
        frequency=circuit.frequency,
        closing_angle=closing_angle,
        remanence=remanence,
        steps=steps,
        time=run.times,
        voltage=run.voltage[:, 0],
        terminal_voltage=terminal_voltage(circuit, run)[:, 0],
        primary_current=run.primary[:, 0],
        secondary_current=run.secondary[:, 0],
        flux_per_turn=run.flux[:, 0],
        leakage_flux_per_turn=leakage_flux(circuit, run.secondary[:, 0]),
    )


def nominal_conductance(circuit: Circuit) -> float:
    """Return the core-loss conductance per turn squared [S] at the flux that the whole mains voltage asks for."""
    return circuit.core_loss.conductance(circuit.nominal_peak_flux, circuit.frequency)


def check_run(remanence: float, cycles: int, steps: int) -> None:
    """Refuse a remanence [Wb] that is not finite, no cycles, or fewer than 64 steps.

    Raises
    ------
    ValueError
        With the number.
    """
    if not isfinite(remanence):
        msg = f"remanence must be finite, got {remanence!r}"
        raise ValueError(msg)
    if cycles < 1:
        msg = f"cycles must be at least 1, got {cycles}"
        raise ValueError(msg)
    if steps < 64:
        msg = f"steps must be at least 64, got {steps}"
        raise ValueError(msg)
