"""What the work piece's cells look up: properties against enthalpy, the skin effect's factor, where melting begins."""

from dataclasses import dataclass
from math import inf, isfinite, pi
from typing import NamedTuple

import numpy as np

from fem.arrays import Floats
from fem.constants import STEFAN_BOLTZMANN
from fem.work.bodies import Bar, Surroundings
from fem.work.chain import WorkPiece

FACTOR_STEP, FACTOR_POINTS = 0.02, 2000
"""Where the a.c. factor is tabulated, in half depths over skin depth [-]."""


class Columns(NamedTuple):
    """What is looked up for cells: values, or slopes to the volumetric enthalpy h [J/m^3].

    Parameters
    ----------
    temperature
        (cells,) [K].
    resistivity
        (cells,) [ohm m].
    thermal_conductivity
        (cells,) [W/(m K)].
    radiated, convected
        (cells,) flux from the surface [W/m^2].
    polarisation
        (cells,) saturation polarisation [T].
    """

    temperature: Floats
    resistivity: Floats
    thermal_conductivity: Floats
    radiated: Floats
    convected: Floats
    polarisation: Floats


_COUNT = len(Columns._fields)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lookup:
    """Properties of one bar against volumetric enthalpy, straight between the points: value and slope by one search.

    Parameters
    ----------
    inner
        (pieces - 1,) enthalpies where one straight piece ends and the next begins [J/m^3].
    table
        (13, pieces), so that one search takes all: enthalpy where a piece begins, `Columns` there and their slopes.
    """

    inner: Floats
    table: Floats

    def at(self, enthalpy: Floats) -> tuple[Floats, Floats]:
        """Return values and slopes in the order of `Columns`, (6, cells) each; beyond the ends the last lines go on."""
        found = self.table.take(self.inner.searchsorted(enthalpy, side="right"), axis=1)
        slopes = found[1 + _COUNT :]
        return found[1 : 1 + _COUNT] + slopes * (enthalpy - found[0]), slopes

    @property
    def slopes(self) -> Columns:
        """Slopes over each piece."""
        return Columns(*self.table[1 + _COUNT :])


def lookup(bar: Bar, surroundings: Surroundings) -> Lookup:
    """Tabulate a bar's properties and its losses to the surroundings at the points of its material.

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
    return Lookup(
        inner=material.enthalpy[1:-1].copy(), table=np.vstack([material.enthalpy[:-1], values[:, :-1], slopes])
    )


def melting_enthalpies(bar: Bar) -> tuple[float, float]:
    """Return the enthalpies at which melting begins and ends [J/m^3], infinite where the bar does not melt."""
    material = bar.material
    if not isfinite(material.solidus):
        return inf, inf
    first = int(np.searchsorted(material.temperature, material.solidus, side="left"))
    last = int(np.searchsorted(material.temperature, material.liquidus, side="right")) - 1
    return float(material.enthalpy[first]), float(material.enthalpy[last])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Stretch:
    """Cells of neighbouring bars alike but for their length, looked up together.

    Parameters
    ----------
    bar
        The first of them.
    part
        Their cells.
    lookup
        Properties and losses of all of them.
    factor
        (2, points) a.c. over d.c. resistance at multiples of `FACTOR_STEP` of half depth over skin depth, and its rise
        per unit of that from each to the next [-].
    """

    bar: Bar
    part: slice
    lookup: Lookup
    factor: Floats


def stretches(piece: WorkPiece, slices: list[slice]) -> list[Stretch]:
    """Return the cells by what they are made of, the bars' cells given."""
    groups: list[tuple[Bar, slice]] = []
    for bar, cells in zip(piece.bars, slices, strict=True):
        if groups and _alike(groups[-1][0], bar):
            first, so_far = groups.pop()
            groups.append((first, slice(so_far.start, cells.stop)))
        else:
            groups.append((bar, cells))
    found = []
    for bar, cells in groups:
        factor = bar.section.ac_factor(FACTOR_STEP * np.arange(FACTOR_POINTS))
        rise = np.diff(factor) / FACTOR_STEP
        known = lookup(bar, piece.surroundings)
        found.append(Stretch(bar=bar, part=cells, lookup=known, factor=np.vstack([factor[:-1], rise])))
    return found


def _alike(bar: Bar, other: Bar) -> bool:
    return bar.material is other.material and (bar.section, bar.emissivity) == (other.section, other.emissivity)
