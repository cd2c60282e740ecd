"""The planar part of a magnetisation curve: all that needs a nonlinear field, per metre of depth.

It is a function of the section and its sheet alone, so it is kept for cores that differ only in their stack, in what is
at their end faces or in how many of them stand behind each other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import PchipInterpolator

from fem.arrays import Floats
from fem.characteristics.magnetising.joint_drop import joint_ampere_turns
from fem.field.static.error import relative_error, remaining_share
from fem.field.static.model import FieldModel, SolvedField, extrapolated
from fem.field.static.newton import FieldSolution, solve
from fem.field.static.quantities import (
    both,
    cut_fluxes_per_m,
    flux_density,
    flux_linkage_per_m,
    incremental_linkages_per_m,
    quadrature_areas,
)
from fem.kept import Recent
from fem.materials.loss import CoreLoss
from fem.materials.mixture import Reluctivity
from geometries.shapes.section import Role

FIRST_POINTS = 14
"""Points of the curve to begin with; more go where a cubic between two of them is not good enough."""
CURVE_TOLERANCE = 3e-4
"""Relative error of the flux between solved points (below a fifth of the largest flux: of that fifth)."""
CHECK_TOLERANCE = 1e-6
"""Relative residual of solutions that only judge such a cubic."""
MOST_ROUNDS = 6
REFINE_EVERY = 3
"""Every so many of the curve's points are solved on the finer mesh too."""
FIRST_H, LAST_H = 2.0, 1.2e6
"""Field strengths along the window's height [A/m] whose ampere-turns are the curve's ends: the linear foot, and iron at
about 3 T."""
REFERENCE_FREQUENCY = 50.0
"""Frequency [Hz] at which the parts of the core loss are kept; each goes its own way with frequency."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PlanarCurve:
    """What the planar field says at the solved points, rising; all per metre of depth.

    Parameters
    ----------
    winding
        The energised winding.
    ampere_turns
        Of the points (n,) [A].
    flux, log_slope
        Flux per turn, as refinement of the mesh corrects it, and its derivative with respect to the logarithm of the
        ampere-turns (n,) [Wb/m].
    coarse_flux, other_coarse_flux
        Flux per turn of the energised and of the other winding on the coarse mesh (n,) [Wb/m].
    flux_density
        Per cut the mean flux density along it, iron and insulation together, on the coarse mesh (n,) [T].
    hysteresis_loss, eddy_loss
        Parts of the core loss at `REFERENCE_FREQUENCY` in sinusoids with these fields' peaks (n,) [W/m].
    joint_share
        Of the ampere-turns, what joints and gaps take, on the coarse mesh (n,) [-].
    discretisation_error
        Largest estimated relative error of the flux.
    """

    winding: str
    ampere_turns: Floats
    flux: Floats
    log_slope: Floats
    coarse_flux: Floats
    other_coarse_flux: Floats
    flux_density: Mapping[str, Floats]
    hysteresis_loss: Floats
    eddy_loss: Floats
    joint_share: Floats
    discretisation_error: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Energised:
    """One winding energised alone, and the sheet around it.

    Parameters
    ----------
    winding, other
        The energised winding and the other one.
    window_height
        Sets the scale of the ampere-turns [m].
    iron
        Law of legs and yokes.
    loss, density
        Specific loss and density [kg/m3] of the sheet.
    """

    winding: str
    other: str
    window_height: float
    iron: Reluctivity
    loss: CoreLoss
    density: float


def planar_curve(model: FieldModel, energised: Energised) -> PlanarCurve:
    """Solve the field from deep saturation down to the linear foot.

    Parameters
    ----------
    model
        The section with its iron.
    energised
        Which winding, in which sheet.

    Raises
    ------
    NotConverged
        If a field does not converge.
    """
    winding = energised.winding
    nodes = _choose_points(model, winding, FIRST_H * energised.window_height, LAST_H * energised.window_height)
    F = np.array([n.F for n in nodes])
    coarse = np.array([n.flux for n in nodes])
    refined = _refine(model, winding, nodes)
    ratio = PchipInterpolator(np.log(refined.F), refined.ratio)
    slope = ratio(np.log(F)) * np.array([n.log_slope for n in nodes]) + ratio(np.log(F), 1) * coarse
    through = [cut_fluxes_per_m(model.coarse, n.solution) for n in nodes]
    losses = [_core_loss(model, n.solution, energised) for n in nodes]
    hysteresis, eddy = np.transpose(losses)
    return PlanarCurve(
        winding=winding,
        ampere_turns=F,
        flux=ratio(np.log(F)) * coarse,
        log_slope=slope,
        coarse_flux=coarse,
        other_coarse_flux=np.array([flux_linkage_per_m(n.solution, energised.other) for n in nodes]),
        flux_density={c.name: np.array([t[c.name] for t in through]) / c.width for c in model.mesh.section.cuts},
        hysteresis_loss=hysteresis,
        eddy_loss=eddy,
        joint_share=np.array([joint_ampere_turns(model.coarse, n.solution) for n in nodes]) / F,
        discretisation_error=refined.error,
    )


KEPT: Recent[PlanarCurve] = Recent(64, by_thread=True)
"""One takes a few kB."""


def kept_planar_curve(model: FieldModel, energised: Energised) -> PlanarCurve:
    """Return the planar curve: the one solved before in this thread where all it depends on is equal.

    Parameters
    ----------
    model, energised
        As for `planar_curve`.
    """
    problem, mesh = model.coarse.problem, model.mesh
    arrays = [mesh.points, mesh.triangles, *(elements for elements, _ in problem.laws)]
    where = tuple(hashlib.sha256(values.tobytes()).digest() for values in arrays)
    laws = tuple(law.digest if isinstance(law, Reluctivity) else law for _, law in problem.laws)
    e = energised
    key = (mesh.section, where, laws, e.winding, e.other, e.window_height, e.iron.digest, e.loss, e.density)
    return KEPT.get(key, lambda: planar_curve(model, energised))


def _core_loss(model: FieldModel, solution: FieldSolution, energised: Energised) -> tuple[float, float]:
    """Return hysteresis and eddy loss [W/m] at the reference frequency, of sinusoids with this field's peaks."""
    grid, iron, loss = model.coarse, energised.iron, energised.loss
    in_iron = np.isin(grid.region, [k for k, r in enumerate(grid.regions) if r.role is Role.IRON])
    b = iron.iron_flux_density(flux_density(solution)[:, in_iron])
    mass = quadrature_areas(solution)[:, in_iron] * (energised.density * iron.iron_fraction * solution.problem.copies)
    hysteresis, eddy = (float(np.sum(mass * part(b, REFERENCE_FREQUENCY))) for part in (loss.hysteresis, loss.eddy))
    return hysteresis, eddy


