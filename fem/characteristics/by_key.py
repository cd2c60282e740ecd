"""Derivatives of a core's characteristics by the lengths of a job: planar field and three dimensions together.

At given ampere-turns F, with d the depth of the stacks and the end part Phi_end (`magnetising/curve.py`),

    dPhi = lambda dd + d dlambda + dPhi_end,

likewise the flux density by place, with `_added` for what three dimensions add, and the leakage permeance's by the 3-D
field alone, which holds its window part too.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.characteristics.laws import BRIDGED, LINEAR_MU_R
from fem.characteristics.leakage.whole import EndRegion
from fem.characteristics.magnetising.by_key import PlanarSlopes
from fem.characteristics.magnetising.curve import mean_flux_density
from fem.characteristics.magnetising.ends import EndPart
from fem.characteristics.magnetising.planar import PlanarCurve
from fem.constants import MU0
from fem.cubics import Cubics
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.motion import Moving
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from fem.materials.varied import law_slopes
from geometries.assembly.by_key import ByKey
from geometries.shapes.blocks import single_blocks
from geometries.shapes.dual import gradients, number
from geometries.shapes.section import Role

TORN = "a little more of it would part what touches"
HELD = "how the leakage saturates shunts: only that of small currents moves"


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Slopes:
    """Derivatives of `Characteristics`, per metre of each key; NaN where a key parts what touches.

    Parameters
    ----------
    keys, values
        Dotted keys of a job file, all lengths, and what they are [m].
    ampere_turns
        Of the points at which the flux is known, rising (n,) [A].
    flux, other_flux
        Of the flux per turn of the energised and of the other winding at these (n, keys) [Wb/m].
    flux_density
        Per cut of the iron's mean flux density along it at these (n, keys) [T/m].
    hysteresis_loss, eddy_loss
        Of the parts of the core loss at these (n, keys) [W/m].
    flux_by_steel
        Of the energised winding's flux, by the stacking factor [Wb] and by the flux density of each row of the steel's
        table but the first [Wb/T] (n, rows).
    leakage, leakage_errors
        Of the leakage permeance, with estimated errors of their own (keys,) [H/m].
    held
        What has no derivatives by any key, and why; empty if nothing.
    """

    keys: tuple[str, ...]
    values: tuple[float, ...]
    ampere_turns: Floats
    flux: Floats
    other_flux: Floats
    flux_density: Mapping[str, Floats]
    hysteresis_loss: Floats
    eddy_loss: Floats
    flux_by_steel: Floats
    leakage: Floats
    leakage_errors: Floats
    held: str = ""

    @property
    def reasons(self) -> dict[str, str]:
        """Why there are no derivatives, by those keys that have none."""
        lacking = np.isnan(self.flux).any(axis=0) | np.isnan(self.leakage)
        return {key: TORN for key, lacks in zip(self.keys, lacking, strict=True) if lacks}

    def flux_at(self, ampere_turns: float) -> Floats:
        """Return the derivatives of the flux per turn at ampere-turns between the points (keys,) [Wb/m]."""
        log_F = np.log(self.ampere_turns)
        return np.array([float(Cubics.monotone(log_F, column)(np.log(ampere_turns))) for column in self.flux.T])


def slopes(
    found: ByKey, planar: PlanarCurve, of_planar: PlanarSlopes, end: EndPart, whole: EndRegion, iron: Reluctivity
) -> Slopes:
    """Return the derivatives of a core's characteristics.

    Parameters
    ----------
    found
        The design's lengths with their derivatives.
    planar, of_planar
        The planar curve and its derivatives.
    end, whole
        End part and leakage in three dimensions, with theirs by `moving_core` and `moving_leakage`.
    iron
        Law of legs and yokes.
    """
    depth = found.frame.iron_depth
    deeper = gradients([depth], len(found.keys))[0]
    # What is read on the coarse mesh is carried over by what refinement makes of the linkage.
    finer = (planar.flux / planar.coarse_flux)[:, None]
    flux = number(depth) * of_planar.flux + np.outer(planar.flux, deeper)
    if of_planar.flux_by_stacking_factor is None or of_planar.flux_by_table is None:
        msg = "the planar curve's derivatives by the steel are missing"
        raise ValueError(msg)
    by_planar = np.column_stack((of_planar.flux_by_stacking_factor, of_planar.flux_by_table))
    other = number(depth) * of_planar.other_flux + np.outer(planar.other_coarse_flux, deeper)
    return Slopes(
        keys=found.keys,
        values=found.values,
        ampere_turns=planar.ampere_turns,
        flux=flux + end.by_length[:, 0],
        other_flux=finer * other + end.by_length[:, 1],
        flux_density={
            name: _of_iron(b[:, None], iron)
            * (finer * of_planar.flux_density[name] + np.sign(b)[:, None] * _added(found, end, name))
            for name, b in mean_flux_density(planar, end).items()
        },
        hysteresis_loss=number(depth) * of_planar.hysteresis_loss + np.outer(planar.hysteresis_loss, deeper),
        eddy_loss=number(depth) * of_planar.eddy_loss + np.outer(planar.eddy_loss, deeper),
        flux_by_steel=number(depth) * by_planar + end.by_steel,
        leakage=whole.slopes,
        leakage_errors=whole.slope_errors,
        held=HELD if any(region.role is Role.SHUNT for region in found.section.regions) else "",
    )


def _added(found: ByKey, end: EndPart, name: str) -> Floats:
    """Return how what three dimensions add to the flux density through a cut moves at given ampere-turns (n, keys).

    Elsewhere than in the wound leg held is what they drive through it, by its width.
    """
    if name == found.frame.wound_leg.name:
        return end.by_length[:, -1]
    depth = found.frame.iron_depth
    return -np.outer(end.flux_density[name], gradients([depth], len(found.keys))[0]) / number(depth)


def _of_iron(b: Floats, iron: Reluctivity) -> Floats:
    """Return how the flux density in the iron itself changes with that of iron and air together, b [T]."""
    nu, dnu = iron.nu_dnu(b * b)
    air = MU0 * (nu + 2 * b * b * dnu)
    return np.asarray(air + (1 - air) / iron.iron_fraction)


def moving_laws(curve: BHCurve, iron: Reluctivity, bridge: Reluctivity | None) -> list[tuple[Reluctivity, Floats]]:
    """Return how the laws of iron and of bridged joints move with stacking factor and table (rows, 4, n + 1)."""
    found = []
    for share, law in ((1.0, iron), (BRIDGED, bridge)):
        if law is not None:
            slopes = law_slopes(curve, law.iron_fraction)
            found.append((law, np.concatenate((share * slopes[:1], slopes[1:]))))
    return found


def moving_leakage(found: ByKey) -> Moving:
    """Return what leakage depends on: joints closed, few conductors each by itself."""
    blocks, bars = single_blocks(found.blocks), _bars(found)
    return Moving(frame=found.frame.closed, blocks=blocks, bars=bars, inputs=len(found.keys))


def moving_core(found: ByKey) -> Moving:
    """Return what the energised primary's field depends on."""
    section = found.section.half() if found.section.mirror_symmetric else found.section
    size = len(found.keys)
    return Moving(frame=found.frame, blocks=found.blocks, bars=_bars(found), outline=section.outline, inputs=size)


def _bars(found: ByKey) -> tuple[ShuntBar, ...]:
    frame = found.frame
    for region in found.section.regions:
        if region.role is Role.SHUNT and region.x0 > 0:
            bar = ShuntBar(
                leg_gap=region.x0 - frame.wound_leg.x1,
                outer_leg_gap=min(leg.x0 for leg in frame.legs if leg.x0 > region.x0) - region.x1,
                bottom=region.y0,
                height=region.y1 - region.y0,
                depth=frame.stack_depth,
                mu_r=LINEAR_MU_R,
            )
            return (bar,)
    return ()
