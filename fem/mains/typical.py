"""When an overcurrent device opens by common practice: no standard says so, and none is kept by it."""

from collections.abc import Sequence
from math import exp, expm1, inf, isfinite, sqrt

import numpy as np

from fem.arrays import Floats, Number, of_each
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


def typical_time(device: Device, current: Number) -> Number | None:
    """Return when a device opens if a current, (...,) [A], stays, as `typical_burst`."""
    return None if device.type is Type.BS_1362 else of_each(_after(device, current))


def _after(device: Device, current: Number, warm: float = 0.0) -> Floats:
    """Return how long a current, (...,) [A], takes to open a device that is warm: [A^2], of a fuse the share gone."""
    if device.type is Type.GG:
        return (1 - warm) * _middle(device, current)
    square, trips = np.square(current), (LASTING * device.rating) ** 2
    hot = square > trips
    ratio = np.where(hot, square - warm, 1.0) / np.where(hot, square - trips, 1.0)
    return np.where(current >= _magnetic(device), AT_ONCE, np.where(hot, WARMING * np.log(ratio), inf))


def typical_burst(device: Device, phases: Sequence[Phase]) -> float | None:
    """Return when a device opens in a burst whose current changes, from cold, as such devices commonly do [s].

    Parameters
    ----------
    device
        Breaker, or fuse.
    phases
        One after the other, at least one, the last taken as going on; the primary currents count.

    Returns
    -------
    float or None
        Infinite where it commonly does not open; None for plug fuses, of which no common figure is known.

    Notes
    -----
    A breaker warms as tau d(theta)/dt = I^2 - theta, integrated over the burst, and opens at theta = (k In)^2, k and
    tau of `fem/assumptions.csv`, some factor of 3 either way; of one current t = tau ln(m^2/(m^2 - k^2)), m = I/In. It
    opens at once from the middle of its instantaneous band on, sqrt(foot top), or where UL 489 has none, from what is
    common. A gG fuse melts along the line, in logarithms, through the geometric means of its gates, some 10 % of
    current either way, and below 0.01 s at that of its two I^2 t; where the current changes, when the shares of those
    times that have passed make a whole, which I^2 t does where no heat escapes.
    """
    if device.type is Type.BS_1362:
        return None
    fuse = device.type is Type.GG
    clock = warm = 0.0
    for place, phase in enumerate(phases, start=1):
        current, lasts = phase.primary_current, inf if place == len(phases) else phase.duration
        square = current**2
        after = float(_after(device, current, warm))
        if after <= lasts and isfinite(after):
            return clock + after
        if fuse:
            warm += phase.duration / float(_middle(device, current))
        else:
            warm = square + (warm - square) * exp(-phase.duration / WARMING)
        clock += phase.duration
    return inf


def _magnetic(breaker: Device) -> float:
    """Return the current from which a breaker commonly opens at once [A]."""
    if breaker.type is Type.UL_489:
        return UL_489_MAGNETIC * breaker.rating
    points = points_of(breaker)
    return breaker.rating * sqrt(points.holds[-1, 0] * points.opens[-1, 0])


def _middle(fuse: Device, current: Number) -> Floats:
    points = points_of(fuse)
    holds, opens = points.holds[1:], points.opens
    currents, times = fuse.rating * np.sqrt(holds[:, 0] * opens[:, 0]), np.sqrt(holds[:, 1] * opens[:, 1])
    size = np.maximum(current, currents[0])
    along = np.exp(np.interp(np.log(size), np.log(currents), np.log(times)))
    found = np.where(size > currents[-1], AT_I2T * (currents[-1] / size) ** 2, along)
    return np.where(np.less(current, currents[0]), inf, found)


def typical_duty(device: Device, phases: Sequence[Phase]) -> Behaviour | None:
    """Say what a breaker commonly does under a cycle repeated for good; None of fuses, of which no figure is known.

    Parameters
    ----------
    device
        Breaker, or fuse.
    phases
        One cycle; the primary currents count.

    Notes
    -----
    Through each phase the image tau d(theta)/dt = I^2 - theta goes as theta + (I^2 - theta)(1 - exp(-t/tau)), straight
    in theta: so does the cycle, whose fixed point it settles into. It opens where the end of any phase reaches (k In)^2
    there: it opens, or holds, if both the slowest and the quickest common tau say so.
    """
    if device.type.is_fuse:
        return None
    if max(p.primary_current for p in phases) >= _magnetic(device):
        return Behaviour.OPENS
    reached = []
    for tau in WARMINGS:
        kept = exp(-sum(p.duration for p in phases) / tau)
        settled = _image(phases, tau, 0.0)[-1] / (1 - kept)
        reached.append(max(_image(phases, tau, settled)) >= (LASTING * device.rating) ** 2)
    return Behaviour.OPENS if all(reached) else Behaviour.MAY_OPEN if any(reached) else Behaviour.HOLDS


def _image(phases: Sequence[Phase], tau: float, theta: float) -> list[float]:
    """Return the thermal image after each phase [A^2]."""
    found = []
    for phase in phases:
        theta += (phase.primary_current**2 - theta) * -expm1(-phase.duration / tau)
        found.append(theta)
    return found
