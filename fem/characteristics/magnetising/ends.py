"""End turns of one energised winding, from the linear foot into deep saturation: what three dimensions add.

    Phi_end(F) = Phi_whole(F) - Phi_slab(F)    [Wb per turn]

at equal ampere-turns F, Phi_whole of the 3-D problem and Phi_slab of one layer of the same grid as deep as the stack,
closed in as the planar section is, so that what the planar field's own outline takes drops out. In three dimensions the
iron is in another state than in the plane, at a knee a few per cent in flux density and a fifth in permeability apart:
each problem finds its own (`field/bricks/saturating.py`, `reduced`). Air round the 3-D problem has no end.

Stretched joints: a layer with gap over a share s of its height has H(b) = (1 - s) H_iron(b) + s b / mu0, or the
bridging sheets' H(b) in place of the gap's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.characteristics.magnetising.spanned import along
from fem.constants import MU0
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.cut_means import cut_means
from fem.field.bricks.grid import TensorGrid, affordable, bar_cells, cells_within, end_region_grid
from fem.field.bricks.motion import Motion, Moving, grid_motion, slab_motion
from fem.field.bricks.saturating import saturating
from fem.field.bricks.saturating_slopes import LawSlope, flux_slopes
from fem.materials.inverse import Permeability
from fem.materials.mixture import Reluctivity
from geometries.shapes.blocks import Block, blocks_of, spread_coils
from geometries.shapes.frame import Frame, Framed
from geometries.shapes.legs import Part
from geometries.shapes.section import Role, Section

END_RESOLUTION = 0.6
"""Cells per length relative to the leakage's default; the difference with the slab on the same lines keeps the end part
within about `END_GRID`."""
END_GRID = 0.01
"""Of the end part, what twice that resolution changes."""
THINNEST_JOINT = 0.03
"""Joint or gap that is still resolved, over window width. Resolving one of 0.005 took three times as long and changed
the winding's inductance by 0.2 %."""
OPEN_AIR = 2.0
"""Air round the core over window height, beyond which cells go on for ever."""
MOST_UNKNOWNS = 30_000
"""Of the grid, which is factored eight times: some 4 s. A larger one is laid coarser."""
FINELY_PARTED = 0.35
"""Mean distance of neighbouring coils, over window or leg width, from which down a winding in coils may be taken as
one: 18 sections so taken change the end part by 1 %, a grid of half the resolution by 6 to 12 %."""

LEVELS = 7
"""Ampere-turns solved for on the grid itself, among the planar curve's own, where these crowd as it bends."""
LEAST_FLUX = 0.1
"""Share of the largest flux where the levels end: below about a quarter tesla the field hardly changes its shape."""
STEEP = 0.5
"""Share of the largest flux up to which the current goes as a high power of the flux, so that errors matter."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Materials:
    """What a core is made of, by law.

    Parameters
    ----------
    iron
        Of legs and yokes.
    bridge
        Of bridged joints, if they are.
    bar
        Of shunts, if there are any.
    """

    iron: Reluctivity
    bridge: Reluctivity | None = None
    bar: Reluctivity | None = None

    def cells(
        self, grid: TensorGrid, frame: Frame, bars: Sequence[ShuntBar], thinnest: float
    ) -> list[tuple[NDArray[np.bool_], Permeability]]:
        """Return a grid's cells by law; air is left out."""
        return [(at, Permeability.in_series(layers)) for at, layers in self.layers(grid, frame, bars, thinnest)]

    def layers(
        self, grid: TensorGrid, frame: Frame, bars: Sequence[ShuntBar], thinnest: float
    ) -> list[tuple[NDArray[np.bool_], list[tuple[float, Reluctivity | None]]]]:
        """Return a grid's cells by what lies in series in them, as `Permeability.in_series` takes it; no air alone."""
        boxes = frame.boxes(thinnest)
        found = []
        for parts, inside in (
            ((Part.WOUND_LEG, Part.OTHER_LEG, Part.YOKE), None),
            ((Part.JOINT,), self.bridge),
            ((Part.GAP,), None),
        ):
            chosen = [box for box in boxes if box.part in parts]
            share = chosen[0].gap_share if chosen and chosen[0].gap else 0.0
            if chosen and not (share == 1.0 and inside is None):
                series = [(1 - share, self.iron), (share, inside)]
                found.append((cells_within(grid, chosen, *frame.nearest_stack), series))
        if self.bar is not None:
            found.append((bar_cells(grid, frame, bars), [(1.0, self.bar)]))
        return found

    def moves(self, motion: Motion) -> list[LawSlope]:
        """Return how joints and gaps move whose layer holds iron as well: H = (1 - s) H_iron + s H_gap."""

        def by_share(part: Part) -> Callable[[Floats], Floats]:
            bridge = self.bridge if part is Part.JOINT else None
            gap = (lambda b: b / MU0) if bridge is None else bridge.field_strength
            return lambda b: gap(b) - self.iron.field_strength(b)

        return [
            LawSlope(cells=layer.cells, field_strength=by_share(layer.part), slopes=layer.slopes)
            for layer in motion.layers
        ]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class EndPart:
    """What three dimensions add to the flux per turn of each winding along a planar curve's points.

    Parameters
    ----------
    flux, slope
        And its derivative by the ampere-turns (n, windings) [Wb], [H].
    flux_density
        Per cut what they add to the mean flux density along it, iron and insulation together (n,) [T]. To that of
        shunts nothing, whose small section on coarse cells would be 7 % off at its knee.
    error
        Estimated error over the whole flux, the largest up to `STEEP` [-].
    by_length, by_steel
        Derivatives of `flux`, then of the flux density of the wound leg, by the inputs of what moves (n, windings + 1,
        inputs) [Wb/m], [T/m], and of the energised winding's flux by those of the laws' tables (n, inputs); without,
        none.
    """

    flux: Floats
    slope: Floats
    flux_density: Mapping[str, Floats]
    error: float
    by_length: Floats
    by_steel: Floats


