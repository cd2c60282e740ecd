"""The planar part of a magnetisation curve: all that needs a nonlinear field, per metre of depth.

lambda(F): flux per turn and metre [Wb/m] that the energised winding's F ampere-turns drive through it, secondary open.
It is solved on the coarse mesh, lambda_c, at points F_k, and on the fine one at some of them; their ratio r varies
slowly, so that between them

    lambda = r(ln F) lambda_c(F),    d lambda / d ln F = r d lambda_c / d ln F + r' lambda_c,

r by monotone cubics. Core loss per metre is int density p(b, f) dA over the iron, p the sheet's loss in a sinusoid
whose peak is the field's b there.

All this is a function of the section and its sheet alone, so it is kept for cores that differ only in their stack, in
what is at their end faces or in how many of them stand behind each other.

References
----------
F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300: monotone cubics.
"""

from __future__ import annotations

import hashlib
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.characteristics.magnetising.joint_drop import joint_ampere_turns
from fem.characteristics.magnetising.points import Node, Refined, choose_points, refine
from fem.cubics import Cubics
from fem.field.static.model import FieldModel
from fem.field.static.newton import FieldSolution
from fem.field.static.quantities import cut_fluxes_per_m, flux_density, flux_linkage_per_m, quadrature_areas
from fem.kept import Recent
from fem.materials.loss import CoreLoss
from fem.materials.mixture import Reluctivity
from geometries.shapes.section import Role

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


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SolvedCurve:
    """The fields behind a planar curve.

    Parameters
    ----------
    model, energised
        The section with its iron; which winding, in which sheet.
    nodes
        On the coarse mesh, rising.
    refined
        Some of them on the finer one.
    """

    model: FieldModel
    energised: Energised
    nodes: list[Node]
    refined: Refined


def solve_curve(model: FieldModel, energised: Energised) -> SolvedCurve:
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
    nodes = choose_points(model, winding, FIRST_H * energised.window_height, LAST_H * energised.window_height)
    return SolvedCurve(model=model, energised=energised, nodes=nodes, refined=refine(model, winding, nodes))


def planar_curve(model: FieldModel, energised: Energised) -> PlanarCurve:
    """Solve a planar curve; see `solve_curve`."""
    return read_curve(solve_curve(model, energised))


def read_curve(solved: SolvedCurve) -> PlanarCurve:
    """Return what the fields of a curve say."""
    model, energised, nodes, refined = solved.model, solved.energised, solved.nodes, solved.refined
    F = np.array([n.F for n in nodes])
    coarse = np.array([n.flux for n in nodes])
    ratio = Cubics.monotone(np.log(refined.F), refined.ratio)
    slope = ratio(np.log(F)) * np.array([n.log_slope for n in nodes]) + ratio(np.log(F), 1) * coarse
    through = [cut_fluxes_per_m(model.coarse, n.solution) for n in nodes]
    losses = [_core_loss(model, n.solution, energised) for n in nodes]
    hysteresis, eddy = np.transpose(losses)
    return PlanarCurve(
        winding=energised.winding,
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
    return KEPT.get(curve_key(model, energised), lambda: planar_curve(model, energised))


def curve_key(model: FieldModel, energised: Energised) -> tuple[Hashable, ...]:
    """Return all that a planar curve depends on."""
    problem, mesh = model.coarse.problem, model.mesh
    where = digests(mesh.points, mesh.triangles, *(elements for elements, _ in problem.laws))
    laws = tuple(law.digest if isinstance(law, Reluctivity) else law for _, law in problem.laws)
    e = energised
    return (mesh.section, where, laws, e.winding, e.other, e.window_height, e.iron.digest, e.loss, e.density)


def digests(*arrays: NDArray[Any]) -> tuple[bytes, ...]:
    """Return digests of arrays."""
    return tuple(hashlib.sha256(values.tobytes()).digest() for values in arrays)


def _core_loss(model: FieldModel, solution: FieldSolution, energised: Energised) -> tuple[float, float]:
    """Return hysteresis and eddy loss [W/m] at the reference frequency, of sinusoids with this field's peaks."""
    grid, iron, loss = model.coarse, energised.iron, energised.loss
    in_iron = np.isin(grid.region, [k for k, r in enumerate(grid.regions) if r.role is Role.IRON])
    b = iron.iron_flux_density(flux_density(solution)[:, in_iron])
    mass = quadrature_areas(solution)[:, in_iron] * (energised.density * iron.iron_fraction * solution.problem.copies)
    hysteresis, eddy = (float(np.sum(mass * part(b, REFERENCE_FREQUENCY))) for part in (loss.hysteresis, loss.eddy))
    return hysteresis, eddy
