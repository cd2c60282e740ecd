"""What the work piece's cells look up: properties against enthalpy, the skin effect's factor, where melting begins."""

from dataclasses import dataclass
from math import inf, isfinite, pi

import numpy as np

from fem.arrays import Floats
from fem.work.bodies import Bar, Surroundings, WorkPiece

STEFAN_BOLTZMANN = 5.670374419e-8
"""[W/(m^2 K^4)], exact in the SI of 2019."""

FACTOR_STEP = 0.02
FACTOR_POINTS = 2000


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Lookup:
    """Properties of one bar against enthalpy, straight between the points: value and slope by one search.

    Rows of `table`: enthalpy where a piece begins [J/m^3]; there and as slopes over the piece: temperature [K],
    resistivity [ohm m], thermal conductivity [W/(m K)], radiated and convected flux [W/m^2], saturation polarisation
    [T].
    """

    inner: Floats
    table: Floats

    def at(self, enthalpy: Floats) -> tuple[Floats, Floats]:
        """Return the properties and their slopes, (6, cells) each; beyond the ends the last straight lines go on."""
        found = self.table.take(self.inner.searchsorted(enthalpy, side="right"), axis=1)
        slopes = found[7:]
        return found[1:7] + slopes * (enthalpy - found[0]), slopes


def lookup(bar: Bar, surroundings: Surroundings) -> Lookup:
    """Tabulate a bar's properties and its losses to the surroundings at the points of its material."""
    material = bar.material
    t = material.temperature
    emissivity = bar.emissivity(t) if callable(bar.emissivity) else np.full_like(t, bar.emissivity)
    radiated = emissivity * STEFAN_BOLTZMANN * (t**4 - surroundings.temperature**4)
    convected = np.zeros_like(t)
    if surroundings.film is not None:
        film = surroundings.film(t, surroundings.temperature, bar.section.perimeter / pi)
        convected = film * (t - surroundings.temperature)
    values = np.stack(
        [t, material.resistivity, material.thermal_conductivity, radiated, convected, material.polarisation]
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
    """Cells of neighbouring bars alike but for their length, looked up together; `bar` is the first of them.

    Parameters
    ----------
    bar : Bar
    part : slice
        Their cells.
    lookup : Lookup
    factor : (2, points) array
        A.c. over d.c. resistance at multiples of `FACTOR_STEP` of half depth over skin depth, and its rise per unit of
        that from each to the next [-].
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
