"""What the field says about a core and its arrangement without any turns in it, for arithmetic on paper."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, pi, sqrt

import numpy as np

from fem.assumptions import assumed
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics, Progress
from fem.circuit.curves import MagnetisingCurve
from fem.circuit.excitation import excitation_rms
from fem.circuit.knee import knee_point
from fem.design.ring import in_use, ring_faults
from fem.design.sheet import sheet_of
from fem.design.transformer import Design
from fem.errors import DoesNotFit
from fem.estimation.fields.source import Solved, Source
from fem.estimation.inputs.circuit import separated_loss
from fem.materials.loss import LOWEST_SHARE
from fem.quantity import of
from fem.threads import one_thread
from fem.trust.doubts import DIMENSIONS, STACKING, STEEL
from geometries.shapes.blocks import blocks_of, winding_names
from geometries.windings.arrangement import place
from geometries.windings.fit import FILL_LIMIT, fit

FLUX_DENSITIES = (1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8)
"""Peak in the centre leg's iron [T]."""


SHUNTED = (
    "With shunts the leakage falls once they saturate: the figure is that of small currents, and the short-circuit "
    "current comes out larger than by it."
)
TWO_CORES = (
    "Two cores: volts per turn are those of a turn round both. Primaries in series have the turns that follow on "
    "paper; in parallel each has twice as many, and half of them count for currents and leakage."
)
EASY_FILL = assumed("easy fill").typical
"""Share of a window that is filled with copper without pains, by hand with thick cable [-]."""


STEP = 1e-3
"""More of a length that the card tells the effect of [m]; a hundredth of it where the length itself is less."""

_SOLVED = Solved()


class NotTurnFree(ValueError):
    """An arrangement whose field depends on the numbers of turns."""


@dataclass(frozen=True, kw_only=True, slots=True)
class CardRow:
    """The core at one flux density."""

    flux_density: float = of("T", "peak in the iron of the primary's leg")
    volts_per_turn: float = of("V", "r.m.s. of a sinusoid")
    ampere_turns_peak: float = of("A", "magnetising, primary energised, sinusoidal flux, peak")
    ampere_turns_rms: float = of("A", "the same, r.m.s.")
    core_loss: float = of("W", "core loss by the sheet's guaranteed figures")


@dataclass(frozen=True, kw_only=True, slots=True)
class CardLength:
    """What a little more of a length does, by the field's derivatives; null where it would part what touches."""

    key: str = of("", "key of the job file")
    length: float = of("m", "what it is")
    more: float = of("m", "how much more")
    flux_change: float | None = of("-", "change of the flux per turn at the ampere-turns of 1.5 T")
    leakage_change: float | None = of("-", "change of the leakage")


@dataclass(frozen=True, kw_only=True, slots=True)
class Card:
    """A core with its arrangement of windings, turn-free.

    Bands are relative half-widths. `notes` says what else to mind with this arrangement.
    """

    title: str
    frequency: float = of("Hz", "mains frequency")
    rows: tuple[CardRow, ...] = of("", "at chosen flux densities")
    lengths: tuple[CardLength, ...] = of("", "what each length does, where that was asked for")
    knee_volts_per_turn: float | None = of("V", "r.m.s. volts per turn at the knee point (IEC 61869-2)")
    knee_reason: str | None = of("", "why there is no knee point")
    leakage_per_turn_squared: float = of("H", "leakage inductance per turn squared, windings only")
    leakage_band: float = of("-", "its band")
    coupling: float = of("-", "share of the primary's flux that the secondary links at 1.5 T")
    flux_band: float = of("-", "band of flux at given ampere-turns: steel, stacking, dimensions")
    core_loss_low: float = of("-", "least core loss to expect, as a share of the rows'")
    core_loss_high: float = of("-", "greatest core loss to expect, as a share of the rows'")
    window_area: float = of("m2", "one window")
    copper_area_easy: float = of("m2", "copper that goes into it by hand without pains")
    copper_area_most: float = of("m2", "copper that goes into it by hand at most")
    primary_area: float = of("m2", "cross-section of the primary's blocks in one window")
    secondary_area: float = of("m2", "cross-section of the secondary's blocks in one window")
    primary_mean_turn: float = of("m", "mean length of the primary's turns")
    secondary_mean_turn: float = of("m", "mean length of the secondary's turns")
    notes: tuple[str, ...] = of("", "what else to mind")


