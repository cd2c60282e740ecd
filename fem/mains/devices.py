"""Overcurrent devices of the branch circuit: between which times each opens if a current stays."""

from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import inf, isfinite

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from geometries.described.tables import table_rows


class Type(Enum):
    """Kind of overcurrent device."""

    B = "B"
    C = "C"
    D = "D"
    UL_489 = "UL 489"
    """Circuit breaker with one rated current and no letter."""
    BS_1362 = "BS 1362"
    """Cartridge fuse of a plug."""

    @property
    def standard(self) -> str:
        """The product standard whose points it keeps."""
        return "IEC 60898-1" if self in (Type.B, Type.C, Type.D) else self.value


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """Describe the device that guards the branch circuit or the plug.

    Parameters
    ----------
    type
        Circuit breaker by its curve or standard, or fuse.
    rating
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
        most = 13.0 if self.type is Type.BS_1362 else 125.0
        if not 0 < self.rating <= most:
            msg = f"rating must lie above 0 and up to {most:g} A for {self.type.value!r}, got {self.rating!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Points:
    """Hold the points that a standard fixes for a device.

    Parameters
    ----------
    holds
        (points, 2) multiples of the rating [-], rising, and the times [s] before which it does not open there.
    opens
        (points, 2) multiples, rising, and the times by which it has opened.
    """

    holds: Floats
    opens: Floats


@cache
def points_of(device: Device) -> Points:
    """Return the points that the product standard fixes for a device; each row of the table names its source."""
    names = {device.type.value, f"{device.type.value} {device.rating:g} A"}
    if device.type.standard == "IEC 60898-1":
        names.add("IEC")
    holds: dict[float, float] = {}
    opens: dict[float, float] = {}
    for row in table_rows(__package__, "device_points.csv"):
        if row["device"] in names and device.rating <= float(row["up_to_A"]):
            value = float(row["value"])
            multiple = _rounded(value / device.rating if row["unit"] == "A" else value)
            for found, seconds in ((holds, row["holds_s"]), (opens, row["opens_s"])):
                if seconds:
                    found.setdefault(multiple, float(seconds))
    return Points(holds=np.array(sorted(holds.items())), opens=np.array(sorted(opens.items())))


def _rounded(multiple: float) -> float:
    """Return a multiple to 9 places, so that 1.9 times 13 A over 13 A is the point at 1.9."""
    return round(multiple, 9)


def _steps(points: Points, multiple: Floats) -> tuple[Floats, Floats]:
    """Return the last time of the first point to hold at or above, the time of the last point to open at or below."""
    holds, opens = points.holds, points.opens
    above = np.searchsorted(holds[:, 0], multiple, side="left")
    below = np.searchsorted(opens[:, 0], multiple, side="right")
    return np.append(holds[:, 1], 0.0)[above], np.append(inf, opens[:, 1])[below]


def opening_times(device: Device, current: ArrayLike) -> tuple[Floats, Floats]:
    """Return between which times a device opens if a current stays, from cold: all that its standard guarantees.

    Parameters
    ----------
    device
        Its points are those of `points_of`.
    current
        (...,) r.m.s. [A], >= 0.

    Returns
    -------
    earliest, latest
        (...,) [s]; 0 where it may open at once, infinite where it never does, or need not.

    Raises
    ------
    ValueError
        If a current is negative or not finite.

    Notes
    -----
    A standard gives points, no curve. All that is added is that the time to open, T, does not rise with the current.
    With the points (m_k, h_k) to hold and (m_k, o_k) to open and m = I/In that leaves

        max {h_k : m_k >= m} <= T(m) <= min {o_k : m_k <= m},

    steps, and the widest band that the points allow: each function between them that does not rise is some device's.
    """
    amperes = np.asarray(current, dtype=np.float64)
    fit = np.isfinite(amperes) & (amperes >= 0)
    if not fit.all():
        msg = f"current must not be negative, got {float(amperes.flat[int(np.argmin(fit))])!r}"
        raise ValueError(msg)
    return _steps(points_of(device), np.round(amperes / device.rating, 9))


def deciding_points(device: Device, current: float) -> str:
    """Say which points of the standard the times at a current rest on.

    Raises
    ------
    ValueError
        If the current is negative or not finite.
    """
    earliest, latest = (float(t) for t in opening_times(device, current))
    points, multiple = points_of(device), _rounded(current / device.rating)
    said = []
    if earliest > 0:
        at = next(m for m, _ in points.holds if m >= multiple)
        said.append(f"holds {_seconds(earliest)} at {at:.4g} times")
    else:
        said.append(f"no least time above {points.holds[-1, 0]:.4g} times")
    if isfinite(latest):
        at = next(m for m, _ in points.opens[::-1] if m <= multiple)
        said.append(f"opens within {_seconds(latest)} at {at:.4g} times")
    elif isfinite(earliest):
        said.append(f"need not open below {points.opens[0, 0]:.4g} times")
    return f"{device.type.standard}: {', '.join(said)}"


def _seconds(time: float) -> str:
    """Write a point's time as standards do."""
    if not isfinite(time):
        return "for good"
    if time >= 1800:
        return f"{time / 3600:g} h"
    return f"{time:g} s"
