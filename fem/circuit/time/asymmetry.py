"""First peak of an alternating current switched on into resistance and inductance."""

from dataclasses import dataclass
from math import cos, exp, inf, isnan, pi, sin, sqrt

from scipy.optimize import brentq

from fem.circuit.equivalent import Circuit


@dataclass(frozen=True, kw_only=True, slots=True)
class AsymmetricPeak:
    """Hold the highest first peak over all moments of closing, which is that of closing at the voltage's zero.

    Parameters
    ----------
    factor : float
        Peak over sustained r.m.s. current [-].
    angle_to_peak : float
        From closing to the peak [rad].
    """

    factor: float
    angle_to_peak: float


def asymmetric_peak(x_over_r: float) -> AsymmetricPeak:
    """Find the first peak on a linear reactance and resistance closed at the worst moment.

    Parameters
    ----------
    x_over_r : float
        Reactance over resistance [-], from 0 to infinity.

    Returns
    -------
    AsymmetricPeak
        With a factor from sqrt(2) to 2 sqrt(2).

    Raises
    ------
    ValueError
        If the ratio is negative or not a number.

    Notes
    -----
    i / (sqrt(2) I) = sin(t + b) - sin(b) d with b the closing angle less the impedance angle, t the angle since closing
    and d = exp(-t R/X). Over b the largest value at t is sqrt(1 - 2 d cos t + d^2), at tan b = (cos t - d) / sin t.
    Over t that is stationary where (X/R) sin t + cos t = d, which has one root between pi/2 and pi. There
    tan b = -X/R, so the worst closing angle is always 0.
    """
    if isnan(x_over_r) or x_over_r < 0:
        msg = f"x_over_r must not be negative, got {x_over_r!r}"
        raise ValueError(msg)
    if x_over_r == 0:
        return AsymmetricPeak(factor=sqrt(2), angle_to_peak=pi / 2)
    if x_over_r == inf:
        return AsymmetricPeak(factor=2 * sqrt(2), angle_to_peak=pi)

    def slope(t: float) -> float:
        return x_over_r * sin(t) + cos(t) - exp(-t / x_over_r)

    t = float(brentq(slope, pi / 2, pi, xtol=1e-14))
    decay = exp(-t / x_over_r)
    return AsymmetricPeak(factor=sqrt(2 * (1 - 2 * decay * cos(t) + decay**2)), angle_to_peak=t)


def linear_first_peak(circuit: Circuit, load_resistance: float = 0.0) -> float:
    """Return the worst first peak of the secondary current with the magnetising branch left out.

    Parameters
    ----------
    circuit : Circuit
    load_resistance : float
        Across the lead ends [ohm], 0 for a short circuit.

    Returns
    -------
    float
        [A].
    """
    ratio = circuit.secondary_turns / circuit.primary_turns
    reactance = circuit.angular_frequency * (
        circuit.leakage_inductance_secondary + circuit.source_inductance * ratio**2
    )
    resistance = (
        circuit.secondary_resistance + circuit.lead_resistance + load_resistance + circuit.loop_resistance * ratio**2
    )
    rms = circuit.voltage_rms * ratio / sqrt(reactance**2 + resistance**2)
    return rms * asymmetric_peak(reactance / resistance if resistance > 0 else inf).factor
