"""Where the core's flux goes while the secondary is shorted or loaded.

The circuit says what flux the primary links, Phi_1, and what ampere-turns the secondary carries, F_2, each with its
phase. At a few instants of a half period the planar field is solved for just that: F_2 is given, F_1 is sought so that

    depth lambda_1(F_1, F_2) = Phi_1 + P_end F_2,

P_end the share of the end turns' leakage flux that links the primary, which the planar field does not hold. The left
side rises with F_1, as incremental permeances are positive: the secant method between bounds that close in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fem.characteristics.magnetising.curve import Magnetising
from fem.errors import NotConverged, OutOfRange
from fem.field.static.model import FieldModel
from fem.field.static.newton import solve
from fem.field.static.quantities import cut_fluxes_per_m, flux_linkage_per_m
from fem.materials.mixture import Reluctivity
from geometries.shapes.section import Role

INSTANTS = 6
"""Over a half period; a sinusoid's peak is met to 1 - cos(15 degrees) = 3.4 % at worst, so peaks are fitted below."""
_TOLERANCE = 1e-4
_MOST_STEPS = 25


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceFlux:
    """Peak flux density by place.

    Parameters
    ----------
    flux_density
        Per cut the iron's peak flux density, mean over the cut [T].
    """

    flux_density: dict[str, float]


def shorted_flux(
    model: FieldModel,
    iron: Reluctivity,
    magnetising: Magnetising,
    *,
    secondary: str,
    depth: float,
    primary_end_permeance: float,
    primary_flux: complex,
    secondary_ampere_turns: complex,
) -> PlaceFlux:
    """Return the peak flux density by place for sinusoidal flux and current.

    Parameters
    ----------
    model
        The section with saturating iron; its coarse mesh is used (0.1 % is ample here).
    iron
        Law of legs and yokes.
    magnetising
        Of the energised primary.
    secondary
        Name of the other winding.
    depth
        Of the stack [m].
    primary_end_permeance
        Flux that links the primary's end turns per ampere-turn of leakage [H].
    primary_flux
        Peak phasor of the primary's flux per turn [Wb].
    secondary_ampere_turns
        Peak phasor of the secondary's ampere-turns, counted positive the way the primary's are [A].

    Raises
    ------
    NotConverged
        If the primary's ampere-turns are not found.
    OutOfRange
        If a place lies beyond the end of a B-H table.
    """
    problem, primary = model.coarse.problem, magnetising.winding
    highest: dict[str, float] = dict.fromkeys(model.coarse.cuts, 0.0)
    A = None
    for k in range(INSTANTS):
        turn = np.exp(1j * np.pi * k / INSTANTS)
        F2 = float((secondary_ampere_turns * turn).real)
        wanted = float((primary_flux * turn).real) + primary_end_permeance * F2
        # The primary's ampere-turns are -F2 plus what the core takes. Sought as the flux that the core alone would
        # take them for: the answer is close to it and nearly a straight line of it, however saturated the core.
        alone, below, above = wanted, -np.inf, np.inf
        before: tuple[float, float] | None = None
        for _ in range(_MOST_STEPS):
            solution = solve(problem, {primary: magnetising.excitation(alone) - F2, secondary: F2}, start=A)
            A = solution.A
            missing = wanted - flux_linkage_per_m(solution, primary) * depth
            if abs(missing) <= _TOLERANCE * abs(primary_flux):
                break
            # The flux rises with the ampere-turns: each try bounds the answer, and a step beyond a bound is halved. How
            # fast it rises, two tries tell: where a yoke saturates before the leg does, not as fast as it is sought.
            below, above = (max(below, alone), above) if missing > 0 else (below, min(above, alone))
            slope = 1.0 if before is None else (before[1] - missing) / (alone - before[0])
            before = alone, missing
            step = alone + missing / slope if slope > 0 else alone + missing
            if not below < step < above:
                step = 0.5 * (below + above) if np.isfinite(below + above) else alone + missing
            alone = step
        else:
            what, tried = "flux by place while shorted", f"{_MOST_STEPS} corrections"
            off = abs(missing / primary_flux)
            raise NotConverged(what, residual=off, tolerance=_TOLERANCE, tried=tried)
        for name, flux in cut_fluxes_per_m(model.coarse, solution).items():
            highest[name] = max(highest[name], abs(flux))
    widths = {cut.name: cut.width for cut in model.mesh.section.cuts}
    average = {name: flux / widths[name] for name, flux in highest.items()}
    check_places(average, iron, [r.name for r in model.mesh.section.regions if r.role is Role.SHUNT])
    return PlaceFlux(
        flux_density={name: float(iron.iron_flux_density(np.array(value))) for name, value in average.items()}
    )


def check_places(average: Mapping[str, float], iron: Reluctivity, shunts: Sequence[str]) -> None:
    """Refuse flux densities beyond the end of the iron's table.

    Parameters
    ----------
    average
        Of iron and air, by place [T].
    iron
        Law of legs and yokes.
    shunts
        Places that are none of them: shunts may be of another sheet.

    Raises
    ------
    OutOfRange
        If a place lies beyond.
    """
    place, value = max(((k, v) for k, v in average.items() if k not in shunts), key=lambda item: item[1])
    if value > iron.valid_to:
        msg = (
            f"core.bh_table ends too early: with the lead ends joined the {place} would go beyond "
            f"{iron.iron_flux_density(iron.valid_to):.3g} T, where its rows end; give core.saturation_polarisation "
            "(about 2.0 to 2.16 T for electrical steel) to continue it"
        )
        raise OutOfRange(msg)
