"""What an overcurrent device does at a current, at the first peak on switching on, under bursts repeated for good."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from math import inf, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats, not_negative
from fem.heat.phases import Carries, Phase, rms_current
from fem.mains.devices import Device, curve, opening_times


class Behaviour(Enum):
    """What a device does, from good to bad."""

    HOLDS = "holds"
    MAY_OPEN = "may open"
    OPENS = "opens"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Forecast:
    """Hold what a device does at one current, or at each of many.

    Parameters
    ----------
    multiple
        (...,) current over rating [-].
    earliest, latest
        (...,) between which times it opens if the current stays [s]; infinite where it need not.
    may_open, opens
        (...,) whether the band is reached, and passed, within the time that the current flows.
    """

    multiple: Floats
    earliest: Floats
    latest: Floats
    may_open: NDArray[np.bool_]
    opens: NDArray[np.bool_]

    @property
    def behaviour(self) -> Behaviour:
        """In a word, at one current."""
        return Behaviour.OPENS if self.opens else Behaviour.MAY_OPEN if self.may_open else Behaviour.HOLDS


def forecast(device: Device, current: ArrayLike, duration: float = inf, *, preload: float = 0.0) -> Forecast:
    """Say what a device does at a current that flows for a time.

    Parameters
    ----------
    device
        See `curve`.
    current
        (...,) r.m.s. [A], >= 0.
    duration
        [s], > 0; infinite for good.
    preload
        R.m.s. current that has warmed the device up before [A], >= 0.

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    A device warms as a first-order thermal image, tau d(theta)/dt = I^2 - theta, and its early edge is where theta
    reaches Ik^2. From a preload Ip that takes

        t = tau ln((I^2 - Ip^2)/(I^2 - Ik^2)),

    IEC 60255-149 (hot curve), with the tau that gives the early edge from cold and Ik = 1.13 times the rating (the
    rating itself where no more is known, 1.6 times for a plug fuse). The late edge is left as from cold.
    """
    if not duration > 0:
        msg = f"duration must be above 0, got {duration!r}"
        raise ValueError(msg)
    not_negative(preload=preload)
    amperes = np.asarray(current, dtype=np.float64)
    earliest, latest = opening_times(device, amperes)
    held = float(curve(device).early[0, 0]) * device.rating
    warm = min(preload, held)
    warmed = (earliest > 0) & np.isfinite(earliest) & (amperes > held) & (preload > 0)
    square = np.where(warmed, amperes, 2 * held) ** 2  # where nothing is warmed, any above
    left = np.log((square - warm**2) / (square - held**2)) / np.log(square / (square - held**2))
    earliest = np.where(warmed, 0.0, earliest) + np.where(warmed, earliest, 0.0) * left
    return Forecast(
        multiple=amperes / device.rating,
        earliest=earliest,
        latest=latest,
        may_open=(duration >= earliest) & np.isfinite(earliest),
        opens=(duration >= latest) & np.isfinite(latest),
    )


def forecast_peak(device: Device, peak: ArrayLike) -> Forecast:
    """Say what a device does at the first peak after switching on.

    Parameters
    ----------
    device
        See `curve`.
    peak
        (...,) [A], >= 0.

    Returns
    -------
    Forecast
        MAY_OPEN from the foot of the instantaneous band; never OPENS, as one half wave decides nothing. Times of the
        equivalent steady current.

    Raises
    ------
    ValueError
        If a peak is negative or not finite.

    Notes
    -----
    The bands are r.m.s. values of a sine, so the peak is held against sqrt(2) times them. Without an instantaneous band
    (fuse, rating only) one half wave is held against the early edge at 10 ms.
    """
    current = np.asarray(peak, dtype=np.float64) / sqrt(2)
    earliest, latest = opening_times(device, current)
    return Forecast(
        multiple=current / device.rating,
        earliest=earliest,
        latest=latest,
        may_open=earliest <= 0.01,
        opens=np.zeros(current.shape, dtype=np.bool_),
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class DutyForecast:
    """Hold what a device does under bursts repeated for good.

    Parameters
    ----------
    behaviour
        The worse of burst and mean.
    equivalent_current
        R.m.s. over the cycle [A].
    mean
        Of that current for good.
    burst
        Of the hardest phase, the device warmed up by the cycle.
    """

    behaviour: Behaviour
    equivalent_current: float
    mean: Forecast
    burst: Forecast


def forecast_duty(device: Device, phases: Sequence[Phase]) -> DutyForecast:
    """Say what a device does when a cycle of phases is repeated for good.

    Parameters
    ----------
    device
        See `curve`.
    phases
        One cycle, at least one phase; the primary currents count.

    Raises
    ------
    ValueError
        If there is no phase.

    Notes
    -----
    The thermal part of a device averages the square of the current, Ie^2 = sum(I^2 t)/sum(t), when the cycle is short
    against its own time constant, some minutes; each phase by itself is checked as a single burst after the preload Ie.
    Consecutive phases at nearly the same current should be given as one.
    """
    if not phases:
        msg = "at least one phase is needed, got 0"
        raise ValueError(msg)
    order = list(Behaviour)
    equivalent = rms_current(phases, Carries.PRIMARY)
    mean = forecast(device, equivalent)
    bursts = [forecast(device, p.primary_current, p.duration, preload=equivalent) for p in phases]
    burst = max(bursts, key=lambda f: (order.index(f.behaviour), float(f.multiple)))
    behaviour = max((mean.behaviour, burst.behaviour), key=order.index)
    return DutyForecast(behaviour=behaviour, equivalent_current=equivalent, mean=mean, burst=burst)
