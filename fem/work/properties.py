"""What the work piece's cells look up: properties against enthalpy, the skin effect's factor, where melting begins."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from math import ceil, inf, isfinite, pi
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.constants import STEFAN_BOLTZMANN
from fem.work.bodies import Bar, Surroundings
from fem.work.rows import Rowwise, spread
from fem.work.sections import RoundSection, StripSection

FACTOR_STEP, FACTOR_POINTS = 0.02, 2000
"""Where the a.c. factor is tabulated, in half depths over skin depth [-]."""
_MOST_BUCKETS = 1 << 15


class Columns(NamedTuple):
    """What is looked up for cells: values, or slopes to the volumetric enthalpy h [J/m^3].

    Parameters
    ----------
    temperature
        (..., cells) [K].
    resistivity
        (..., cells) [ohm m].
    thermal_conductivity
        (..., cells) [W/(m K)].
    radiated, convected
        (..., cells) flux from the surface [W/m^2].
    polarisation
        (..., cells) saturation polarisation [T].
    """

    temperature: Floats
    resistivity: Floats
    thermal_conductivity: Floats
    radiated: Floats
    convected: Floats
    polarisation: Floats


_COUNT = len(Columns._fields)


class Lookups(Rowwise):
    """Properties of all cells of m members against volumetric enthalpy, straight between the points.

    Parameters
    ----------
    bars
        (m, bars) of each member.
    surroundings
        (m,).
    counts
        (bars,) of cells.

    Notes
    -----
    A column of the table holds the enthalpy where a straight piece begins, `Columns` there and their slopes. Equal
    buckets of enthalpy say which piece begins or goes on in each: so fine that hardly one holds two beginnings.
    """

    ROWS = ("_lowest", "_scale", "_last", "_offset", "steepest")

    def __init__(
        self, bars: Sequence[Sequence[Bar]], surroundings: Sequence[Surroundings], counts: Sequence[int]
    ) -> None:
        tables: list[Floats] = []
        buckets: list[NDArray[np.int64]] = []
        known: dict[object, tuple[float, float, int, int, float]] = {}
        pieces = places = self._passes = 0
        rows = []
        for chain, around in zip(bars, surroundings, strict=True):
            row = []
            for bar in chain:
                key = (id(bar.material), bar.section, bar.emissivity, around.temperature, around.film)
                if key not in known:
                    table = _table(bar, around)
                    starts = table[:, 0]
                    span = float(bar.material.enthalpy[-1]) - starts[0]
                    count = min(ceil(span / float(np.diff(bar.material.enthalpy).min())) + 1, _MOST_BUCKETS)
                    edges = starts[0] + span / count * np.arange(count)
                    first = starts[1:].searchsorted(edges, side="right")
                    self._passes = max(self._passes, int(np.diff(first, append=starts.size - 1).max()))
                    known[key] = (
                        float(starts[0]),
                        count / span,
                        count - 1,
                        places,
                        float(table[:, 1 + _COUNT].max()),
                    )
                    # after the last piece of one table none of it begins
                    tables.append(table)
                    buckets.append(pieces + first)
                    pieces += len(table)
                    places += count
                row.append(known[key])
            rows.append(row)
        self._columns, self._bucket = np.ascontiguousarray(np.vstack(tables).T), np.concatenate(buckets)
        ends = np.cumsum([len(table) for table in tables]) - 1
        self._next = np.append(self._columns[0, 1:], inf)
        self._next[ends] = inf
        of = np.array(rows, dtype=np.float64)
        self._lowest, self._scale, last, offset, self.steepest = (spread(of[..., k], counts) for k in range(5))
        self._last, self._offset = last.astype(np.int64), offset.astype(np.int64)

    def at(self, enthalpy: Floats) -> tuple[Columns, Columns]:
        """Return values and slopes, (m, cells) each; beyond the ends the last lines go on."""
        bucket = ((enthalpy - self._lowest) * self._scale).astype(np.int64)
        at = self._bucket.take(np.minimum(np.maximum(bucket, 0), self._last) + self._offset)
        for _ in range(self._passes):
            at += enthalpy >= self._next.take(at)
        found = self._columns.take(at, axis=1)
        slopes = found[1 + _COUNT :]
        values = found[1 : 1 + _COUNT] + slopes * (enthalpy - found[0])
        return Columns(*values), Columns(*slopes)


def _table(bar: Bar, surroundings: Surroundings) -> Floats:
    """Return the enthalpy where each straight piece begins, `Columns` there and their slopes, (pieces, 13).

    Notes
    -----
    Radiated: eps(T) sigma (T^4 - Ta^4), a small body in a large room. Convected: alpha(T) (T - Ta).
    """
    material = bar.material
    t = material.temperature
    emissivity = bar.emissivity(t) if callable(bar.emissivity) else np.full_like(t, bar.emissivity)
    convected = np.zeros_like(t)
    if surroundings.film is not None:
        film = surroundings.film(t, surroundings.temperature, bar.section.perimeter / pi)
        convected = film * (t - surroundings.temperature)
    values = np.stack(
        Columns(
            temperature=t,
            resistivity=material.resistivity,
            thermal_conductivity=material.thermal_conductivity,
            radiated=emissivity * STEFAN_BOLTZMANN * (t**4 - surroundings.temperature**4),
            convected=convected,
            polarisation=material.polarisation,
        )
    )
    slopes = np.diff(values) / np.diff(material.enthalpy)
    return np.ascontiguousarray(np.vstack([material.enthalpy[:-1], values[:, :-1], slopes]).T)


def melting_enthalpies(bar: Bar) -> tuple[float, float]:
    """Return the enthalpies at which melting begins and ends [J/m^3], infinite where the bar does not melt."""
    material = bar.material
    if not isfinite(material.solidus):
        return inf, inf
    first = int(np.searchsorted(material.temperature, material.solidus, side="left"))
    last = int(np.searchsorted(material.temperature, material.liquidus, side="right")) - 1
    return float(material.enthalpy[first]), float(material.enthalpy[last])


@cache
def factors() -> Floats:
    """Return a.c. over d.c. resistance of round sections, then of strips, and its rise to the next, (2 points, 2) [-].

    At multiples of `FACTOR_STEP` of half depth over skin depth; the rise per unit of that.
    """
    found = []
    for section in (RoundSection(diameter=1.0), StripSection(width=1.0, thickness=1.0)):
        factor = section.ac_factor(FACTOR_STEP * np.arange(FACTOR_POINTS))
        found.append(np.column_stack([factor, np.diff(factor, append=2 * factor[-1] - factor[-2]) / FACTOR_STEP]))
    return np.concatenate(found)
