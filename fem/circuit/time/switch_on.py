"""Switching on: first current peaks at the worst moment of closing, and what follows over the cycles."""

from dataclasses import dataclass, replace
from math import inf, isfinite, pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit, check_load
from fem.circuit.time.connection import OPEN, Connection
from fem.circuit.time.stepping import STEPS, Run, at_rest, check_run, integrate, nominal_conductance
from fem.circuit.time.waveforms import Transient, transient

ZERO_CROSSING = 0.0
"""Closing angle [rad] of a relay that waits for the zero of the voltage: right for a heater, the worst for a
transformer, whose flux then swings to twice its steady peak."""

REMANENT_SHARES = (0.0, 0.8)
"""Least and greatest remanent flux to expect, over the peak flux in service [-]. The upper one: S. V. Kulkarni and
S. A. Khaparde, Transformer Engineering, clause 2.7, from memory; gaps at the joints bring it down."""

_ANGLES = 48
_COARSE_STEPS = 128
_FINE_ANGLES = 17


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeak:
    """Hold one current's highest first peak over all moments of closing.

    Parameters
    ----------
    current : float
        Size of the peak [A].
    closing_angle : float
        Phase of the mains e.m.f. at closing, from its rising zero [rad].
    time : float
        From closing to the peak [s].
    times, currents : (n,) array
        The first period after closing at that angle [s], [A].
    """

    current: float
    closing_angle: float
    time: float
    times: Floats
    currents: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeaks:
    """Hold the first peaks of both windings, each at its own worst moment of closing.

    Parameters
    ----------
    primary, secondary : FirstPeak
    remanence : float
        Flux per turn at closing [Wb].
    """

    primary: FirstPeak
    secondary: FirstPeak
    remanence: float


def _highest(run: Run, currents: Floats) -> FirstPeak:
    """Pick the angle with the highest peak; a parabola through the largest sample finds the peak between samples."""
    size = np.abs(currents)
    at, which = np.unravel_index(int(np.argmax(size)), size.shape)
    peak, time = float(size[at, which]), float(run.times[at])
    if 0 < at < len(run.times) - 1:
        before, after = size[at - 1, which], size[at + 1, which]
        bend = before - 2 * peak + after
        if bend < 0:
            shift = 0.5 * (before - after) / bend
            peak -= float(0.25 * (before - after) * shift)
            time += float(shift * run.times[1])
    return FirstPeak(
        current=peak,
        closing_angle=float(run.angles[which] % (2 * pi)),
        time=time,
        times=run.times,
        currents=currents[:, which].copy(),
    )


def _run(circuit: Circuit, connection: Connection, angles: Floats, remanence: float, steps: int) -> Run:
    return integrate(
        circuit,
        connection,
        at_rest(circuit, remanence, angles.size),
        angles=angles,
        conductance=nominal_conductance(circuit),
        cycles=1,
        steps=steps,
    )


def worst_peaks(circuit: Circuit, connection: Connection, remanence: float, steps: int = STEPS) -> FirstPeaks:
    """Find the first peaks of both windings, whatever hangs on the circuit.

    Parameters
    ----------
    circuit : Circuit
    connection : Connection
    remanence : float
        Flux per turn at closing [Wb].
    steps : int
        Time steps per period [-], at least 64.

    Returns
    -------
    FirstPeaks

    Raises
    ------
    NotConverged, ValueError
        As `first_peaks`.

    Notes
    -----
    Largest size within the first period: over 48 closing angles in coarse steps, then a finer fan about the worst.
    """
    check_run(remanence, 1, steps)
    # Without remanence, valves and direct voltage both half periods of closing angles mirror each other.
    alike = remanence == 0 and replace(connection, load_resistance=inf) == OPEN
    span = pi if alike else 2 * pi
    spacing = span / _ANGLES
    angles = spacing * np.arange(_ANGLES, dtype=np.float64)
    coarse = _run(circuit, connection, angles, remanence, min(steps, _COARSE_STEPS))
    around = spacing * np.linspace(-1.0, 1.0, _FINE_ANGLES)
    start = [_highest(coarse, coarse.primary).closing_angle]
    if connection.load_resistance != inf:
        start.append(_highest(coarse, coarse.secondary).closing_angle)
    fine = _run(circuit, connection, np.concatenate([a + around for a in start]), remanence, steps)
    return FirstPeaks(
        primary=_highest(fine, fine.primary), secondary=_highest(fine, fine.secondary), remanence=remanence
    )