def end_part(
    core: Framed,
    blocks: Sequence[Block],
    materials: Materials,
    ampere_turns: Floats,
    planar_flux: Floats,
    section: Section,
    *,
    bars: Sequence[ShuntBar] = (),
    resolution: float = END_RESOLUTION,
    open_air: float = OPEN_AIR,
    moving: Moving | None = None,
    tables: Sequence[tuple[Reluctivity, Floats]] = (),
) -> EndPart:
    """Compute the end turns' flux of one energised winding along its planar curve.

    Parameters
    ----------
    core
        The iron, with its joints and any gap in the leg.
    blocks
        Those of the energised winding, which has to sit on the leg at x = 0, then any others that link its flux.
    materials
        Laws of iron, joints and shunts.
    ampere_turns, planar_flux
        The planar curve's points, rising; they are those of the result (n,) [A], [Wb/m].
    section
        That was solved: its outline is the slab's, its cuts are read in three dimensions too.
    bars
        Shunt bars.
    resolution
        Cells per length relative to the leakage's default [-].
    open_air
        As `OPEN_AIR`.
    moving
        Core, blocks, bars and outline with derivatives, where those of the flux are wanted.
    tables
        Laws whose coefficients move with some inputs, and their derivatives (inputs, 4, n + 1), likewise.

    Raises
    ------
    ValueError
        If a block does not fit the window, the energised winding sits elsewhere or resolution is not positive.
    NotConverged
        If a state is not found.

    Notes
    -----
    Gaps thinner than `THINNEST_JOINT` are stretched to it and filled with iron: what they drive round the ends is their
    magnetomotive force, not their own fringe.
    """
    frame = core.frame
    if any(block.leg_axis for block in blocks_of(blocks, blocks[0].winding)):
        msg = f"the energised winding {blocks[0].winding!r} has to sit on the {frame.wound_leg.name}"
        raise ValueError(msg)
    thinnest = THINNEST_JOINT * frame.window_width

    def lay(fineness: float) -> TensorGrid:
        return end_region_grid(
            frame,
            blocks,
            bars,
            mu_r=2.0,
            resolution=fineness,
            resolve_gap=False,
            thinnest=thinnest,
            open_air=open_air,
        )

    grid, fineness = affordable(lay, resolution, MOST_UNKNOWNS)
    height = max(block.top for block in blocks) - min(block.bottom for block in blocks)
    if fineness < resolution and height < FINELY_PARTED * min(frame.window_width, frame.wound_leg.width) * len(blocks):
        blocks = spread_coils(blocks)
        moving = None if moving is None else replace(moving, blocks=spread_coils(moving.blocks))
        grid, fineness = affordable(lay, resolution, MOST_UNKNOWNS)
    F, levels = ampere_turns, _levels(planar_flux)
    grids = (grid, grid.slab(frame, section.outline))
    whole, slab = (
        along(saturating(g, frame, blocks, materials.cells(g, frame, bars, thinnest)), F, levels) for g in grids
    )
    flux = whole.flux - slab.flux
    through, planar = (cut_means(curve.problem, section.cuts, F, curve.potentials) for curve in (whole, slab))
    more = (through - planar) * np.sign(planar)
    shunts = {region.name for region in section.regions if region.role is Role.SHUNT}
    more[[cut.name in shunts for cut in section.cuts]] = 0.0
    by_length, by_steel = np.zeros((len(flux), flux.shape[1] + 1, 0)), np.zeros((len(flux), 0))
    if moving is not None:
        leg = next(cut for cut in section.cuts if cut.name == frame.wound_leg.name)
        gap = THINNEST_JOINT * moving.frame.window_width
        motion = grid_motion(grid, moving, resolution=fineness, resolve_gap=False, thinnest=gap, open_air=open_air)
        motions = (motion, slab_motion(motion, *grids, moving, thinnest=gap, outline=section.outline))
        read = [curve.reading(leg) for curve in (whole, slab)]
        of_whole, of_slab = (
            flux_slopes(
                problem,
                own,
                moving,
                materials.moves(own),
                [
                    (at, share, law, by_table)
                    for at, series in materials.layers(g, frame, bars, thinnest)
                    for share, held in series
                    for law, by_table in tables
                    if held is law
                ],
                F,
                curve.potentials,
                responses,
            )
            for (problem, responses), curve, g, own in zip(read, (whole, slab), grids, motions, strict=True)
        )
        by_length, by_steel = (a - b for a, b in zip(of_whole, of_slab, strict=True))
        by_length[:, -1] *= np.sign(planar[section.cuts.index(leg)])[:, None]
    share = np.abs(flux[levels, 0]) / whole.flux[levels, 0]
    errors = (whole.change + slab.change + END_GRID * share)[planar_flux[levels] <= STEEP * planar_flux[-1]]
    return EndPart(
        flux=flux,
        slope=whole.slope - slab.slope,
        flux_density={cut.name: added for cut, added in zip(section.cuts, more, strict=True)},
        error=float(errors.max()),
        by_length=by_length,
        by_steel=by_steel,
    )


def _levels(flux: Floats) -> list[int]:
    """Return which points of a planar curve are solved on the grid itself, falling."""
    first = int(np.argmax(flux >= LEAST_FLUX * flux[-1]))
    return sorted({round(k) for k in np.linspace(first, flux.size - 1, LEVELS)}, reverse=True)
