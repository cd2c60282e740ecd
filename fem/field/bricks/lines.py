"""Graded lines of a tensor grid along one axis: through given points, fine at some of them, coarser away from all.

Between two given points the wanted cell size is h(x) = min over edges of (size + GROWTH |x - edge|), at most LARGEST of
the window's width near the windings; the integral of dx / h is the number of cells, rounded up, and lines stand where
it has grown by equal shares. So a length L costs some ln(L / size) / GROWTH cells.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fem.arrays import Floats

GROWTH, LARGEST = 0.8, 0.5
"""Growth of the cells with the distance from an edge; the largest within a window's width of any line that must be
there, over that width. Further from all of them fields are smooth, and cells grow on."""
SAME = 1e-9
"""Lines closer than this [m] are one."""


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


def graded(
    points: Sequence[float], edges: Sequence[Edge], near: tuple[float, float], width: float, resolution: float
) -> Floats:
    """Return lines through all points, as fine as asked at each edge, coarsening away from it.

    Parameters
    ----------
    points
        Where lines must be [m].
    edges
        Where cells must be small.
    near
        Between which coordinates the windings lie [m]; outside, cells grow with the distance.
    width
        Of the window [m].
    resolution
        Cells per length relative to the default [-].

    Returns
    -------
    Increasing coordinates (lines,) [m].
    """
    breaks = np.unique(np.round(np.asarray(points) / SAME).astype(np.int64)) * SAME
    finest = min(edge.size for edge in edges)
    lines = [breaks[:1]]
    for start, stop in pairwise(breaks):
        at = np.linspace(start, stop, 1 + max(200, int(np.ceil(2 * (stop - start) / finest))))
        alone = GROWTH * (np.minimum(at - start, stop - at) - width)
        away = np.maximum.reduce([near[0] - at, at - near[1], alone, np.zeros_like(at)])
        size = np.min([LARGEST * width + away, *(edge.size + GROWTH * np.abs(at - edge.at) for edge in edges)], axis=0)
        density = 1 / size
        count = np.concatenate(([0.0], np.cumsum((density[1:] + density[:-1]) / 2 * (at[1] - at[0]))))
        # One cell of air from a thick yoke to where it goes on for ever put 7 % on a saturated end part.
        least = 2 if start == breaks[0] < near[0] or stop == breaks[-1] > near[1] else 1
        # Rounding up from 0.3 only saves a quarter of the unknowns.
        number = max(least, int(np.ceil(resolution * count[-1] - 0.3)))
        lines.append(np.interp(np.arange(1, number + 1) / number * count[-1], count, at))
    return np.concatenate(lines)
