"""Derivatives of the planar curve: by the lengths of the job file, the share of iron in the stack, the steel's table.

At given ampere-turns. What is read on the coarse mesh is differentiated there; the flux, which refinement corrects, on
both meshes where both are solved: with r = lambda_f / lambda_c, lambda = r lambda_c has

    d lambda = r d lambda_c + lambda_c d r,    d r = (d lambda_f - r d lambda_c) / lambda_c,

d r by monotone cubics in ln F between, as r itself. The curve's fields, and their tangents' response to the winding,
are those it was solved by: for the flux a point takes no further solution at all on the coarse mesh, and one
factorisation and one back-substitution on the finer one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Integers
from fem.characteristics.laws import BRIDGED
from fem.characteristics.magnetising import planar
from fem.characteristics.magnetising.planar import (
    REFERENCE_FREQUENCY,
    Energised,
    PlanarCurve,
    SolvedCurve,
    curve_key,
    digests,
    read_curve,
    solve_curve,
)
from fem.constants import MU0
from fem.cubics import Cubics
from fem.field.static.model import FieldModel
from fem.field.static.shape import Adjoint, Density, Moving, Reading
from fem.kept import Recent
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from fem.materials.varied import law_slopes, on_table
from geometries.assembly.velocity import Motion, cut_width_slopes
from geometries.shapes.section import Cut, Role


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class PlanarSlopes:
    """Derivatives of a `PlanarCurve` at its points' ampere-turns; per metre of each key, NaN where a key is `torn`.

    Parameters
    ----------
    keys
        Dotted keys of the job file, all lengths [m].
    torn
        Those by which the planar field has no derivative on this mesh, see `Motion`.
    ampere_turns
        Of the points (n,) [A].
    flux, other_flux
        Of the flux per turn and metre, of the energised and of the other winding (n, keys) [Wb/m per m].
    flux_density
        Of the mean flux density along each cut, iron and insulation together (n, keys) [T/m].
    hysteresis_loss, eddy_loss
        (n, keys) [W/m per m].
    flux_by_stacking_factor
        Of the flux, per unit of the stacking factor (n,) [Wb/m]; None where derivatives by the steel were not asked.
    flux_by_table
        Of the flux, by the flux density of each row of the steel's table but the first (n, rows - 1) [Wb/m per T].
    """

    keys: tuple[str, ...]
    torn: tuple[str, ...]
    ampere_turns: Floats
    flux: Floats
    other_flux: Floats
    flux_density: Mapping[str, Floats]
    hysteresis_loss: Floats
    eddy_loss: Floats
    flux_by_stacking_factor: Floats | None
    flux_by_table: Floats | None


def planar_slopes(solved: SolvedCurve, motion: Motion, curve: BHCurve | None = None) -> PlanarSlopes:
    """Return the derivatives of a solved planar curve.

    Parameters
    ----------
    solved
        The curve with its fields.
    motion
        Of its coarse mesh.
    curve
        The steel's, of which legs, yokes and bridged joints are, where derivatives by it are wanted; shunts of another
        sheet are left as they are.
    """
    model, winding, cuts = solved.model, solved.energised.winding, solved.model.mesh.section.cuts
    mesh, fine = Moving(model.coarse, motion.vertices), Moving(model.fine, model.shape.fine_points(motion.vertices))
    passing, inside = _passing(mesh, cuts, motion), _iron(mesh)
    # in a half section both sides' cuts are one
    vectors, which = np.unique([model.coarse.cuts[cut.name] for cut in cuts], axis=0, return_inverse=True)
    by_length, by_law, on_fine, by_law_fine = [], [], [], []
    for node in solved.nodes:
        adjoint = Adjoint(mesh, node.solution)
        others = [adjoint.linkage(solved.energised.other), *_losses(adjoint, inside, solved.energised)]
        others += [adjoint.nodal(vector) for vector in vectors]
        responses = np.column_stack((model.coarse.problem.copies * node.response, adjoint.responses(others)))
        slopes = adjoint.by_key([adjoint.linkage(winding), *others], responses)
        by_length.append(np.concatenate((slopes[:4], slopes[4:][which] + passing(node.solution.A))))
        if curve is not None:
            by_law.append(_by_law(adjoint, node.response, solved.energised.iron))
    for field in solved.refined.fields:
        adjoint = Adjoint(fine, field.fine)
        own = adjoint.linkage(winding)
        response = adjoint.responses([own])
        on_fine.append(adjoint.by_key([own], response)[0])
        if curve is not None:
            by_law_fine.append(_by_law(adjoint, response[:, 0] / model.fine.problem.copies, solved.energised.iron))
    slopes, F = np.stack(by_length, axis=1), np.array([n.F for n in solved.nodes])  # (readings, points, keys)
    through = np.array([[model.coarse.cuts[cut.name] @ n.solution.A for n in solved.nodes] for cut in cuts])
    widths = np.array([cut.width for cut in cuts])[:, None, None]
    wider = np.array([cut_width_slopes(cut, motion.cuts[cut.name]) for cut in cuts])[:, None]
    density = (slopes[4:] - through[..., None] / widths * wider) / widths
    by_steel = None
    if curve is not None:
        by_steel = _corrected(solved, *(_by_steel(np.array(w), solved, curve) for w in (by_law, by_law_fine)))
    return PlanarSlopes(
        keys=motion.keys,
        torn=motion.torn,
        ampere_turns=F,
        flux=_corrected(solved, slopes[0], np.array(on_fine)),
        other_flux=slopes[1],
        flux_density={cut.name: density[k] for k, cut in enumerate(cuts)},
        hysteresis_loss=slopes[2],
        eddy_loss=slopes[3],
        flux_by_stacking_factor=None if by_steel is None else by_steel[:, 0],
        flux_by_table=None if by_steel is None else by_steel[:, 1:],
    )


KEPT: Recent[tuple[PlanarCurve, PlanarSlopes]] = Recent(16, by_thread=True)
"""One takes some 100 kB."""


def kept_planar_slopes(
    model: FieldModel, energised: Energised, motion: Motion, curve: BHCurve
) -> tuple[PlanarCurve, PlanarSlopes]:
    """Return the planar curve and its derivatives: those of before in this thread where all they depend on is equal.

    As of another stack of the same section, which no key of the depth moves. Parameters as of `planar_slopes`.
    """
    key = curve_key(model, energised)

    def solve() -> tuple[PlanarCurve, PlanarSlopes]:
        solved = solve_curve(model, energised)
        return planar.KEPT.get(key, lambda: read_curve(solved)), planar_slopes(solved, motion, curve)

    moves = digests(motion.vertices, *motion.cuts.values(), curve.H, curve.B)
    return KEPT.get((key, motion.keys, motion.torn, moves), solve)


def _corrected(solved: SolvedCurve, coarse: Floats, fine: Floats) -> Floats:
    """Return the derivatives of the corrected flux (n, keys) from those on the coarse mesh and, at some, on both."""
    refined = solved.refined
    flux, log_F = np.array([n.flux for n in solved.nodes]), np.log([n.F for n in solved.nodes])
    at = list(refined.numbers)
    change = (fine - refined.ratio[:, None] * coarse[at]) / flux[at, None]
    ratio = Cubics.monotone(log_F[at], refined.ratio)(log_F)
    changes = np.stack([Cubics.monotone(log_F[at], column)(log_F) for column in change.T], axis=1)
    return np.asarray(ratio[:, None] * coarse + flux[:, None] * changes)


def _by_steel(by_law: Floats, solved: SolvedCurve, curve: BHCurve) -> Floats:
    """Return derivatives by stacking factor and table (points, rows) from those by both laws (points, 2, 4, n + 1)."""
    found = np.zeros((by_law.shape[0], curve.H.size))
    for k, share in enumerate((1.0, BRIDGED)):
        if by_law[:, k].any():
            law = law_slopes(curve, share * solved.energised.iron.iron_fraction)
            by_row = by_law[:, k].reshape(by_law.shape[0], -1) @ law.reshape(law.shape[0], -1).T
            by_row[:, 0] *= share
            found += by_row
    return found


def _passing(mesh: Moving, cuts: Sequence[Cut], motion: Motion) -> Callable[[Floats], Floats]:
    """Return what the fluxes through cuts change by as their ends pass through the mesh (cuts, keys)."""
    ends = np.array([[(cut.x0, cut.y0), (cut.x1, cut.y1)] for cut in cuts]).reshape(-1, 2)
    moved = np.stack([motion.cuts[cut.name] for cut in cuts]).reshape(ends.shape[0], 2, -1)
    # in the mirror half A has the opposite sign
    side = np.where((mesh.grid.problem.copies == 2) & (ends[:, 0] < 0), -1.0, 1.0)
    ends[:, 0] *= side
    moved[:, 0] *= side[:, None]
    change = mesh.passing([(x, y) for x, y in ends], moved)

    def through(A: Floats) -> Floats:
        signed = side[:, None] * change(A)
        return np.asarray(signed[::2] - signed[1::2])

    return through


def _iron(mesh: Moving) -> Integers:
    grid = mesh.grid
    return np.flatnonzero(np.isin(grid.region, [k for k, r in enumerate(grid.regions) if r.role is Role.IRON]))


def _losses(adjoint: Adjoint, inside: Integers, energised: Energised) -> list[Reading]:
    """Read hysteresis and eddy loss [W/m] at the reference frequency; see `planar_curve`."""
    iron, loss = energised.iron, energised.loss
    mass = energised.density * iron.iron_fraction * adjoint.moving.grid.problem.copies

    b = np.maximum(np.sqrt((adjoint.gradient(inside) ** 2).sum(0)), 1e-9)
    nu, dnu = iron.nu_dnu(b * b)
    own = MU0 * nu * b + (b - MU0 * nu * b) / iron.iron_fraction
    air = MU0 * (nu + 2 * b * b * dnu)
    steeper = (air + (1 - air) / iron.iron_fraction) / own / b

    def density(part: Callable[[Floats, float], Floats], power: float) -> Density:
        value = mass * part(own, REFERENCE_FREQUENCY)
        return lambda a: (value, power * value * steeper * a)

    parts = density(loss.hysteresis, loss.hysteresis_exponent), density(loss.eddy, 2.0)
    return [adjoint.integral(inside, part) for part in parts]


def _by_law(adjoint: Adjoint, response: Floats, iron: Reluctivity) -> Floats:
    """Return the flux's derivatives by the coefficients of the iron's law and of the bridged joints' (2, 4, n + 1)."""
    problem = adjoint.moving.grid.problem
    found = np.zeros((2, *iron.coefficients.shape))
    for elements, law in problem.laws:
        if law is iron:
            found[0] += on_table(iron, *adjoint.by_reluctivity(response, elements))
        elif isinstance(law, Reluctivity) and abs(law.iron_fraction - BRIDGED * iron.iron_fraction) < 1e-12:
            found[1] += on_table(law, *adjoint.by_reluctivity(response, elements))
    return problem.copies * found
