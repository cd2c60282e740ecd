"""The points of a planar magnetisation curve: where they lie, and what refinement of the mesh makes of them.

Flux per turn and metre lambda(F) is known at the solved points with its slope in ln F, F times the incremental
permeance. Between two of them the cubic through both, values and slopes (Hermite's), has at the middle

    lambda = (lambda_1 + lambda_2) / 2 + (s_1 - s_2) ln(F_2 / F_1) / 8,    s = d lambda / d ln F,

where its error is largest: a solution there tells whether the interval will do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.field.static.error import relative_error, remaining_share
from fem.field.static.model import FieldModel, SolvedField, extrapolated
from fem.field.static.newton import FieldSolution, solve
from fem.field.static.quantities import both, flux_linkage_per_m, response_to

FIRST_POINTS = 14
"""Points of the curve to begin with; more go where a cubic between two of them is not good enough."""
CURVE_TOLERANCE = 3e-4
"""Relative error of the flux between solved points (below a fifth of the largest flux: of that fifth)."""
CHECK_TOLERANCE = 1e-6
"""Relative residual of solutions that only judge such a cubic."""
MOST_ROUNDS = 6
REFINE_EVERY = 3
"""Every so many of the curve's points are solved on the finer mesh too."""


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A point solved on the coarse mesh.

    Parameters
    ----------
    solution
        The field there.
    F
        Ampere-turns [A].
    flux, log_slope
        Flux per turn and metre, and its derivative with respect to ln F [Wb/m].
    response
        What a further ampere-turn adds to the field (size,) [Wb/(m A)].
    """

    solution: FieldSolution
    F: float
    flux: float
    log_slope: float
    response: Floats


def choose_points(model: FieldModel, winding: str, first: float, last: float) -> list[Node]:
    """Place points on the coarse mesh so that cubics between them meet the tolerance; return them rising.

    Each interval is judged at its middle by a solution, which then either confirms it or splits it. Walking down from
    the largest ampere-turns keeps every start on the safe side of Newton's method.

    Parameters
    ----------
    model, winding
        The section, and what is energised.
    first, last
        Ampere-turns at the curve's ends [A].

    Raises
    ------
    NotConverged
        If a field does not converge.
    """
    problem = model.coarse.problem

    def node(solution: FieldSolution) -> Node:
        F = solution.ampere_turns[winding]
        response = response_to(solution, winding)
        slope = problem.copies * float(problem.sources[winding] @ response)
        return Node(solution, F, flux_linkage_per_m(solution, winding), F * slope, response)

    falling: list[Node] = []
    sizes = np.geomspace(last, first, FIRST_POINTS)
    for k, F in enumerate(sizes):
        start = extrapolated(sizes[max(k - 2, 0) : k + 1], [n.solution.A for n in falling[-2:]])
        falling.append(node(solve(problem, {winding: float(F)}, start=start)))
    nodes = falling[::-1]
    open_intervals = set(range(len(nodes) - 1))
    for _ in range(MOST_ROUNDS):
        kept: list[Node] = []
        still_open: set[int] = set()
        for k, low in enumerate(nodes):
            kept.append(low)
            if k not in open_intervals:
                continue
            high = nodes[k + 1]
            at = {winding: (low.F * high.F) ** 0.5}
            start = _interpolated(nodes[max(k - 1, 0) : k + 3], at[winding])
            middle = solve(problem, at, start=start, tolerance=CHECK_TOLERANCE)
            flux = flux_linkage_per_m(middle, winding)
            step = np.log(high.F / low.F)
            cubic = 0.5 * (low.flux + high.flux) + step * (low.log_slope - high.log_slope) / 8
            if abs(flux - cubic) > CURVE_TOLERANCE * max(flux, 0.2 * nodes[-1].flux):
                still_open |= {len(kept) - 1, len(kept)}
                kept.append(node(solve(problem, at, start=middle.A)))
        nodes, open_intervals = kept, still_open
        if not open_intervals:
            break
    return nodes


def _interpolated(nodes: list[Node], F: float) -> Floats:
    """Return the field between solved ones, by the polynomial through them in the logarithm of the ampere-turns."""
    x = np.log([n.F for n in nodes])
    total = np.zeros_like(nodes[0].solution.A)
    for i, n in enumerate(nodes):
        others = np.delete(x, i)
        total += np.prod((np.log(F) - others) / (x[i] - others)) * n.solution.A
    return total


@dataclass(frozen=True, slots=True, eq=False)
class Refined:
    """What the finer mesh says at some of the points.

    Parameters
    ----------
    F
        Their ampere-turns, rising (n,) [A].
    ratio
        Flux over the coarse mesh's (n,) [-].
    error
        Largest estimated relative error that is left [-].
    numbers
        Which of the curve's points they are, rising.
    fields
        On both meshes.
    """

    F: Floats
    ratio: Floats
    error: float
    numbers: tuple[int, ...]
    fields: tuple[SolvedField, ...]


def refine(model: FieldModel, winding: str, nodes: list[Node]) -> Refined:
    """Solve some of the points on the finer mesh as well, falling.

    What refinement changes is a per mille or so and varies slowly along the curve: interpolated between these points it
    is known well within the error that is left. From one of them to the next it grows about as the flux does, which
    is how it is carried over for the start: points lie too far apart to extrapolate.
    """
    last = len(nodes) - 1
    numbers = sorted({*range(0, last, REFINE_EVERY), last})
    chosen = [nodes[k] for k in reversed(numbers)]
    solved: list[SolvedField] = []
    share: Floats | float = 0.0
    for n in chosen:
        on_fine = model.refine(n.solution.A)
        fine = solve(model.fine.problem, {winding: n.F}, start=on_fine + share * n.flux)
        solved.append(SolvedField(model=model, coarse=n.solution, fine=fine))
        share = (fine.A - on_fine) / n.flux
    rising = solved[::-1]
    pairs = [both(s, winding) for s in rising]
    return Refined(
        np.array([n.F for n in chosen[::-1]]),
        np.array([f / c for c, f in pairs]),
        max(float(relative_error(c, f, remaining_share(s))) for (c, f), s in zip(pairs, rising, strict=True)),
        tuple(numbers),
        tuple(rising),
    )
