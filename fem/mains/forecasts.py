"""What an overcurrent device does at a current, at the first peak on switching on, under bursts repeated for good."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from itertools import groupby
from math import inf, isfinite, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats, not_negative
from fem.heat.phases import Carries, Phase, rms_current
from fem.mains.devices import Device, opening_times


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
        See `opening_times`.
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
    A device warms as a first-order thermal image, tau d(theta)/dt = I^2 - theta, and opens where theta reaches Ik^2.
    After a preload Ip that takes, IEC 60255-149 (hot curve),

        t = tau ln((I^2 - Ip^2)/(I^2 - Ik^2)) >= t_cold (1 - Ip^2/Ik^2),

    whatever tau and I > Ik: with x = Ik^2/I^2 and p = Ip^2/Ik^2 the ratio is 1 - ln(1 - p x)/ln(1 - x), and
    -ln(1 - x) is convex and 0 at 0. As Ik is at least the rating In, which is carried for good, the early edge is that
    from cold times 1 - (Ip/In)^2, 0 from Ip = In on. The late edge is left as from cold: a warm device opens no later.
    """
    if not duration > 0:
        msg = f"duration must be above 0, got {duration!r}"
        raise ValueError(msg)
    not_negative(preload=preload)
    amperes = np.asarray(current, dtype=np.float64)
    earliest, latest = opening_times(device, amperes)
    left = max(0.0, 1 - (preload / device.rating) ** 2)
    bounded = np.isfinite(earliest)
    earliest = np.where(bounded, np.where(bounded, earliest, 0.0) * left, inf)
    return Forecast(
        multiple=amperes / device.rating,
        earliest=earliest,
        latest=latest,
        may_open=(duration >= earliest) & np.isfinite(earliest),
        opens=(duration >= latest) & np.isfinite(latest),
    )


def forecast_burst(device: Device, phases: Sequence[Phase], *, preload: float = 0.0) -> Forecast:
    """Say what a device does in one burst whose current changes.

    Parameters
    ----------
    device
        See `opening_times`.
    phases
        One after the other, at least one; the primary currents count.
    preload
        R.m.s. current that has warmed the device up before [A], >= 0.

    Returns
    -------
    Forecast
        Of the largest current; times from the burst's beginning, as if its last phase went on.

    Raises
    ------
    ValueError
        If there is no phase or a number is out of range.

    Notes
    -----
    Of all devices that keep the points only monotony is known: more current at every moment opens it no later, and so
    does more warmth before. Up to t the current never passes its maximum M(t), so it opens not before the first t at
    which that of M(t) for good may have opened it; and where it stays at Ic or above for as long as Ic for good takes
    at most, it has opened by the end of that stretch. Of one phase both are the times of `forecast`.
    """
    if not phases:
        msg = "at least one phase is needed, got 0"
        raise ValueError(msg)
    currents = np.array([p.primary_current for p in phases])
    ends = np.cumsum([p.duration for p in phases])
    begin, last = np.r_[0.0, ends[:-1]], np.r_[ends[:-1], inf]
    reached = forecast(device, np.maximum.accumulate(currents), preload=preload)
    may = np.maximum(begin, reached.earliest)
    earliest = float(np.min(np.where(may <= last, may, inf)))
    latest = inf
    for level, most in zip(*(np.unique(currents), opening_times(device, np.unique(currents))[1]), strict=True):
        # where each stretch at this level or above begins and ends
        edges = np.flatnonzero(np.diff(np.r_[False, currents >= level, False].astype(int)))
        opened = begin[edges[::2]] + most
        latest = min(latest, float(np.min(np.where(opened <= last[edges[1::2] - 1], opened, inf))))
    return Forecast(
        multiple=currents.max() / device.rating,
        earliest=np.asarray(earliest),
        latest=np.asarray(latest),
        may_open=np.asarray(isfinite(earliest) and ends[-1] >= earliest),
        opens=np.asarray(isfinite(latest) and ends[-1] >= latest),
    )


def forecast_peak(device: Device, peak: ArrayLike) -> Forecast:
    """Say what a device does at the first peak after switching on.

    Parameters
    ----------
    device
        See `opening_times`.
    peak
        (...,) [A], >= 0.

    Returns
    -------
    Forecast
        MAY_OPEN where nothing guarantees 10 ms; never OPENS, as one half wave decides nothing. Times of the equivalent
        steady current.

    Raises
    ------
    ValueError
        If a peak is negative or not finite.

    Notes
    -----
    Points are r.m.s. values of a sine, so the peak is held against sqrt(2) times them, and one half wave, 10 ms,
    against the early edge. A half wave with a direct component is in no standard: a maker's own data decide.
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
    burst, forgotten
        Of the hardest burst, the device warmed up by the cycle, and from cold: its memory bounded both ways.
    """

    behaviour: Behaviour
    equivalent_current: float
    mean: Forecast
    burst: Forecast
    forgotten: Forecast


def forecast_duty(device: Device, phases: Sequence[Phase]) -> DutyForecast:
    """Say what a device does when a cycle of phases is repeated for good.

    Parameters
    ----------
    device
        See `opening_times`.
    phases
        One cycle, at least one phase; the primary currents count.

    Raises
    ------
    ValueError
        If there is no phase.

    Notes
    -----
    Of a burst and a pause any first-order image tau d(theta)/dt = I^2 - theta settles into a cycle whose mean is
    Ie^2 = sum(I^2 t)/sum(t), whatever its tau. It is coldest when the burst begins: at most Ie^2 warm, as a slow
    device that remembers the whole cycle, and at least cold, as a fast one that forgets it. Hence it holds for certain
    if Ie <= In and the burst is over before the early edge after a preload Ie; it opens for certain if Ie reaches the
    conventional current, as its hottest moment is above its mean, or if a burst from cold outlasts the late edge.
    Phases at the mean or above that follow each other are one burst, see `forecast_burst`, for which the same holds: an
    image above the mean all through the pause could not come below it in the burst. Of several bursts in a cycle each
    is held against the largest current as the preload.
    """
    if not phases:
        msg = "at least one phase is needed, got 0"
        raise ValueError(msg)
    order = list(Behaviour)
    equivalent = rms_current(phases, Carries.PRIMARY)
    mean = forecast(device, equivalent)
    bursts = _bursts(phases, equivalent)
    preload = equivalent if len(bursts) == 1 else max(p.primary_current for p in phases)
    found = [(forecast_burst(device, burst, preload=preload), burst) for burst in bursts]
    burst, hardest = max(found, key=lambda one: (order.index(one[0].behaviour), float(one[0].multiple)))
    return DutyForecast(
        behaviour=max((mean.behaviour, burst.behaviour), key=order.index),
        equivalent_current=equivalent,
        mean=mean,
        burst=burst,
        forgotten=forecast_burst(device, hardest),
    )


def _bursts(phases: Sequence[Phase], mean: float) -> list[list[Phase]]:
    """Return the stretches of a cycle at its mean or above, one that runs over its end together."""
    above = [p.primary_current >= mean * (1 - 1e-9) for p in phases]
    first = above.index(False) if False in above else 0
    turned = [*zip(above, phases, strict=True)]
    groups = groupby((*turned[first:], *turned[:first]), key=lambda one: one[0])
    return [[phase for _, phase in group] for high, group in groups if high]
