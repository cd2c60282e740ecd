"""Characteristics of a core like one that is solved, to first order in the lengths by which they differ."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fem.arrays import Floats
from fem.characteristics.by_key import Slopes
from fem.characteristics.characterise import Characteristics
from fem.cubics import Cubics
from geometries.shapes.blocks import Block


def moved(found: Characteristics, slopes: Slopes, change: Floats, blocks: tuple[Block, ...]) -> Characteristics:
    """Return what the fields say of a core whose lengths have changed a little.

    What only pictures, forces, joints and the eddy losses of single wires take stays, as does the curve of shunts.
    Window and ends have equal shares of a change of the leakage.

    `change` is that of each key (keys,) [m], `blocks` are as they lie then. Raises ValueError where the fields have no
    derivative by a length that changes.
    """
    along = np.flatnonzero(change)

    def by(slope: Floats) -> Floats:
        return np.asarray(slope[..., along] @ change[along])

    curve, leak = found.magnetising, found.leakage
    log_F, dense = np.log(slopes.ampere_turns), np.log(curve.ampere_turns[1:])

    def carried(values: Floats, slope: Floats) -> Floats:
        """Add a change that is known at the points to the dense curve."""
        return np.asarray(values + np.append(0.0, Cubics.monotone(log_F, by(slope))(dense)))

    flux, grown = carried(curve.flux_per_turn, slopes.flux), 1 + float(by(slopes.leakage)) / leak.permeance
    if np.isnan(flux).any() or np.isnan(grown):
        msg = "no derivative by a length that parts what touches"
        raise ValueError(msg)
    places = {name: carried(b, slopes.flux_density[name]) for name, b in curve.flux_density_by_place.items()}
    reach = curve.valid_to if np.isinf(curve.valid_to) else float(np.interp(curve.valid_to, curve.flux_per_turn, flux))
    parts = ("permeance", "window_permeance", "end_turn_permeance", "primary_end_permeance")
    return replace(
        found,
        blocks=blocks,
        magnetising=replace(
            curve,
            flux_per_turn=flux,
            other_flux_per_turn=carried(curve.other_flux_per_turn, slopes.other_flux),
            flux_density_by_place=places,
            core_loss_flux_per_turn=curve.core_loss_flux_per_turn + by(slopes.flux),
            hysteresis_loss=curve.hysteresis_loss + by(slopes.hysteresis_loss),
            eddy_loss=curve.eddy_loss + by(slopes.eddy_loss),
            valid_to=reach,
        ),
        leakage=replace(leak, **{part: grown * getattr(leak, part) for part in parts}),
    )
