"""First current peaks at the worst moment of switching on: stepped through the first period, and of a linear loop."""

from dataclasses import dataclass, replace
from math import inf, pi

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import OPEN, SHORTED, Connection
from fem.circuit.time.stepping import STEPS, Run, at_rest, check_run, integrate, nominal_conductance

_ANGLES = 48
_COARSE_STEPS = 128
_FINE_ANGLES = 17


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeak:
    """One current's highest first peak over all moments of closing.

    Parameters
    ----------
    current
        Size of the peak [A].
    closing_angle
        Phase of the mains e.m.f. at closing, from its rising zero [rad].
    time
        From closing to the peak [s].
    times, currents
        (n,) the first period after closing at that angle [s], [A].
    """

    current: float
    closing_angle: float
    time: float
    times: Floats
    currents: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeaks:
    """The first peaks of both windings, each at its own worst moment of closing.

    Parameters
    ----------
    remanence
        Flux per turn at closing [Wb].
    """

    primary: FirstPeak
    secondary: FirstPeak
    remanence: float


def first_peaks(
    circuit: Circuit, connection: Connection = SHORTED, *, remanence: float = 0.0, steps: int = STEPS
) -> FirstPeaks:
    """Find the first peaks of both windings when switched on, each at its own worst moment.

    Parameters
    ----------
    circuit
        Of one design.
    connection
        What hangs on the circuit: the lead ends joined, unless said otherwise; `OPEN` for the inrush.
    remanence
        Flux per turn at closing, either sign [Wb].
    steps
        Time steps per period [-], at least 64.

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    max over the closing angle and over t in the first period of |i(t)|, as `integrate` steps it from rest: 48 angles
    side by side in coarse steps, then a finer fan of 17 about each winding's worst. That of a primary whose core
    saturates is near the zero of the voltage that drives the flux on from its remanence; resistance moves it. The
    magnetising curve has no hysteresis: the remanent flux decays with its own small current rather than staying.
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


def asymmetric_peak(x_over_r: ArrayLike) -> Floats:
    """Return a linear loop's highest first peak over all moments of closing, over its sustained r.m.s. current [-].

    Parameters
    ----------
    x_over_r
        (...,) reactance over resistance [-], from 0 to infinity; the factor goes from sqrt(2) to 2 sqrt(2).

    Raises
    ------
    ValueError
        If a ratio is negative or not a number.

    Notes
    -----
    i / (sqrt(2) I) = sin(t + b) - sin(b) d with b the closing angle less the impedance angle, t the angle since closing
    and d = exp(-t R/X). Over b the largest value at t is sqrt(1 - 2 d cos t + d^2), at tan b = (cos t - d)/sin t.
    Over t that is stationary where (X/R) sin t + cos t = d, which has one root between pi/2 and pi. There tan b = -X/R,
    so the worst moment of closing is always the zero of the voltage.
    """
    ratio = np.asarray(x_over_r, dtype=np.float64)
    if not np.all(ratio >= 0):
        msg = f"x_over_r must not be negative, got {x_over_r!r}"
        raise ValueError(msg)
    with np.errstate(divide="ignore"):
        damping = 1 / ratio
    # By halves: of t the last digit, of the factor, which is stationary there, far more than all.
    low, high = np.full(ratio.shape, pi / 2), np.full(ratio.shape, pi)
    for _ in range(53):
        t = 0.5 * (low + high)
        beyond = np.sin(t) + damping * (np.cos(t) - np.exp(-damping * t)) < 0
        low, high = np.where(beyond, low, t), np.where(beyond, t, high)
    decay = np.exp(-damping * high)
    return np.asarray(np.sqrt(2 * (1 - 2 * decay * np.cos(high) + decay**2)))
