"""The magnetisation curve of one energised winding, from a few ampere-turns into deep saturation."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

from fem.constants import MU0
from fem.errors import OutOfRange
from fem.field.error import relative_error, remaining_share
from fem.field.model import FieldModel, Grid, extrapolated, solve_both
from fem.field.newton import FieldSolution, solve
from fem.field.problem import Array
from fem.field.quantities import (
    both,
    cut_fluxes_per_m,
    flux_density,
    flux_linkage_per_m,
    incremental_linkages_per_m,
    quadrature_areas,
)
from fem.materials.loss import CoreLoss
from fem.materials.mixture import Reluctivity
from geometries.section import Role

FIRST_POINTS = 14
"""Points of the curve to begin with; more go where a cubic between two of them is not good enough."""
CURVE_TOLERANCE = 3e-4
"""Relative error of the flux between solved points (below a fifth of the largest flux: of that fifth)."""
MOST_ROUNDS = 6
REFINE_EVERY = 3
"""Every so many of the curve's points are solved on the finer mesh too."""
FIRST_H, LAST_H = 2.0, 1.2e6
"""Field strengths along the window's height [A/m] whose ampere-turns are the curve's ends: the linear foot, and iron at
about 3 T."""
DENSE = 12
"""Points handed on per solved interval, so that whatever interpolates them next adds no error of its own."""


REFERENCE_FREQUENCY = 50.0
"""Frequency [Hz] at which the parts of the core loss are kept; each goes its own way with frequency."""

JOINT = "joint"
"""Where `EndSlopes` finds the permeability of bridged joints."""

EndSlopes = Callable[[float, Mapping[str, float]], Array]
"""From the planar field's incremental permeance times the stack's depth [H], and the iron's incremental relative
permeability at each cut (and of bridged joints, as `JOINT`), the incremental permeances [H] that three dimensions add
in the end turns: of the energised winding's flux and of the other one's."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Magnetising:
    """Flux against ampere-turns of one energised winding; turn-free.

    Parameters
    ----------
    winding
        The energised winding.
    ampere_turns, flux_per_turn
        The dense curve from (0, 0) (n,) [A], [Wb]; end turns included.
    other_flux_per_turn
        Mean flux per turn of the other winding along it (n,) [Wb].
    flux_density_by_place
        Per cut the iron's flux density along it, mean over the cut (n,) [T].
    hysteresis_loss, eddy_loss
        Parts of the core loss at `REFERENCE_FREQUENCY`, sinusoidal flux of each solved field's size (points,) [W]; the
        peak flux per turn they belong to is in `core_loss_flux_per_turn` [Wb], rising.
    discretisation_error
        Largest estimated relative error of the flux over the curve.
    valid_to
        Flux per turn up to which the steel's data reach [Wb].
    """

    winding: str
    ampere_turns: Array
    flux_per_turn: Array
    other_flux_per_turn: Array
    flux_density_by_place: Mapping[str, Array]
    core_loss_flux_per_turn: Array
    hysteresis_loss: Array
    eddy_loss: Array
    discretisation_error: float
    valid_to: float

    def by_place(self, flux_per_turn: float) -> dict[str, float]:
        """Return the iron's flux density by place [T] at a flux per turn [Wb].

        Raises
        ------
        OutOfRange
            If the steel's data end before.
        """
        self.check(flux_per_turn)
        return {
            name: float(_interpolated(flux_per_turn, self.flux_per_turn, b))
            for name, b in self.flux_density_by_place.items()
        }

    def flux_at(self, place: str, flux_density: float) -> float:
        """Return the flux per turn [Wb] at which the iron at a place carries a flux density [T]."""
        return float(_interpolated(flux_density, self.flux_density_by_place[place], self.flux_per_turn))

    def excitation(self, flux_per_turn: float) -> float:
        """Return the ampere-turns [A] for a flux per turn [Wb] of either sign."""
        size = float(_interpolated(abs(flux_per_turn), self.flux_per_turn, self.ampere_turns))
        return size if flux_per_turn >= 0 else -size

    def other_flux(self, flux_per_turn: Array) -> Array:
        """Return the other winding's flux per turn [Wb] at flux per turn of the energised one, of either sign."""
        size = _interpolated(np.abs(flux_per_turn), self.flux_per_turn, self.other_flux_per_turn)
        return np.asarray(np.copysign(size, flux_per_turn))

    def check(self, flux_per_turn: float) -> None:
        """Refuse a flux per turn [Wb] for which the iron's data do not reach.

        Raises
        ------
        OutOfRange
            If it lies above `valid_to`.
        """
        if flux_per_turn > self.valid_to:
            place = max(self.flux_density_by_place, key=lambda k: float(self.flux_density_by_place[k][-1]))
            end = float(np.interp(self.valid_to, self.flux_per_turn, self.flux_density_by_place[place]))
            msg = (
                f"core.bh_table ends too early: the core would go beyond {end:.3g} T ({place}), where its rows end; "
                "give core.saturation_polarisation (about 2.0 to 2.16 T for electrical steel) to continue it"
            )
            raise OutOfRange(msg)


