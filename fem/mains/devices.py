"""Overcurrent devices of the branch circuit: between which times each opens if a current stays."""

from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import inf, isfinite, sqrt
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Integers, Number
from fem.digits import duration
from geometries.described.tables import table_rows

AT_I2T = 0.01
"""Time [s] at which the I^2 t of gG fuses is printed: IEC 60269-1, table 7."""


class Type(Enum):
    """Kind of overcurrent device."""

    B = "B"
    C = "C"
    D = "D"
    UL_489 = "UL 489"
    """Circuit breaker with one rated current and no letter."""
    GG = "gG"
    """Fuse for cables and general use, full range."""
    BS_1362 = "BS 1362"
    """Cartridge fuse of a plug."""

    @property
    def standard(self) -> str:
        """The product standard whose points it keeps."""
        return {"B": "IEC 60898-1", "C": "IEC 60898-1", "D": "IEC 60898-1", "gG": "IEC 60269"}.get(
            self.value, self.value
        )

    @property
    def is_fuse(self) -> bool:
        """Whether it melts: blown, it is replaced."""
        return self in (Type.GG, Type.BS_1362)


@cache
def _gates() -> dict[float, dict[str, float]]:
    """Return the rows of the table of gG fuses by rating [A]."""
    rows = table_rows(__package__, "fuse_gates.csv")
    return {float(row["rating_A"]): {k: float(v) for k, v in row.items() if k != "source"} for row in rows}


@dataclass(frozen=True, kw_only=True, slots=True)
class Device:
    """Describe the device that guards the branch circuit or the plug.

    Parameters
    ----------
    type
        Circuit breaker by its curve or standard, or fuse.
    rating
        [A], up to 125; plug fuses up to 13, gG fuses those of which the gates are known.

    Raises
    ------
    ValueError
        If the rating is out of range.
    """

    type: Type
    rating: float

    def __post_init__(self) -> None:
        """Refuse ratings that no such device has."""
        if self.type is Type.GG and self.rating not in _gates():
            known = ", ".join(f"{rating:g}" for rating in _gates())
            msg = f"gG fuses are known of {known} A, got {self.rating!r}"
            raise ValueError(msg)
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
    least_i2t, most_i2t
        Of what is faster than 0.01 s: pre-arcing I^2 t not below, operating I^2 t not above [A^2 s]; none where the
        standard has none.
    """

    holds: Floats
    opens: Floats
    least_i2t: float = 0.0
    most_i2t: float = inf


@cache
def points_of(device: Device) -> Points:
    """Return the points that the product standard fixes for a device; each row of the table names its source."""
    if device.type is Type.GG:
        return _gate_points(device.rating)
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


def _gate_points(rating: float) -> Points:
    gate = _gates()[rating]
    hours, fast = 3600 * gate["conventional_h"], AT_I2T
    holds = {
        1.0: inf,
        gate["Inf"]: hours,
        gate["Imin10_A"] / rating: 10.0,
        gate["Imin01_A"] / rating: 0.1,
        sqrt(gate["I2t_least_A2s"] / fast) / rating: fast,
    }
    opens = {
        gate["If"]: hours,
        gate["Imax5_A"] / rating: 5.0,
        gate["Imax01_A"] / rating: 0.1,
        sqrt(gate["I2t_most_A2s"] / fast) / rating: fast,
    }
    return Points(
        holds=np.array([(_rounded(m), t) for m, t in holds.items()]),
        opens=np.array([(_rounded(m), t) for m, t in opens.items()]),
        least_i2t=gate["I2t_least_A2s"],
        most_i2t=gate["I2t_most_A2s"],
    )


def _rounded(multiple: float) -> float:
    """Return a multiple to 9 places, so that 1.9 times 13 A over 13 A is the point at 1.9."""
    return round(multiple, 9)


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
    A gG fuse that is faster than 0.01 s melts with no heat escaping, at constant I^2 t: its times go on as
    least I^2 t/I^2 and most I^2 t/I^2 (IEC 60269-1, table 7), whose corridor meets the steps at 0.01 s.
    """
    amperes = np.asarray(current, dtype=np.float64)
    fit = np.isfinite(amperes) & (amperes >= 0)
    if not fit.all():
        msg = f"current must not be negative, got {float(amperes.flat[int(np.argmin(fit))])!r}"
        raise ValueError(msg)
    points, (above, below) = points_of(device), _steps(device, amperes)
    earliest, latest = np.append(points.holds[:, 1], 0.0)[above], np.append(inf, points.opens[:, 1])[below]
    if isfinite(points.most_i2t):
        square = np.maximum(amperes, device.rating) ** 2
        earliest = np.where(above == len(points.holds), points.least_i2t / square, earliest)
        latest = np.where(below == len(points.opens), points.most_i2t / square, latest)
    return earliest, latest


def _steps(device: Device, current: Floats) -> tuple[Integers, Integers]:
    """Return how many points to hold lie below a current, and how many to open up to it, (...,)."""
    points, multiple = points_of(device), np.round(current / device.rating, 9)
    above = np.searchsorted(points.holds[:, 0], multiple, side="left")
    return np.asarray(above), np.asarray(np.searchsorted(points.opens[:, 0], multiple, side="right"))


def deciding_points(device: Device, current: Number) -> Any:
    """Say which points of the standard the times at a current, (...,) [A], rest on, (...,)."""
    above, below = _steps(device, np.asarray(current, dtype=np.float64))
    if not above.ndim:
        return _said(device, int(above), int(below))
    kinds, places = np.unique(np.stack([above, below]), axis=1, return_inverse=True)
    texts = [_said(device, *kind) for kind in kinds.T.tolist()]
    return np.array(texts, dtype=object)[places.ravel()]


@cache
def _said(device: Device, above: int, below: int) -> str:
    """Say the points of one of the steps that `_steps` tells."""
    points = points_of(device)
    holds, opens = points.holds, points.opens
    said, stays = [], False
    if above < len(holds):
        at, time = holds[above]
        stays = not isfinite(time)
        said.append(f"holds {_lasting(time)} at {at:.4g} times")
    elif points.least_i2t:
        said.append(f"I2t not below {points.least_i2t:g} A2s")
    else:
        said.append(f"no least time above {holds[-1, 0]:.4g} times")
    if isfinite(points.most_i2t) and below == len(opens):
        said.append(f"I2t not above {points.most_i2t:g} A2s")
    elif below:
        at, time = opens[below - 1]
        said.append(f"opens within {_lasting(time)} at {at:.4g} times")
    elif not stays:
        said.append(f"need not open below {opens[0, 0]:.4g} times")
    return f"{device.type.standard}: {', '.join(said)}"


def _lasting(time: float) -> str:
    return duration(time) if isfinite(time) else "for good"
