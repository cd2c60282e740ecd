"""Overcurrent devices of the branch circuit: which currents they hold, which open them, and after how long."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from functools import cache
from itertools import pairwise
from math import exp, inf, isfinite, log, sqrt

from fem.heat.network import Carries, Phase, rms_current
from geometries.described.tables import table_rows

LOCAL_CODE = (
    "Bands of the product standards, at their reference temperature. Local electrical code and licensed practice "
    "decide which device, cable and socket may feed this machine."
)
"""What to say beside every forecast."""

CARRIES_FOR_GOOD = 1.13
"""Multiple of the rating that an IEC device never opens at: IEC 60898-1, table 7."""


class Behaviour(Enum):
    """What a device does."""

    HOLDS = "holds"
    MAY_OPEN = "may open"
    OPENS = "opens"


class Type(Enum):
    """Kind of overcurrent device."""

    B = "B"
    C = "C"
    D = "D"
    RATING_ONLY = "rating only"
    """Nothing but the rated current is known: the points of UL 489, no instantaneous band."""
    PLUG_FUSE = "plug fuse"
    """Cartridge fuse of a plug, BS 1362."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """Describe the device that guards the branch circuit or the plug.

    Parameters
    ----------
    type : Type
    rating : float
        [A], up to 125; plug fuses up to 13.

    Raises
    ------
    ValueError
        If the rating is out of range.
    """

    type: Type
    rating: float

    def __post_init__(self) -> None:
        """Refuse ratings that no such device has."""
        most = 13.0 if self.type is Type.PLUG_FUSE else 125.0
        if not 0 < self.rating <= most:
            msg = f"rating must lie above 0 and up to {most:g} A for {self.type.value!r}, got {self.rating!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True)
class Forecast:
    """Hold what a device does at one current.

    Parameters
    ----------
    behaviour : Behaviour
        Within the time the current is to flow.
    multiple : float
        Current over rating [-].
    earliest, latest : float
        Between which times it opens if the current stays [s]; infinite where it need not.
    """

    behaviour: Behaviour
    multiple: float
    earliest: float
    latest: float


@dataclass(frozen=True, kw_only=True, slots=True)
class _Band:
    """Points (multiple, seconds) of the two edges; instantaneous band as (holds, opens) or None."""

    early: tuple[tuple[float, float], ...]
    late: tuple[tuple[float, float], ...]
    instant: tuple[float, float] | None


@cache
def _band(device: Device) -> _Band:
    names = {Type.RATING_ONLY: ("UL",), Type.PLUG_FUSE: ("PLUG", *(("PLUG13",) if device.rating == 13 else ()))}
    early: dict[float, float] = {}
    late: dict[float, float] = {}
    for row in table_rows(__package__, "breaker_points.csv"):
        if row["device"] in names.get(device.type, ("IEC",)) and device.rating <= float(row["up_to_A"]):
            multiple = float(row["multiple"])
            # Rows stand by rising `up_to_A`: the first that covers the rating counts.
            if row["holds_s"]:
                early.setdefault(multiple, float(row["holds_s"]))
            if row["opens_s"]:
                late.setdefault(multiple, float(row["opens_s"]))
    instant = None
    for row in table_rows(__package__, "breaker_instant.csv"):
        if row["type"] == device.type.value:
            instant = (float(row["holds"]), float(row["opens"]))
            early[instant[0]] = 0.1
            late[instant[0]] = float(row["opens_up_to_32_s" if device.rating <= 32 else "opens_above_s"])
    return _Band(early=tuple(sorted(early.items())), late=tuple(sorted(late.items())), instant=instant)


def _between(points: tuple[tuple[float, float], ...], multiple: float) -> float:
    """Return a time on the straight line between two points in a log-log plot; beyond the last at constant I^2 t."""
    if multiple in (known := dict(points)):
        return known[multiple]
    last, seconds = points[-1]
    if multiple >= last:
        return seconds * (last / multiple) ** 2
    (low, t_low), (high, t_high) = next((a, b) for a, b in pairwise(points) if multiple < b[0])
    share = log(multiple / low) / log(high / low)
    return exp((1 - share) * log(t_low) + share * log(t_high))


def opening_times(device: Device, current: float) -> tuple[float, float]:
    """Return between which times a device opens if a current stays, from cold.

    Parameters
    ----------
    device : Device
    current : float
        R.m.s. [A], >= 0.

    Returns
    -------
    earliest, latest : float
        [s]; infinite where it never does, or need not.

    Raises
    ------
    ValueError
        If the current is negative or not finite.

    Notes
    -----
    The standards give points; between them a straight line in log-log scales, and beyond the last constant I^2 t, are
    choices of this model. Below its first point the early edge is infinite; within and above an instantaneous band it
    is 0. A device of which only the rating is known may open at once above it: nothing bounds it from below.
    """
    if not (isfinite(current) and current >= 0):
        msg = f"current must not be negative, got {current!r}"
        raise ValueError(msg)
    # Rounded, so that 1.9 times 13 A over 13 A is the point at 1.9.
    multiple = round(current / device.rating, 9)
    band = _band(device)
    first, hold = band.early[0]
    if multiple < first or (multiple == first and hold == inf):
        earliest = inf
    elif (band.instant and multiple >= band.instant[0]) or len(band.early) == 1:
        # At the foot of the band itself the standard still asks for 0.1 s; a lone point says only where doubt begins.
        foot = band.instant is not None and multiple == band.instant[0]
        earliest = 0.1 if foot else (hold if multiple == first else 0.0)
    else:
        earliest = _between(band.early, multiple)
    if multiple < band.late[0][0]:
        latest = inf
    elif band.instant and multiple >= band.instant[1]:
        latest = 0.1
    else:
        latest = _between(band.late, multiple)
    return earliest, latest


def forecast(device: Device, current: float, duration: float = inf, *, preload: float = 0.0) -> Forecast:
    """Say what a device does at a current that flows for a time.

    Parameters
    ----------
    device : Device
    current : float
        R.m.s. [A], >= 0.
    duration : float
        [s], > 0; infinite for good.
    preload : float
        R.m.s. current that has warmed the device up before [A], >= 0.

    Returns
    -------
    Forecast

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    After a preload the early edge comes sooner: t = tau ln((I^2 - Ip^2)/(I^2 - Ik^2)) as in IEC 60255-149 (from
    memory), with the tau that gives the early edge from cold and Ik = 1.13 times the rating (the rating itself, 1.6
    times for a plug fuse). The late edge is left as from cold.
    """
    if not duration > 0:
        msg = f"duration must be above 0, got {duration!r}"
        raise ValueError(msg)
    if not (isfinite(preload) and preload >= 0):
        msg = f"preload must not be negative, got {preload!r}"
        raise ValueError(msg)
    earliest, latest = opening_times(device, current)
    held = _band(device).early[0][0] * device.rating
    if 0 < earliest < inf and current > held and preload > 0:
        warm = min(preload, held)
        cold = log(current**2 / (current**2 - held**2))
        earliest *= log((current**2 - warm**2) / (current**2 - held**2)) / cold
    if duration >= latest and latest < inf:
        behaviour = Behaviour.OPENS
    elif duration >= earliest and earliest < inf:
        behaviour = Behaviour.MAY_OPEN
    else:
        behaviour = Behaviour.HOLDS
    return Forecast(behaviour=behaviour, multiple=current / device.rating, earliest=earliest, latest=latest)


def forecast_peak(device: Device, peak: float) -> Forecast:
    """Say what a device does at the first peak after switching on.

    Parameters
    ----------
    device : Device
    peak : float
        [A], >= 0.

    Returns
    -------
    Forecast
        MAY_OPEN from the foot of the instantaneous band; never OPENS, as one half wave decides nothing. Times of the
        equivalent steady current.

    Raises
    ------
    ValueError
        If the peak is negative or not finite.

    Notes
    -----
    The bands are r.m.s. values of a sine, so the peak is held against sqrt(2) times them. Without an instantaneous band
    (fuse, rating only) one half wave is held against the early edge at 10 ms.
    """
    if not (isfinite(peak) and peak >= 0):
        msg = f"peak must not be negative, got {peak!r}"
        raise ValueError(msg)
    current = peak / sqrt(2)
    earliest, latest = opening_times(device, current)
    may = earliest <= 0.01
    return Forecast(
        behaviour=Behaviour.MAY_OPEN if may else Behaviour.HOLDS,
        multiple=current / device.rating,
        earliest=earliest,
        latest=latest,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class DutyForecast:
    """Hold what a device does under bursts repeated for good.

    Parameters
    ----------
    behaviour : Behaviour
        The worse of burst and mean.
    equivalent_current : float
        R.m.s. over the cycle [A].
    mean : Forecast
        Of that current for good.
    burst : Forecast
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
    device : Device
    phases : sequence of Phase
        One cycle, at least one phase; the primary currents count.

    Returns
    -------
    DutyForecast

    Raises
    ------
    ValueError
        If there is no phase.

    Notes
    -----
    The thermal part of a device averages the square of the current when the cycle is short against its own time
    constant, some minutes; each phase by itself is checked as a single burst after that preload. Consecutive phases at
    nearly the same current should be given as one.
    """
    if not phases:
        msg = "at least one phase is needed, got 0"
        raise ValueError(msg)
    order = list(Behaviour)
    equivalent = rms_current(phases, Carries.PRIMARY)
    mean = forecast(device, equivalent)
    bursts = [forecast(device, p.primary_current, p.duration, preload=equivalent) for p in phases]
    burst = max(bursts, key=lambda f: (order.index(f.behaviour), f.multiple))
    behaviour = max((mean.behaviour, burst.behaviour), key=order.index)
    return DutyForecast(behaviour=behaviour, equivalent_current=equivalent, mean=mean, burst=burst)
