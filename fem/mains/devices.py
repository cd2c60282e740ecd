"""Overcurrent devices of the branch circuit: between which times each opens if a current stays."""

from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import inf

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from geometries.described.tables import table_rows


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
    type
        Circuit breaker by its curve, or fuse.
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
        most = 13.0 if self.type is Type.PLUG_FUSE else 125.0
        if not 0 < self.rating <= most:
            msg = f"rating must lie above 0 and up to {most:g} A for {self.type.value!r}, got {self.rating!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Curve:
    """Hold the time-current band of a device.

    Parameters
    ----------
    early, late
        (points, 2) multiples of the rating [-], rising, and the times [s] before which it does not open, by which it
        has opened.
    instant
        Multiples between which it may open at once, and from which it does [-]; None where there is no such band.
    """

    early: Floats
    late: Floats
    instant: tuple[float, float] | None


@cache
def curve(device: Device) -> Curve:
    """Return the points that the product standard gives for a device.

    Notes
    -----
    IEC 60898-1, table 7 (conventional currents 1.13 and 1.45, and 2.55 times the rating) and table 2 (instantaneous
    bands: B 3 to 5, C 5 to 10, D 10 to 20, r.m.s.); BS 1362 for fuses of plugs; UL 489 where only the rating is known.
    Each row of the tables beside this file names its source.
    """
    names = {Type.RATING_ONLY: ("UL",), Type.PLUG_FUSE: ("PLUG", *(("PLUG13",) if device.rating == 13 else ()))}
    early: dict[float, float] = {}
    late: dict[float, float] = {}
    for row in table_rows(__package__, "device_points.csv"):
        if row["device"] in names.get(device.type, ("IEC",)) and device.rating <= float(row["up_to_A"]):
            multiple = float(row["multiple"])
            # Rows stand by rising `up_to_A`: the first that covers the rating counts.
            if row["holds_s"]:
                early.setdefault(multiple, float(row["holds_s"]))
            if row["opens_s"]:
                late.setdefault(multiple, float(row["opens_s"]))
    instant = None
    for row in table_rows(__package__, "device_instant.csv"):
        if row["type"] == device.type.value:
            instant = (float(row["holds"]), float(row["opens"]))
            early[instant[0]] = 0.1
            late[instant[0]] = float(row["opens_up_to_32_s" if device.rating <= 32 else "opens_above_s"])
    return Curve(early=np.array(sorted(early.items())), late=np.array(sorted(late.items())), instant=instant)


def _along(points: Floats, multiple: Floats) -> Floats:
    """Return the time on the straight lines between points in a log-log plot; beyond the last at constant I^2 t."""
    known, seconds = points.T
    at = np.clip(np.searchsorted(known, multiple, side="right") - 1, 0, len(known) - 1)
    after = np.minimum(at + 1, len(known) - 1)
    beyond = seconds[-1] * (known[-1] / np.maximum(multiple, known[-1])) ** 2
    width = np.where(after > at, np.log(known[after] / known[at]), 1.0)
    share = np.log(np.maximum(multiple, known[at]) / known[at]) / width
    between = np.exp((1 - share) * np.log(seconds[at]) + share * np.log(seconds[after]))
    return np.asarray(np.where(multiple == known[at], seconds[at], np.where(after > at, between, beyond)))


def opening_times(device: Device, current: ArrayLike) -> tuple[Floats, Floats]:
    """Return between which times a device opens if a current stays, from cold.

    Parameters
    ----------
    device
        Its points are those of `curve`.
    current
        (...,) r.m.s. [A], >= 0.

    Returns
    -------
    earliest, latest
        (...,) [s]; infinite where it never does, or need not.

    Raises
    ------
    ValueError
        If a current is negative or not finite.

    Notes
    -----
    With m = I/In and the standard's points (m_k, t_k), both edges are

        ln t = ln t_k + (ln t_(k+1) - ln t_k) ln(m/m_k)/ln(m_(k+1)/m_k),   and beyond the last   I^2 t = const;

    both are choices of this model. Below its first point the early edge is infinite; within and above an
    instantaneous band it is 0, but for the foot of the band, where the standard still asks for 0.1 s. A device of which
    only the rating is known may open at once above it: nothing bounds it from below.
    """
    amperes = np.asarray(current, dtype=np.float64)
    fit = np.isfinite(amperes) & (amperes >= 0)
    if not fit.all():
        msg = f"current must not be negative, got {float(amperes.flat[int(np.argmin(fit))])!r}"
        raise ValueError(msg)
    # Rounded, so that 1.9 times 13 A over 13 A is the point at 1.9.
    multiple = np.round(amperes / device.rating, 9)
    known = curve(device)
    first, hold = known.early[0]
    # A lone point says only where doubt begins.
    alone = len(known.early) == 1
    earliest = np.where(multiple == first, hold, 0.0) if alone else _along(known.early, multiple)
    latest = _along(known.late, multiple)
    if known.instant is not None:
        foot, top = known.instant
        earliest, latest = np.where(multiple > foot, 0.0, earliest), np.where(multiple >= top, 0.1, latest)
    return np.where(multiple < first, inf, earliest), np.where(multiple < known.late[0, 0], inf, latest)