def first_peaks(
    circuit: Circuit, *, load_resistance: float = 0.0, remanence: float = 0.0, steps: int = STEPS
) -> FirstPeaks:
    """Find the first current peaks of both windings when switched on with the leads shorted or loaded.

    Parameters
    ----------
    circuit : Circuit
    load_resistance : float
        Across the lead ends [ohm], 0 for a short circuit.
    remanence : float
        Flux per turn at closing, either sign [Wb].
    steps : int
        Time steps per period [-].

    Returns
    -------
    FirstPeaks

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    As `worst_peaks`. The magnetising curve has no hysteresis: the remanent flux decays with its own small current
    rather than staying.
    """
    check_load(load_resistance)
    return worst_peaks(circuit, Connection(load_resistance=load_resistance), remanence, steps)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ByCycle:
    """Hold what each mains period after closing brings; k periods.

    Parameters
    ----------
    primary_peak, secondary_peak : (k,) array
        Largest size of the current [A].
    primary_rms, secondary_rms : (k,) array
        Over that period [A].
    primary_mean : (k,) array
        Direct component over that period [A].
    peak_flux_per_turn : (k,) array
        Largest size [Wb].
    """

    primary_peak: Floats
    secondary_peak: Floats
    primary_rms: Floats
    secondary_rms: Floats
    primary_mean: Floats
    peak_flux_per_turn: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SwitchOn:
    """Hold a switching-on as meter and breaker see it.

    Parameters
    ----------
    first_peak : float
        Highest primary current of the first period [A].
    rms_10_ms, rms_100_ms : float
        Of the primary current from closing on [A]: windows of clamp meters that catch the inrush.
    joule_integral : float
        Of the primary current squared over the first half period [A^2 s], the time of a breaker's magnetic release.
    by_cycle : ByCycle
    transient : Transient
        The waveforms.
    """

    first_peak: float
    rms_10_ms: float
    rms_100_ms: float
    joule_integral: float
    by_cycle: ByCycle
    transient: Transient


def joule_integral(state: Transient, duration: float) -> float:
    """Integrate the square of the primary current from closing on.

    Parameters
    ----------
    state : Transient
    duration : float
        [s], within what was followed.

    Returns
    -------
    float
        [A^2 s].

    Raises
    ------
    ValueError
        If the duration is not above 0 or longer than the waveforms.
    """
    # A period counts as followed although n steps of its length add up to it only within rounding.
    if not 0 < duration <= state.time[-1] * (1 + 1e-12):
        msg = f"duration must be above 0 and within the {state.time[-1]:g} s followed, got {duration!r}"
        raise ValueError(msg)
    within = state.time < duration
    time = np.append(state.time[within], duration)
    square = np.append(state.primary_current[within], np.interp(duration, state.time, state.primary_current)) ** 2
    return float(np.trapezoid(square, time))


def by_cycle(state: Transient) -> ByCycle:
    """Sum up a transient period by period.

    Parameters
    ----------
    state : Transient

    Returns
    -------
    ByCycle
    """

    def periods(wave: Floats) -> Floats:
        # Each period with both its ends.
        return np.lib.stride_tricks.sliding_window_view(wave, state.steps + 1)[:: state.steps]

    def rms(wave: Floats) -> Floats:
        return np.asarray(np.sqrt(np.trapezoid(periods(wave) ** 2, axis=1) / state.steps))

    primary, secondary = state.primary_current, state.secondary_current
    return ByCycle(
        primary_peak=np.abs(periods(primary)).max(axis=1),
        secondary_peak=np.abs(periods(secondary)).max(axis=1),
        primary_rms=rms(primary),
        secondary_rms=rms(secondary),
        primary_mean=np.asarray(np.trapezoid(periods(primary), axis=1) / state.steps),
        peak_flux_per_turn=np.abs(periods(state.flux_per_turn)).max(axis=1),
    )


def switch_on(
    circuit: Circuit,
    connection: Connection = OPEN,
    *,
    closing_angle: float | None = None,
    remanence: float = 0.0,
    cycles: int = 10,
    steps: int = STEPS,
) -> SwitchOn:
    """Follow a switching-on over several cycles and sum it up.

    Parameters
    ----------
    circuit : Circuit
    connection : Connection
    closing_angle : float, optional
        Phase of the mains e.m.f. at closing, from its rising zero [rad], such as `ZERO_CROSSING`; left out, the one
        with the highest primary peak.
    remanence : float
        Flux per turn at closing, either sign [Wb].
    cycles, steps : int
        Mains periods to follow, enough for 100 ms; time steps in each [-].

    Returns
    -------
    SwitchOn

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range or the cycles do not last 100 ms.
    """
    if not cycles / circuit.frequency >= 0.1:
        msg = f"cycles must last 100 ms, got {cycles} at {circuit.frequency:g} Hz"
        raise ValueError(msg)
    angle = closing_angle
    if angle is None:
        angle = worst_peaks(circuit, connection, remanence, steps).primary.closing_angle
    state = transient(circuit, connection, closing_angle=angle, remanence=remanence, cycles=cycles, steps=steps)
    cycle = by_cycle(state)
    return SwitchOn(
        first_peak=float(cycle.primary_peak[0]),
        rms_10_ms=sqrt(joule_integral(state, 0.01) / 0.01),
        rms_100_ms=sqrt(joule_integral(state, 0.1) / 0.1),
        joule_integral=joule_integral(state, 0.5 / circuit.frequency),
        by_cycle=cycle,
        transient=state,
    )


def remanence_range(peak_flux_per_turn: float) -> tuple[float, float]:
    """Return the least and the greatest remanent flux per turn [Wb] after service at a peak flux per turn [Wb].

    Raises
    ------
    ValueError
        If the flux is not above 0.
    """
    if not (isfinite(peak_flux_per_turn) and peak_flux_per_turn > 0):
        msg = f"peak_flux_per_turn must be above 0, got {peak_flux_per_turn!r}"
        raise ValueError(msg)
    low, high = REMANENT_SHARES
    return low * peak_flux_per_turn, high * peak_flux_per_turn
