"""What the field says about a core and its arrangement without any turns in it, for arithmetic on paper."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from fem.characteristics.characterise import Progress
from fem.lumped.curves import MagnetisingCurve
from fem.lumped.excitation import excitation_rms
from fem.lumped.knee import knee_point
from fem.study.bands import DIMENSIONS, STACKING, STEEL
from fem.study.design import Design
from fem.study.estimate import DoesNotFit, solve_characteristics
from fem.study.network import separated_loss
from fem.study.sheet import sheet_of
from geometries.blocks import blocks_of, winding_mean_turn, winding_names
from geometries.fit import FILL_LIMIT, fit
from geometries.windings import place

FLUX_DENSITIES = (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8)
"""Peak in the centre leg's iron [T]."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CardRow:
    """The core at one flux density.

    Parameters
    ----------
    flux_density
        Peak in the centre leg's iron [T].
    volts_per_turn
        R.m.s. of a sinusoid [V].
    ampere_turns_peak, ampere_turns_rms
        Magnetising, primary energised, sinusoidal flux [A].
    core_loss
        Of the sheet's guaranteed figures [W].
    """

    flux_density: float
    volts_per_turn: float
    ampere_turns_peak: float
    ampere_turns_rms: float
    core_loss: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Card:
    """A core with its arrangement of windings, turn-free.

    Parameters
    ----------
    title
        Of the job.
    frequency
        [Hz].
    rows
        At chosen flux densities.
    knee_volts_per_turn, knee_reason
        R.m.s. volts per turn at the knee point (IEC 61869-2) [V], or why there is none.
    leakage_per_turn_squared, leakage_band
        [H]; relative half-width.
    coupling
        Share of the primary's flux that the secondary links at 1.5 T [-].
    flux_band
        Relative half-width of flux at given ampere-turns: steel, stacking, dimensions.
    window_area, copper_area
        Of one window, and the copper that goes in by hand at most [m2].
    primary_area, secondary_area
        Cross-section of each block in one window [m2].
    primary_mean_turn, secondary_mean_turn
        [m].
    """

    title: str
    frequency: float
    rows: tuple[CardRow, ...]
    knee_volts_per_turn: float | None
    knee_reason: str | None
    leakage_per_turn_squared: float
    leakage_band: float
    coupling: float
    flux_band: float
    window_area: float
    copper_area: float
    primary_area: float
    secondary_area: float
    primary_mean_turn: float
    secondary_mean_turn: float


def card(design: Design, *, progress: Progress | None = None) -> Card:
    """Return the card of a design's core and arrangement.

    Raises
    ------
    DoesNotFit
        If the windings do not go into the window.
    NotConverged
        If a field does not converge.
    """
    core, mains = design.core, design.mains
    blocks = place(core, design.windings)
    fitted = fit(core, design.windings, blocks)
    if not fitted.fits:
        raise DoesNotFit(tuple((fault.key, fault.message) for fault in fitted.faults))
    sheet = sheet_of(core, design.fitted_shunt)
    found, _ = solve_characteristics(design, blocks, sheet, progress or (lambda _: None))
    curve = MagnetisingCurve(ampere_turns=found.magnetising.ampere_turns, flux_per_turn=found.magnetising.flux_per_turn)
    loss = separated_loss(found).at(mains.frequency)
    rows = []
    for b in FLUX_DENSITIES:
        flux = found.magnetising.flux_at(found.flux_place, b)
        found.magnetising.check(flux)
        volts = sqrt(2) * pi * mains.frequency * flux
        rows.append(
            CardRow(
                flux_density=b,
                volts_per_turn=volts,
                ampere_turns_peak=float(curve.ampere_turns_at(flux)),
                ampere_turns_rms=float(excitation_rms(curve, flux)),
                core_loss=loss.conductance(flux, mains.frequency) * volts**2,
            )
        )
    knee = knee_point(curve, mains.frequency)
    middle = found.magnetising.flux_at(found.flux_place, 1.5)
    leg, depth = core.leg_width, core.stack_depth
    turns = [winding_mean_turn(blocks_of(blocks, name), leg, depth) for name in winding_names(blocks)]
    return Card(
        title=design.title,
        frequency=mains.frequency,
        rows=tuple(rows),
        knee_volts_per_turn=knee.volts_per_turn,
        knee_reason=knee.reason,
        leakage_per_turn_squared=found.leakage.permeance,
        leakage_band=found.leakage.band,
        coupling=float(found.magnetising.other_flux(np.array([middle]))[0] / middle),
        flux_band=sqrt(STEEL**2 + STACKING**2 + DIMENSIONS**2),
        window_area=core.window_area,
        copper_area=FILL_LIMIT * core.window_area,
        primary_area=sum(block.area for block in blocks_of(blocks, "primary")),
        secondary_area=sum(block.area for block in blocks_of(blocks, "secondary")),
        primary_mean_turn=turns[0],
        secondary_mean_turn=turns[1],
    )
