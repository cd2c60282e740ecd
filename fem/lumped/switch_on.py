"""First current peaks after switching on, at the worst moment of closing, with the saturating core."""

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from fem.lumped.circuit import Circuit, check_load
from fem.lumped.errors import NotConverged

Floats = NDArray[np.float64]

STEPS = 512
"""Time steps per period; first peaks within 0.1 % of a tightly controlled integration (see the tests)."""

_ANGLES = 48
_FINE_ANGLES = 17
_NEWTON_STEPS = 50
_TOLERANCE = 1e-8


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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class _Run:
    """Currents over the first period, (steps + 1, angles)."""

    angles: Floats
    times: Floats
    primary: Floats
    secondary: Floats


def _integrate(circuit: Circuit, angles: Floats, secondary_resistance: float, remanence: float, steps: int) -> _Run:
    """Step one period from closing, all angles at once; an infinite secondary resistance is an open secondary.

    The flux linkages of the primary and the secondary loop are stepped by the trapezoidal rule: second order, stable
    for any saturated inductance, and each step leaves one rising scalar equation for the flux. Only the core-loss
    current needs d(flux)/dt itself; with a source inductance it settles in well under a microsecond, so it takes the
    damped two-step backward difference instead, where the trapezoidal rule would ring.
    """
    n1, n2 = circuit.primary_turns, circuit.secondary_turns
    step = 1.0 / (circuit.frequency * steps)
    times: Floats = step * np.arange(steps + 1, dtype=np.float64)
    mains = sqrt(2) * circuit.voltage_rms * np.sin(np.add.outer(circuit.angular_frequency * times, angles))
    conductance = circuit.core_loss.conductance(circuit.nominal_peak_flux, circuit.frequency)
    half_r1 = 0.5 * step * circuit.loop_resistance
    half_r2 = 0.5 * step * secondary_resistance
    series = circuit.source_inductance + half_r1
    is_open = secondary_resistance == inf
    inverse = 0.0 if is_open else 1.0 / (circuit.leakage_inductance_secondary + half_r2)

    flux = np.full(angles.size, remanence)
    older = flux
    primary = np.empty_like(mains)
    secondary = np.zeros_like(mains)
    primary[0] = circuit.magnetising.ampere_turns_at(flux) / n1
    scale = _TOLERANCE * max(circuit.nominal_peak_flux, abs(remanence))
    linkage1 = circuit.source_inductance * primary[0] + n1 * flux
    linkage2 = n2 * flux
    for k in range(steps):
        known1 = linkage1 + 0.5 * step * (mains[k] + mains[k + 1]) - half_r1 * primary[k]
        known2 = linkage2 if is_open else linkage2 + half_r2 * secondary[k]
        if k == 0:
            lead, tail = conductance / step, conductance / step * flux
        else:
            lead, tail = 1.5 * conductance / step, conductance / step * (2.0 * flux - 0.5 * older)
        # Ampere-turns of core loss and secondary together: slope times flux, less a part already known.
        slope = lead + n2**2 * inverse
        offset = tail + n2 * inverse * known2
        trial = 2.0 * flux - older
        for _ in range(_NEWTON_STEPS):
            excitation, rise = circuit.magnetising.excitation(trial)
            error = series / n1 * (excitation + slope * trial - offset) + n1 * trial - known1
            change = error / (series / n1 * (rise + slope) + n1)
            trial = trial - change
            if np.abs(change).max() <= scale:
                break
        else:
            worst = float(np.abs(change).max()) * _TOLERANCE / scale
            what = f"flux {times[k + 1]:.3g} s after switching on"
            raise NotConverged(what, residual=worst, tolerance=_TOLERANCE, tried=f"{_NEWTON_STEPS} Newton steps")
        older, flux = flux, trial
        secondary[k + 1] = inverse * (n2 * flux - known2)
        # The last Newton step is below the tolerance, so the tangent carries the excitation over it exactly enough.
        primary[k + 1] = (excitation - rise * change + slope * flux - offset) / n1
        linkage1 = circuit.source_inductance * primary[k + 1] + n1 * flux
        linkage2 = n2 * flux - circuit.leakage_inductance_secondary * secondary[k + 1]
    return _Run(angles=angles, times=times, primary=primary, secondary=secondary)


def _highest(run: _Run, currents: Floats) -> FirstPeak:
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


def worst_peaks(circuit: Circuit, secondary_resistance: float, remanence: float, steps: int) -> FirstPeaks:
    """Find the first peaks with a given resistance in the whole secondary loop.

    Parameters
    ----------
    circuit : Circuit
    secondary_resistance : float
        Winding, leads and load together [ohm]; infinite for an open secondary.
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
    """
    if not isfinite(remanence):
        msg = f"remanence must be finite, got {remanence!r}"
        raise ValueError(msg)
    if steps < 64:
        msg = f"steps must be at least 64, got {steps}"
        raise ValueError(msg)
    # Without remanence both half periods of closing angles mirror each other.
    span = pi if remanence == 0 else 2 * pi
    spacing = span / _ANGLES
    coarse = _integrate(circuit, spacing * np.arange(_ANGLES, dtype=np.float64), secondary_resistance, remanence, steps)
    around = spacing * np.linspace(-1.0, 1.0, _FINE_ANGLES)
    start = [_highest(coarse, coarse.primary).closing_angle]
    if secondary_resistance != inf:
        start.append(_highest(coarse, coarse.secondary).closing_angle)
    fine = _integrate(circuit, np.concatenate([a + around for a in start]), secondary_resistance, remanence, steps)
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
    Largest size within the first period, over 48 closing angles and a finer fan about the worst. The magnetising curve
    has no hysteresis: the remanent flux decays with its own small current rather than staying.
    """
    check_load(load_resistance)
    resistance = circuit.secondary_resistance + circuit.lead_resistance + load_resistance
    return worst_peaks(circuit, resistance, remanence, steps)