def magnetising_curve(
    model: FieldModel,
    *,
    winding: str,
    other: str,
    depth: float,
    window_height: float,
    iron: Reluctivity,
    bridge: Reluctivity | None,
    flux_place: str,
    end_slopes: EndSlopes,
    loss: CoreLoss,
    density: float,
) -> Magnetising:
    """Solve the field from deep saturation down to the linear foot.

    Parameters
    ----------
    model
        The section with its iron.
    winding, other
        The energised winding and the other one.
    depth
        Of the stack [m].
    window_height
        Sets the scale of the ampere-turns [m].
    iron
        Law of legs and yokes.
    bridge
        Law of bridged joints, if they are.
    flux_place
        The cut through the leg with the winding: its joint carries the same flux.
    end_slopes
        What the end turns add; see `EndSlopes`.
    loss, density
        Specific loss and density [kg/m3] of the sheet.
    """
    nodes = _choose_points(model, winding, FIRST_H * window_height, LAST_H * window_height)
    F = np.array([n.F for n in nodes])
    refined = _refine(model, winding, nodes)
    planar = np.array([n.flux for n in nodes])
    ratio = PchipInterpolator(np.log(refined.F), refined.ratio)
    fine = ratio(np.log(F)) * planar
    log_slope = ratio(np.log(F)) * np.array([n.log_slope for n in nodes]) + ratio(np.log(F), 1) * planar

    dense = _dense(F)
    planar_dense = np.asarray(CubicHermiteSpline(np.log(F), fine, log_slope)(np.log(dense)))
    width = {cut.name: cut.width for cut in model.mesh.section.cuts}
    at_cuts = [{k: v / width[k] for k, v in cut_fluxes_per_m(model.coarse, n.solution).items()} for n in nodes]
    ends = [
        end_slopes(depth * d, _incremental_mu_r(iron, b) | _joint_mu_r(bridge, b[flux_place]))
        for d, b in zip(log_slope / F, at_cuts, strict=True)
    ]
    own_end, other_end = (_integral(dense, np.interp(np.log(dense), np.log(F), e)) for e in np.transpose(ends))
    flux = planar_dense * depth + own_end

    def along(values: Array) -> Array:
        """Carry something read on the coarse mesh, as a share of the linkage there, over to the dense curve."""
        return np.asarray(np.interp(np.log(dense), np.log(F), values / planar) * planar_dense)

    average = {name: along(np.array([b[name] for b in at_cuts])) for name in width}
    valid = np.full(dense.shape, True)
    for b in average.values():
        valid &= b <= iron.valid_to
    valid_to = np.inf if valid.all() else float(flux[valid][-1])
    places = {name: iron.iron_flux_density(b) for name, b in average.items()}
    other_planar = along(np.array([flux_linkage_per_m(n.solution, other) for n in nodes]))
    losses = [core_loss(model.coarse, n.solution, iron, loss=loss, density=density, depth=depth) for n in nodes]
    hysteresis, eddy = np.transpose(losses)
    return Magnetising(
        winding=winding,
        ampere_turns=_from_zero(dense),
        flux_per_turn=_from_zero(flux),
        other_flux_per_turn=_from_zero(other_planar * depth + other_end),
        flux_density_by_place={name: _from_zero(b) for name, b in places.items()},
        core_loss_flux_per_turn=np.interp(F, dense, flux),
        hysteresis_loss=hysteresis,
        eddy_loss=eddy,
        discretisation_error=refined.error,
        valid_to=valid_to,
    )


