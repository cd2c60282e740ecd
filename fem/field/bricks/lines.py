"""Graded lines of a tensor grid along one axis: through given points, fine at some of them, coarser away from all.

Between two given points the wanted cell size is h(x) = min over edges of (size + GROWTH |x - edge|), at most LARGEST of
the window's width near the windings; the integral of dx / h is the number of cells, rounded up, and lines stand where
it has grown by equal shares. So a length L costs some ln(L / size) / GROWTH cells.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats, Integers
from geometries.shapes.dual import gradients, number

GROWTH, LARGEST = 0.8, 0.5
"""Growth of the cells with the distance from an edge; the largest within a window's width of any line that must be
there, over that width. Further from all of them fields are smooth, and cells grow on."""
SAME = 1e-9
"""Lines closer than this [m] are one."""
_EQUAL = 1e-9
"""Derivatives of lengths by lengths nearer than this are the same."""


@dataclass(frozen=True, slots=True)
class Edge:
    """Where an edge lies [m], and the cell size wanted there [m]."""

    at: float
    size: float


MOST_EDGES = 10
"""Different edges of windings along one axis that all get a line of their own."""
APART = 1 / 14
"""Least distance of those lines where there are more, over the window's width."""


def edges_of_turns(points: Sequence[float], width: float) -> list[float]:
    """Return those edges of windings that get a line, all where they are few [m].

    Across the build a winding's T0 only bends at its edges, and is integrated with its bends wherever the lines lie
    (`sources`). So of many single conductors' edges some may do without; the potential between is a little poorer, as
    on any coarser grid. Along the leg T0 jumps, and every edge needs its line.

    Parameters
    ----------
    points
        Where the edges lie [m].
    width
        Of the window [m].
    """
    found = sorted({round(at / SAME): at for at in points}.values())
    if len(found) <= MOST_EDGES:
        return found
    kept = found[:1]
    for at in found[1:-1]:
        if at - kept[-1] >= APART * width and found[-1] - at >= APART * width:
            kept.append(at)
    return [*kept, found[-1]]


