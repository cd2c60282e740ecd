"""When an overcurrent device opens by common practice: no standard says so, and none is kept by it."""

from math import exp, inf, log, sqrt

import numpy as np

from fem.assumptions import assumed
from fem.heat.phases import Phase
from fem.mains.devices import AT_I2T, Device, Type, points_of
from fem.mains.forecasts import Behaviour

LASTING = assumed("lasting current of a breaker").typical
"""Multiple of the rating at which the thermal release of a breaker opens in the end [-]."""
WARMING = assumed("thermal time constant of a breaker").typical
"""Time constant of that release [s]."""
WARMINGS = assumed("thermal time constant of a breaker").band
"""The quickest and the slowest of it [s]."""
UL_489_MAGNETIC = assumed("magnetic trip of a UL 489 breaker").typical
"""Multiple of the rating from which it opens at once [-]."""
AT_ONCE = assumed("time of a magnetic trip").typical
"""How long that takes [s]."""


def typical_time(device: Device, current: float) -> float | None:
    """Return when a device opens if a current stays, from cold, as such devices commonly do [s].

    Parameters
    ----------
    device
        Breaker, or fuse.
    current
        R.m.s. [A], >= 0.

    Returns
    -------
    float or None
        Infinite where it commonly does not open; None for plug fuses, of which no common figure is known.

    Notes
    -----
    With m = I/In a breaker warms as t = tau ln(m^2/(m^2 - k^2)), k and tau of `fem/assumptions.csv`, some factor of 3
    either way, and opens at once from the middle of its instantaneous band on, sqrt(foot top), or where UL 489 has
    none, from what is common. A gG fuse melts along the line, in logarithms, through the geometric means of its gates,
    some 10 % of current either way, and below 0.01 s at that of its two I^2 t.
    """
    multiple = current / device.rating
    if device.type is Type.BS_1362:
        return None
    if device.type is Type.GG:
        return _middle(device, current)
    if multiple <= LASTING:
        return inf
    points = points_of(device)
    bands = sqrt(points.holds[-1, 0] * points.opens[-1, 0])
    if multiple >= (UL_489_MAGNETIC if device.type is Type.UL_489 else bands):
        return AT_ONCE
    return WARMING * log(multiple**2 / (multiple**2 - LASTING**2))


def _middle(fuse: Device, current: float) -> float:
    points = points_of(fuse)
    holds, opens = points.holds[1:], points.opens
    currents, times = fuse.rating * np.sqrt(holds[:, 0] * opens[:, 0]), np.sqrt(holds[:, 1] * opens[:, 1])
    if current < currents[0]:
        return inf
    if current > currents[-1]:
        return AT_I2T * float(currents[-1] / current) ** 2
    return exp(float(np.interp(log(current), np.log(currents), np.log(times))))


def typical_duty(device: Device, burst: Phase, pause: Phase) -> Behaviour | None:
    """Say what a breaker commonly does under bursts repeated for good; None of fuses, of which no figure is known.

    Parameters
    ----------
    device
        Breaker, or fuse.
    burst, pause
        One cycle; the primary currents count.

    Notes
    -----
    The image tau d(theta)/dt = I^2 - theta settles where a burst ends at

        theta = (I_on^2 (1 - a) + I_off^2 (1 - b) a)/(1 - a b),   a = exp(-t_on/tau), b = exp(-t_off/tau),

    and opens where that reaches (k In)^2: it opens, or holds, if both the slowest and the quickest common tau say so.
    """
    if device.type.is_fuse:
        return None
    if typical_time(device, burst.primary_current) == AT_ONCE:
        return Behaviour.OPENS
    reached = []
    for tau in WARMINGS:
        a, b = exp(-burst.duration / tau), exp(-pause.duration / tau)
        theta = (burst.primary_current**2 * (1 - a) + pause.primary_current**2 * (1 - b) * a) / (1 - a * b)
        reached.append(theta >= (LASTING * device.rating) ** 2)
    return Behaviour.OPENS if all(reached) else Behaviour.MAY_OPEN if any(reached) else Behaviour.HOLDS