def core_loss(
    grid: Grid, solution: FieldSolution, iron: Reluctivity, *, loss: CoreLoss, density: float, depth: float
) -> tuple[float, float]:
    """Return hysteresis and eddy loss [W] at the reference frequency, of sinusoids with this field's peaks."""
    in_iron = np.isin(grid.region, [k for k, r in enumerate(grid.regions) if r.role is Role.IRON])
    b = iron.iron_flux_density(flux_density(solution)[:, in_iron])
    mass = quadrature_areas(solution)[:, in_iron] * (density * iron.iron_fraction * depth * solution.problem.copies)
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

    def node(F: float, start: Array | None) -> _Node:
        solution = solve(problem, {winding: F}, start=start)
        slope = incremental_linkages_per_m(solution, winding)[winding]
        return _Node(solution, F, flux_linkage_per_m(solution, winding), F * slope)

    falling: list[_Node] = []
    sizes = np.geomspace(last, first, FIRST_POINTS)
    for k, F in enumerate(sizes):
        falling.append(node(float(F), extrapolated(sizes[: k + 1], [n.solution.A for n in falling])))
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
            middle = node((low.F * high.F) ** 0.5, 0.5 * (low.solution.A + high.solution.A))
            step = np.log(high.F / low.F)
            cubic = 0.5 * (low.flux + high.flux) + step * (low.log_slope - high.log_slope) / 8
            if abs(middle.flux - cubic) > CURVE_TOLERANCE * max(middle.flux, 0.2 * nodes[-1].flux):
                still_open |= {len(kept) - 1, len(kept)}
                kept.append(middle)
        nodes, open_intervals = kept, still_open
        if not open_intervals:
            break
    return nodes


@dataclass(frozen=True, slots=True, eq=False)
class _Refined:
    """What the finer mesh says at some of the points: its flux over the coarse mesh's, and the error left in it."""

    F: Array
    ratio: Array
    error: float


def _refine(model: FieldModel, winding: str, nodes: list[_Node]) -> _Refined:
    """Solve some of the points on the finer mesh as well.

    What refinement changes is a per mille or so and varies slowly along the curve: interpolated between these points it
    is known well within the error that is left.
    """
    last = len(nodes) - 1
    chosen = [nodes[k] for k in sorted({*range(0, last, REFINE_EVERY), last}, reverse=True)]
    solved = solve_both(model, [{winding: n.F} for n in chosen], [n.solution.A for n in chosen])[::-1]
    pairs = [both(s, winding) for s in solved]
    return _Refined(
        np.array([s.fine.ampere_turns[winding] for s in solved]),
        np.array([f / c for c, f in pairs]),
        max(float(relative_error(c, f, remaining_share(s))) for (c, f), s in zip(pairs, solved, strict=True)),
    )


def _dense(F: Array) -> Array:
    steps = np.arange((F.size - 1) * DENSE + 1) / DENSE
    return np.exp(np.interp(steps, np.arange(F.size), np.log(F)))


def _incremental_mu_r(iron: Reluctivity, average: Mapping[str, float]) -> dict[str, float]:
    """Return dB/dH over MU0 of the stack at given flux densities by place [T]: what a small change sees."""
    b2 = np.array(list(average.values())) ** 2
    nu, dnu = iron.nu_dnu(b2)
    return dict(zip(average, 1 / (MU0 * (nu + 2 * b2 * dnu)), strict=True))


def _joint_mu_r(bridge: Reluctivity | None, flux_density: float) -> dict[str, float]:
    return {} if bridge is None else _incremental_mu_r(bridge, {JOINT: flux_density})


def _integral(F: Array, slope: Array) -> Array:
    """Integrate a slope over the ampere-turns from 0; below the first point it is constant."""
    steps = 0.5 * (slope[1:] + slope[:-1]) * np.diff(F)
    return np.asarray(np.concatenate(([0.0], np.cumsum(steps))) + slope[0] * F[0])


def _interpolated(x: ArrayLike, points: Array, values: Array) -> Array:
    """Interpolate along the curve; beyond its end, where iron is as good as air, go on straight."""
    at = np.asarray(x, dtype=np.float64)
    slope = (values[-1] - values[-2]) / (points[-1] - points[-2])
    return np.asarray(np.interp(at, points, values) + slope * np.maximum(at - points[-1], 0.0))


def _from_zero(values: Array) -> Array:
    return np.concatenate(([0.0], values))