@dataclass(frozen=True, kw_only=True, slots=True)
class Wanted:
    """What the lines along an axis have to hold; lengths may carry derivatives (`Dual`).

    Parameters
    ----------
    fixed
        Where lines must be: faces of iron and the ends of the air [m].
    turns
        Where lines must be for the windings' sake [m].
    edges
        Where cells must be small.
    near
        Between which coordinates the windings lie [m]; outside, cells grow with the distance.
    width
        Of the window [m].
    """

    fixed: Sequence[float]
    turns: Sequence[float]
    edges: Sequence[Edge]
    near: tuple[float, float]
    width: float

    def lines(self, resolution: float) -> Floats:
        """Return lines through all points, as fine as asked at each edge, coarsening away from it.

        Parameters
        ----------
        resolution
            Cells per length relative to the default [-].

        Returns
        -------
        Increasing coordinates (lines,) [m].
        """
        breaks, _ = self._breaks()
        found = [breaks[:1]]
        for at, _, count, cells in self._pieces(breaks, resolution):
            found.append(np.interp(np.arange(1, cells + 1) / cells * count[-1], count, at))
        return np.concatenate(found)

    def slopes(self, resolution: float, size: int) -> Floats:
        """Return the derivatives of these lines by the inputs of the lengths (lines, size) [-].

        A line where iron and winding meet goes with the iron, one of several windings with their mean. NaN for inputs
        that would part two faces of iron in one place.

        Parameters
        ----------
        resolution
            As for `lines`.
        size
            Number of inputs.
        """
        breaks, which = self._breaks()
        moves = self._moves(which, size)
        found = [moves[:1]]
        for (at, density, count, cells), ends in zip(self._pieces(breaks, resolution), pairwise(moves), strict=True):
            share = (at - at[0]) / (at[-1] - at[0])
            d_at = np.outer(1 - share, ends[0]) + np.outer(share, ends[1])
            d_density = -(density**2)[:, None] * self._size_slopes(at, d_at)
            pieces = (d_density[1:] + d_density[:-1]) / 2 * (at[1] - at[0])
            pieces += np.outer((density[1:] + density[:-1]) / 2, d_at[1] - d_at[0])
            d_count = np.concatenate((np.zeros((1, size)), np.cumsum(pieces, axis=0)))
            # A line stands where the count is a given share of the whole: count(at) keeps that share.
            wanted = np.arange(1, cells) / cells
            k = np.searchsorted(count, wanted * count[-1]) - 1
            t = ((wanted * count[-1] - count[k]) / (count[k + 1] - count[k]))[:, None]
            missing = np.outer(wanted, d_count[-1]) - (1 - t) * d_count[k] - t * d_count[k + 1]
            slope = ((at[k + 1] - at[k]) / (count[k + 1] - count[k]))[:, None]
            found += [(1 - t) * d_at[k] + t * d_at[k + 1] + slope * missing, ends[1][None]]
        return np.concatenate(found)

    def _breaks(self) -> tuple[Floats, Integers]:
        """Return where lines must be [m], and which of them each point is."""
        points = np.array([number(at) for at in (*self.fixed, *self.turns)])
        places, which = np.unique(np.round(points / SAME).astype(np.int64), return_inverse=True)
        return np.asarray(places * SAME), np.asarray(which, dtype=np.int64)

    def _moves(self, which: Integers, size: int) -> Floats:
        """Return the derivatives of the places where lines must be."""
        iron, turns = gradients(self.fixed, size), gradients(self.turns, size)
        of_iron, of_turns = np.split(which, [len(iron)])
        moves = np.empty((which.max() + 1, size))
        for k, move in enumerate(moves):
            mine = iron[of_iron == k]
            move[:] = mine[0] if len(mine) else turns[of_turns == k].mean(axis=0)
            if len(mine):
                move[np.ptp(mine, axis=0) > _EQUAL] = np.nan
        return moves

    def _pieces(self, breaks: Floats, resolution: float) -> Iterator[tuple[Floats, Floats, Floats, int]]:
        """Yield points between two breaks, 1 / h there, its integral up to them, and the number of cells."""
        near, width = [number(end) for end in self.near], number(self.width)
        for start, stop in pairwise(breaks.tolist()):
            at = np.linspace(start, stop, 1 + self._steps(stop - start))
            alone = GROWTH * (np.minimum(at - start, stop - at) - width)
            away = np.maximum.reduce([near[0] - at, at - near[1], alone, np.zeros_like(at)])
            edges = (number(edge.size) + GROWTH * np.abs(at - number(edge.at)) for edge in self.edges)
            density = 1 / np.min([LARGEST * width + away, *edges], axis=0)
            count = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2 * (at[1] - at[0]))))
            # One cell of air from a thick yoke to where it goes on for ever put 7 % on a saturated end part.
            least = 2 if start == breaks[0] < near[0] or stop == breaks[-1] > near[1] else 1
            # Rounding up from 0.3 only saves a quarter of the unknowns.
            yield at, density, count, max(least, int(np.ceil(resolution * count[-1] - 0.3)))

    def _steps(self, length: float) -> int:
        """Return in how many steps 1 / h is integrated over a length [m]."""
        finest = min(number(edge.size) for edge in self.edges)
        return max(200, int(np.ceil(2 * length / finest)))

    def _size_slopes(self, at: Floats, d_at: Floats) -> Floats:
        """Return the derivatives of h at points that move themselves (n, size): those of the size that is least."""
        size, here = d_at.shape[1], np.arange(len(at))
        (low, high), width = [number(end) for end in self.near], number(self.width)
        d_low, d_high, d_width = gradients((*self.near, self.width), size)
        first = (at - at[0] < at[-1] - at)[:, None]
        away = [low - at, at - high, GROWTH * (np.minimum(at - at[0], at[-1] - at) - width), 0 * at]
        d_alone = GROWTH * (np.where(first, d_at - d_at[0], d_at[-1] - d_at) - d_width)
        d_away = np.stack([d_low - d_at, d_at - d_high, d_alone, 0 * d_at])[np.argmax(away, axis=0), here]
        places, sizes = (np.array([[number(v)] for v in values]) for values in zip(*self._told(), strict=True))
        d_places, d_sizes = (gradients(values, size) for values in zip(*self._told(), strict=True))
        edges = sizes + GROWTH * np.abs(at - places)
        least = np.argmin(edges, axis=0)
        side = np.sign(at - places[least, 0])[:, None]
        by_edge = d_sizes[least] + GROWTH * side * (d_at - d_places[least])
        far = LARGEST * width + np.max(away, axis=0) < edges[least, here]
        return np.asarray(np.where(far[:, None], LARGEST * d_width + d_away, by_edge))

    def _told(self) -> list[tuple[float, float]]:
        return [(edge.at, edge.size) for edge in self.edges]


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Which of a grid's lines a slab keeps, and where those lie that close it in, from the last kept one (0) on (1)."""

    kept: NDArray[np.bool_]
    below: Floats
    above: Floats

    @classmethod
    def to(cls, lines: Floats, first: float, last: float) -> Stretch:
        """Return how lines end at `first` and `last` [m], growing twofold beyond the given ones."""
        kept = (lines > first + SAME) & (lines < last - SAME)
        own = lines[kept]
        below, above = _doubling(own[0] - first, own[1] - own[0]), _doubling(last - own[-1], own[-1] - own[-2])
        return cls(kept, below[::-1], above)

    def of(self, lines: Floats, first: ArrayLike, last: ArrayLike) -> Floats:
        """Return the slab's lines, or what is linear in them such as their derivatives (lines, ...)."""
        own = lines[self.kept]
        below = first + np.multiply.outer(self.below, own[0] - first)
        return np.concatenate((own[0] + first - below, own, own[-1] + np.multiply.outer(self.above, last - own[-1])))


def _doubling(length: float, step: float) -> Floats:
    """Return where steps that grow twofold from about `step` end, as shares of a length (steps,) [-]."""
    ends = 2.0 ** np.arange(1, 1 + max(1, int(np.ceil(np.log2(length / (2 * step) + 1))))) - 1
    return np.asarray(ends / ends[-1])


def without_end(lines: Floats, *, mirrored: bool = False) -> Floats:
    """Return lines with a cell that goes on for ever at their ends, or at the upper one of a mirrored half.

    Of what is linear in lines, such as their derivatives (lines, ...), likewise.
    """
    middle = 0.0 * lines[0] if mirrored else (lines[0] + lines[-1]) / 2
    found = np.concatenate((lines, [2 * lines[-1] - middle]))
    return found if mirrored else np.concatenate(([2 * lines[0] - middle], found))