@dataclass(frozen=True, slots=True, eq=False)
class _Node:
    """A point solved on the coarse mesh: flux per turn and metre, and its slope in log(ampere-turns)."""

    solution: FieldSolution
    F: float
    flux: float
    log_slope: float


def _choose_points(model: FieldModel, winding: str, first: float, last: float) -> list[_Node]:
    """Place points on the coarse mesh so that cubics between them meet the tolerance; return them rising.

    Each interval is judged at its middle by a solution, which then either confirms it or splits it. Walking down from
    the largest ampere-turns keeps every start on the safe side of Newton's method.
    """
    problem = model.coarse.problem

    def node(solution: FieldSolution) -> _Node:
        F = solution.ampere_turns[winding]
        slope = incremental_linkages_per_m(solution, winding)[winding]
        return _Node(solution, F, flux_linkage_per_m(solution, winding), F * slope)

    falling: list[_Node] = []
    sizes = np.geomspace(last, first, FIRST_POINTS)
    for k, F in enumerate(sizes):
        start = extrapolated(sizes[max(k - 2, 0) : k + 1], [n.solution.A for n in falling[-2:]])
        falling.append(node(solve(problem, {winding: float(F)}, start=start)))
    nodes = falling[::-1]
    open_intervals = set(range(len(nodes) - 1))
    for _ in range(MOST_ROUNDS):
        kept: list[_Node] = []
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


def _interpolated(nodes: list[_Node], F: float) -> Floats:
    """Return the field between solved ones, by the polynomial through them in the logarithm of the ampere-turns."""
    x = np.log([n.F for n in nodes])
    total = np.zeros_like(nodes[0].solution.A)
    for i, n in enumerate(nodes):
        others = np.delete(x, i)
        total += np.prod((np.log(F) - others) / (x[i] - others)) * n.solution.A
    return total


@dataclass(frozen=True, slots=True, eq=False)
class _Refined:
    """What the finer mesh says at some of the points: its flux over the coarse mesh's, and the error left in it."""

    F: Floats
    ratio: Floats
    error: float


def _refine(model: FieldModel, winding: str, nodes: list[_Node]) -> _Refined:
    """Solve some of the points on the finer mesh as well, falling.

    What refinement changes is a per mille or so and varies slowly along the curve: interpolated between these points it
    is known well within the error that is left. From one of them to the next it grows about as the flux does, which
    is how it is carried over for the start: points lie too far apart to extrapolate.
    """
    last = len(nodes) - 1
    chosen = [nodes[k] for k in sorted({*range(0, last, REFINE_EVERY), last}, reverse=True)]
    solved: list[SolvedField] = []
    share: Floats | float = 0.0
    for n in chosen:
        on_fine = model.refine(n.solution.A)
        fine = solve(model.fine.problem, {winding: n.F}, start=on_fine + share * n.flux)
        solved.append(SolvedField(model=model, coarse=n.solution, fine=fine))
        share = (fine.A - on_fine) / n.flux
    rising = solved[::-1]
    pairs = [both(s, winding) for s in rising]
    return _Refined(
        np.array([n.F for n in chosen[::-1]]),
        np.array([f / c for c, f in pairs]),
        max(float(relative_error(c, f, remaining_share(s))) for (c, f), s in zip(pairs, rising, strict=True)),
    )
