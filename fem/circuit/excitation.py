"""Excitation that a sinusoidal flux needs: r.m.s. and fundamental ampere-turns."""

from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.circuit.curves import FluxCurve

# Mid-points of a quarter period: the integrands are periodic and even about both ends, where this rule converges fast.
_SINE = np.sin(0.5 * np.pi * (np.arange(64) + 0.5) / 64)


def peak_flux_of(volts_per_turn: float, frequency: float) -> float:
    """Return the peak of a sinusoidal flux per turn.

    Parameters
    ----------
    volts_per_turn : float
        R.m.s. induced voltage per turn [V].
    frequency : float
        [Hz].

    Returns
    -------
    float
        Peak flux per turn [Wb], e.m.f. / (4.44 f).
    """
    return volts_per_turn / (sqrt(2) * pi * frequency)


def excitation_rms(curve: FluxCurve, peak_flux: ArrayLike) -> Floats:
    """Return the r.m.s. ampere-turns under a sinusoidal flux, harmonics included.

    Parameters
    ----------
    curve : FluxCurve
    peak_flux : array of any shape
        Peak flux per turn [Wb].

    Returns
    -------
    array, same shape
        [A].
    """
    wave = curve.ampere_turns_at(np.multiply.outer(np.asarray(peak_flux, dtype=np.float64), _SINE))
    return np.asarray(np.sqrt(np.mean(wave**2, axis=-1)))


def excitation_fundamental_rms(curve: FluxCurve, peak_flux: ArrayLike) -> Floats:
    """Return the r.m.s. fundamental of the ampere-turns under a sinusoidal flux (the describing function).

    Parameters
    ----------
    curve : FluxCurve
    peak_flux : array of any shape
        Peak flux per turn [Wb].

    Returns
    -------
    array, same shape
        [A]; in phase with the flux, a quarter period behind the induced voltage.
    """
    wave = curve.ampere_turns_at(np.multiply.outer(np.asarray(peak_flux, dtype=np.float64), _SINE))
    return np.asarray(sqrt(2) * np.mean(wave * _SINE, axis=-1))
