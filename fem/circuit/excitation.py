"""Excitation that a sinusoidal flux needs: r.m.s. and fundamental ampere-turns."""

from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Real
from fem.circuit.curves import FluxCurve

# Mid-points of a quarter period: the integrands are periodic and even about both ends, where this rule converges fast.
_SINE = np.sin(0.5 * np.pi * (np.arange(64) + 0.5) / 64)


def peak_flux_of(volts_per_turn: Real, frequency: Real) -> Real:
    """Return the peak of a sinusoidal flux per turn, E/(sqrt(2) pi f) = E/(4.44 f), (...,) [Wb].

    Parameters
    ----------
    volts_per_turn
        (...,) r.m.s. induced voltage per turn E [V].
    frequency
        (...,) f [Hz].
    """
    return volts_per_turn / (sqrt(2) * pi * frequency)


def excitation_rms(curve: FluxCurve, peak_flux: ArrayLike) -> Floats:
    """Return the r.m.s. ampere-turns under a sinusoidal flux, harmonics included, (...,) [A].

    Parameters
    ----------
    peak_flux
        (...,) peak flux per turn [Wb].

    Notes
    -----
    F_rms^2 = 2/pi int_0^(pi/2) F(phi sin x)^2 dx, by the mid-point rule on 64 points.
    """
    wave = curve.ampere_turns_at(np.multiply.outer(np.asarray(peak_flux, dtype=np.float64), _SINE))
    return np.asarray(np.sqrt(np.mean(wave**2, axis=-1)))


def rms_slope(curve: FluxCurve, peak_flux: ArrayLike) -> tuple[Floats, Floats]:
    """Return `excitation_rms` and its slope against the peak flux, (...,) [A], [A/Wb]."""
    wave, rise = curve.excitation(np.multiply.outer(np.asarray(peak_flux, dtype=np.float64), _SINE))
    found = np.sqrt(np.mean(wave**2, axis=-1))
    return np.asarray(found), np.asarray(np.mean(wave * rise * _SINE, axis=-1) / found)


def excitation_fundamental_rms(curve: FluxCurve, peak_flux: ArrayLike) -> Floats:
    """Return the r.m.s. fundamental of the ampere-turns under a sinusoidal flux, (...,) [A]; see `fundamental_slope`.

    Parameters
    ----------
    peak_flux
        (...,) peak flux per turn [Wb].
    """
    return fundamental_slope(curve, peak_flux)[0]


def fundamental_slope(curve: FluxCurve, peak_flux: ArrayLike) -> tuple[Floats, Floats]:
    """Return the r.m.s. fundamental of the ampere-turns under a sinusoidal flux and its slope, (...,) [A], [A/Wb].

    Parameters
    ----------
    peak_flux
        (...,) peak flux per turn [Wb].

    Notes
    -----
    The describing function: F_1 = sqrt(2) 2/pi int_0^(pi/2) F(phi sin x) sin x dx; in phase with the flux, a quarter
    period behind the induced voltage. Its slope has F' sin^2 x in place of F sin x.
    """
    wave, rise = curve.excitation(np.multiply.outer(np.asarray(peak_flux, dtype=np.float64), _SINE))
    return np.asarray(sqrt(2) * np.mean(wave * _SINE, axis=-1)), np.asarray(sqrt(2) * np.mean(rise * _SINE**2, axis=-1))
