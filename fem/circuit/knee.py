"""Knee of the magnetising curve, free of turns."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from fem.arrays import Number, of_each, positive
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.excitation import excitation_rms, peak_flux_of, rms_slope
from fem.roots import root

_VOLTAGE_STEP = 1.10
_CURRENT_STEP = 1.50
_SCAN = 400
_NEWTON_STEPS = 30
_FARTHEST = 0.1
"""Most that a step of Newton's method changes a flux [-]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Knee:
    """The knee point, or why there is none.

    Parameters
    ----------
    volts_per_turn
        R.m.s. e.m.f. per turn [V].
    peak_flux_per_turn
        [Wb].
    ampere_turns_rms
        R.m.s. magnetising ampere-turns there [A].
    reason
        Why there is no knee; None where there is one.
    """

    volts_per_turn: Number | None
    peak_flux_per_turn: Number | None
    ampere_turns_rms: Number | None
    reason: str | None


def knee_point(curve: MagnetisingCurve, frequency: float) -> Knee:
    """Find the lowest e.m.f. from which 10 % more raises the r.m.s. magnetising current by 50 %.

    Parameters
    ----------
    frequency
        [Hz].

    Raises
    ------
    ValueError
        If the frequency is not above 0.

    Notes
    -----
    Knee point e.m.f. of IEC 61869-2 (2012): the least E with F_rms(1.1 E) = 1.5 F_rms(E), F_rms as `excitation_rms` has
    it. E is sinusoidal, so neither winding resistance nor distortion of the flux enters; the loss component of the
    exciting current is left out here. Scanned in 400 steps up to the last point of the curve, then by Brent's method.
    One knee serves all designs on one core and arrangement.
    """
    positive(frequency=frequency)

    def ratio(peak_flux: float) -> float:
        low, high = excitation_rms(curve, [peak_flux, _VOLTAGE_STEP * peak_flux])
        return float(high / low)

    scan = np.geomspace(0.5 * curve.flux_per_turn[1], curve.flux_per_turn[-1], _SCAN)
    ratios = excitation_rms(curve, _VOLTAGE_STEP * scan) / excitation_rms(curve, scan)
    reached = np.flatnonzero(ratios >= _CURRENT_STEP)
    if not reached.size:
        at = int(np.argmax(ratios))
        volts = float(scan[at]) / peak_flux_of(1.0, frequency)
        reason = (
            f"10 % more e.m.f. raises the magnetising current by {100 * (ratios[at] - 1):.0f} % at most "
            f"(at {volts:.4g} V per turn), never by 50 %"
        )
        return Knee(volts_per_turn=None, peak_flux_per_turn=None, ampere_turns_rms=None, reason=reason)
    first = int(reached[0])
    if first == 0:
        reason = "the magnetising current already rises by more than 50 % at the curve's first point"
        return Knee(volts_per_turn=None, peak_flux_per_turn=None, ampere_turns_rms=None, reason=reason)
    peak_flux = root(lambda x: ratio(x) - _CURRENT_STEP, scan[first - 1], scan[first], rtol=1e-12)
    return Knee(
        volts_per_turn=peak_flux / peak_flux_of(1.0, frequency),
        peak_flux_per_turn=peak_flux,
        ampere_turns_rms=float(excitation_rms(curve, peak_flux)),
        reason=None,
    )


def knees_near(curve: MagnetisingCurve, frequency: float, near: Knee) -> Knee:
    """Find the knees of curves that are like one whose knee is known.

    Parameters
    ----------
    curve
        Of m members, or of one.
    frequency
        [Hz].
    near
        The knee of the one they are like.

    Returns
    -------
    Knee
        Fields (m,), nan where there is none nearby; where `near` is none, that.

    Notes
    -----
    ln F_rms(1.1 E) - ln F_rms(E) = ln 1.5 by Newton's method from the known knee: of several such places the nearest.
    """
    if near.volts_per_turn is None:
        return near
    peak: Any = np.full(() if curve.members is None else curve.members.size, near.peak_flux_per_turn)
    for _ in range(_NEWTON_STEPS):
        (low, rise), (high, far) = rms_slope(curve, peak), rms_slope(curve, _VOLTAGE_STEP * peak)
        missed = np.log(high / (_CURRENT_STEP * low))
        slope = peak * (_VOLTAGE_STEP * far / high - rise / low)
        step = np.clip(missed / np.where(slope == 0, np.inf, slope), -_FARTHEST, _FARTHEST)
        peak = peak * (1 - step)
        if (np.abs(step) <= 1e-12).all():
            break
    peak = np.where(np.abs(step) <= 1e-9, peak, np.nan)
    return Knee(
        volts_per_turn=of_each(peak / peak_flux_of(1.0, frequency)),
        peak_flux_per_turn=of_each(peak),
        ampere_turns_rms=of_each(np.where(np.isnan(peak), np.nan, low)),
        reason=None,
    )
