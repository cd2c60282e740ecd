"""Knee of the magnetising curve, free of turns."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import positive
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.excitation import excitation_rms, peak_flux_of
from fem.roots import root

_VOLTAGE_STEP = 1.10
_CURRENT_STEP = 1.50
_SCAN = 400


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

    volts_per_turn: float | None
    peak_flux_per_turn: float | None
    ampere_turns_rms: float | None
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
