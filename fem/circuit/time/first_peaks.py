"""First current peaks at the worst moment of switching on: stepped through the first period, and of a linear loop."""

from dataclasses import dataclass, replace
from math import inf, pi

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Number, of_each
from fem.circuit.block import lined
from fem.circuit.equivalent import Circuit
from fem.circuit.time.connection import OPEN, SHORTED, Connection
from fem.circuit.time.stepping import STEPS, Run, at_rest, check_run, integrate, nominal_conductance

_COARSE_STEPS = 128


@dataclass(frozen=True, kw_only=True, slots=True)
class Fineness:
    """How finely the worst moment of closing is sought.

    Parameters
    ----------
    steps
        Time steps per period [-], at least 64; the first fan takes 128 of them at most.
    angles
        Closing angles of the first fan [-].
    around
        Those of the second, from the first's neighbour on one side of its worst to that on the other [-], odd.
    """

    steps: int = STEPS
    angles: int = 48
    around: int = 17


CLOSE = Fineness()
"""Peaks within 0.1 % of a tightly controlled integration (see the tests)."""
QUICK = Fineness(steps=128, angles=24, around=9)
"""For many draws: within another 0.2 %, at a third of the time."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeak:
    """One current's highest first peak over all moments of closing.

    Parameters
    ----------
    current
        (...,) size of the peak [A].
    closing_angle
        (...,) phase of the mains e.m.f. at closing, from its rising zero [rad].
    time
        (...,) from closing to the peak [s].
    times, currents
        (n,), (..., n) the first period after closing at that angle [s], [A].
    """

    current: Number
    closing_angle: Number
    time: Number
    times: Floats
    currents: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class FirstPeaks:
    """The first peaks of both windings, each at its own worst moment of closing.

    Parameters
    ----------
    remanence
        (...,) flux per turn at closing [Wb].
    """

    primary: FirstPeak
    secondary: FirstPeak
    remanence: Number


def first_peaks(
    circuit: Circuit, connection: Connection = SHORTED, *, remanence: Number = 0.0, fineness: Fineness = CLOSE
) -> FirstPeaks:
    """Find the first peaks of both windings when switched on, each at its own worst moment.

    Parameters
    ----------
    circuit
        Of one design or of a block (n,).
    connection
        What hangs on the circuit: the lead ends joined, unless said otherwise; `OPEN` for the inrush.
    remanence
        (...,) flux per turn at closing, either sign [Wb].
    fineness
        Of steps and closing angles.

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range.

    Notes
    -----
    max over the closing angle and over t in the first period of |i(t)|, as `integrate` steps it from rest: a fan of
    angles side by side in coarse steps, then for each design a finer one about each winding's own worst. That of a
    primary whose core saturates is near the zero of the voltage that drives the flux on from its remanence; resistance
    moves it. The magnetising curve has no hysteresis: the remanent flux decays with its own small current rather than
    staying.
    """
    check_run(remanence, 1, fineness.steps)
    each, block, (left,) = lined(circuit, remanence)
    # Without remanence, valves and direct voltage both half periods of closing angles mirror each other.
    alike = (left == 0) & (replace(connection, load_resistance=inf) == OPEN)
    spacing = np.where(alike, pi, 2 * pi) / fineness.angles
    angles = spacing * np.arange(fineness.angles, dtype=np.float64)
    coarse = _run(each, connection, angles, left, min(fineness.steps, _COARSE_STEPS))
    around = spacing * np.linspace(-1.0, 1.0, fineness.around)
    windings = [coarse.primary] if connection.load_resistance == inf else [coarse.primary, coarse.secondary]
    start = [_highest(coarse, currents, left.shape).closing_angle for currents in windings]
    fine = _run(each, connection, np.hstack([a + around for a in start]), left, fineness.steps)
    primary, secondary = (_highest(fine, currents, block) for currents in (fine.primary, fine.secondary))
    return FirstPeaks(primary=primary, secondary=secondary, remanence=remanence)


def _run(circuit: Circuit, connection: Connection, angles: Floats, remanence: Floats, steps: int) -> Run:
    return integrate(
        circuit,
        connection,
        at_rest(circuit, remanence, angles.shape),
        angles=angles,
        conductance=nominal_conductance(circuit),
        cycles=1,
        steps=steps,
    )


def _highest(run: Run, currents: Floats, block: tuple[int, ...]) -> FirstPeak:
    """Pick each design's angle with the highest peak; a parabola through the largest sample finds it between samples.

    Of runs (n, k) and their currents (t, n, k), results shaped as the block.
    """
    rows = np.arange(currents.shape[1])
    which = np.maximum(currents.max(axis=0), -currents.min(axis=0)).argmax(axis=1)
    waves = currents[:, rows, which].T
    size = np.abs(waves)
    at = size.argmax(axis=1)
    peak, time = size[rows, at], run.times[at]
    before, after = size[rows, at - 1], size[rows, np.minimum(at + 1, len(run.times) - 1)]
    bend = before - 2 * peak + after
    inside = (at > 0) & (at < len(run.times) - 1) & (bend < 0)
    shift = 0.5 * (before - after) / np.where(inside, bend, -inf)
    return FirstPeak(
        current=of_each((peak - 0.25 * (before - after) * shift).reshape(block)),
        closing_angle=of_each((run.angles[rows, which] % (2 * pi)).reshape(block)),
        time=of_each((time + shift * run.times[1]).reshape(block)),
        times=run.times,
        currents=waves.reshape(*block, len(run.times)),
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