@one_thread()
def card(
    design: Design,
    *,
    characteristics: Source = _SOLVED,
    progress: Progress | None = None,
    lengths: bool = False,
) -> Card:
    """Return the card of a design's core and arrangement.

    Parameters
    ----------
    design
        Its turns play no part, but for the size of blocks where that is not given.
    characteristics
        Where the field's curves and numbers come from.
    progress
        Told in words what is under way.
    lengths
        Whether to tell what each length does, by the field's derivatives.

    Raises
    ------
    NotTurnFree
        If the primary has extra turns: how they share the field depends on all turns.
    DoesNotFit
        If the windings do not go into the window.
    NotConverged
        If a field does not converge.
    """
    design = in_use(design)
    core, mains = design.core, design.mains
    if design.windings.primary.extra is not None:
        msg = "windings.primary.extra: with extra turns the field depends on all turns; make the card without them"
        raise NotTurnFree(msg)
    blocks = place(core, design.windings)
    fitted = fit(core, design.windings, blocks, shunt=design.shunt)
    if faults := ring_faults(core, design.work_piece, blocks, fitted.faults):
        raise DoesNotFit(faults)
    sheet = sheet_of(core, design.fitted_shunt)
    told = progress or (lambda _: None)
    slopes = characteristics.slopes(design, blocks, sheet, told) if lengths else None
    found, _ = characteristics(design, blocks, sheet, told)
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
    low, high = assumed("measured core loss").band
    if core.specific_loss is None:
        low, high = assumed(f"building factor, {core.joint.value}").band
        low *= LOWEST_SHARE
    knee = knee_point(curve, mains.frequency)
    middle = found.magnetising.flux_at(found.flux_place, 1.5)
    turns = [core.frame.mean_turn(blocks_of(blocks, name)) for name in winding_names(blocks)]
    return Card(
        title=design.title,
        frequency=mains.frequency,
        rows=tuple(rows),
        lengths=() if slopes is None else _lengths(slopes, found, middle),
        knee_volts_per_turn=knee.volts_per_turn,
        knee_reason=knee.reason,
        leakage_per_turn_squared=found.leakage.permeance,
        leakage_band=found.leakage.band,
        coupling=float(found.magnetising.other_flux(np.array([middle]))[0] / middle),
        flux_band=sqrt(STEEL**2 + STACKING**2 + DIMENSIONS**2),
        window_area=core.window_area,
        core_loss_low=low,
        core_loss_high=high,
        copper_area_easy=EASY_FILL * core.window_area,
        copper_area_most=FILL_LIMIT * core.window_area,
        primary_area=sum(block.area for block in blocks_of(blocks, "primary")),
        secondary_area=sum(block.area for block in blocks_of(blocks, "secondary")),
        primary_mean_turn=turns[0],
        secondary_mean_turn=turns[1],
        notes=tuple(
            note for note, holds in ((SHUNTED, design.fitted_shunt), (TWO_CORES, core.second)) if holds is not None
        ),
    )


def _lengths(slopes: Slopes, found: Characteristics, flux: float) -> tuple[CardLength, ...]:
    """Return what each length does at a flux per turn [Wb], the most effective first."""

    def share(slope: float, value: float, more: float) -> float | None:
        return None if isnan(slope) else slope * more / value

    rows = []
    at_flux = slopes.flux_at(found.magnetising.excitation(flux))
    for key, length, by_flux, leakage in zip(slopes.keys, slopes.values, at_flux, slopes.leakage, strict=True):
        more = STEP if length > STEP else STEP / 100
        changes = share(by_flux, flux, more), share(leakage, found.leakage.permeance, more)
        rows.append(CardLength(key=key, length=length, more=more, flux_change=changes[0], leakage_change=changes[1]))
    return tuple(sorted(rows, key=lambda row: -max(abs(row.flux_change or 0.0), abs(row.leakage_change or 0.0))))
