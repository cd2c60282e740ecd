"""End turns of one energised winding, from unsaturated iron in a gapped core down to iron no better than air.

With mu the relative permeabilities of the wound leg, the other legs and the yokes, the end turns add

    P_end(mu) = P_whole(mu) - P_slab(mu)    [H]

to the planar field: P_whole the flux per turn and ampere-turn of the 3-D problem, P_slab that of one layer of the same
grid as deep as the stack. P_end falls several times over as the iron saturates, depends on where it does, and rises
with a joint gap, so no constant serves. A small change on top of a saturated state sees the iron's incremental
permeability: along the magnetisation curve mu is dB/dH over MU0 at each part, in ratios that the field's cuts tell and
as large as makes P_slab the planar curve's own slope. Either problem costs a small dense solve (`reduced`).

Stretched joints: a layer with gap over a share s of its height counts as 1 / mu = (1 - s) / mu_iron + s / mu_gap.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Floats
from fem.characteristics.magnetising.reduced import Reduced, reduced
from fem.field.bricks.grid import TensorGrid, affordable, end_region_grid, layer_mu_r
from geometries.shapes.blocks import Block, blocks_of, spread_coils
from geometries.shapes.frame import Framed
from geometries.shapes.legs import Part

END_RESOLUTION = 0.6
"""Cells per length relative to the leakage's default; the difference with the slab on the same lines keeps the end part
within about 3 %, which is less than 0.5 % of the winding's inductance."""
THINNEST_JOINT = 0.03
"""Joint or gap that is still resolved, over window width. Resolving one of 0.005 took three times as long and changed
the winding's inductance by 0.2 %."""
MOST_UNKNOWNS = 30_000
"""Of the grid, which is factored ten or fifteen times: some 6 s. A larger one is laid coarser."""
FINELY_PARTED = 0.35
"""Mean distance of neighbouring coils, over window or leg width, from which down a winding in coils may be taken as
one: 18 sections so taken change the end part by 1 %, a grid of half the resolution by 6 to 12 %."""

SCALES = np.geomspace(1.0, 2e4, 60)
"""Permeabilities tabulated along a ray of fixed ratios between the parts."""


@dataclass(frozen=True, kw_only=True, slots=True)
class IronMu:
    """Relative permeability of the parts of a core [-]; incremental where a slope is asked for.

    Parameters
    ----------
    leg
        The leg that carries the energised winding.
    outer_legs
        The other legs.
    yokes
        Both yokes.
    joint
        What fills the joints' gap: 1 in butt and welded joints, the bridging sheets' where they are interleaved.
    """

    leg: float = 1.0
    outer_legs: float = 1.0
    yokes: float = 1.0
    joint: float = 1.0


def iron_mu(core: Framed, by_place: Mapping[str, float], *, joint: float = 1.0) -> IronMu:
    """Return the parts' permeabilities from those read at the section's cuts: means over other legs and over yokes.

    Parameters
    ----------
    core
        The iron.
    by_place
        Relative permeability by cut [-].
    joint
        Of what fills the joints' gap [-].
    """
    legs = core.frame.legs
    return IronMu(
        leg=by_place[core.frame.wound_leg.name],
        outer_legs=float(np.mean([by_place[leg.name] for leg in legs if leg.part is Part.OTHER_LEG])),
        yokes=float(np.mean([mu for place, mu in by_place.items() if "yoke" in place])),
        joint=joint,
    )


UNBRIDGED = (
    *(IronMu(leg=mu, outer_legs=mu, yokes=mu) for mu in (1.0, 8.0, 60.0, 500.0, 8000.0)),
    IronMu(leg=2, outer_legs=10, yokes=200),
    IronMu(leg=10, outer_legs=100, yokes=1000),
    IronMu(leg=100, outer_legs=10, yokes=200),
    IronMu(leg=400, outer_legs=400, yokes=4000),
    IronMu(leg=1000, outer_legs=1000, yokes=100),
)
"""Iron solved for: evenly saturated, and the leg, the outer legs or the yokes ahead of or behind the rest."""
BRIDGED = tuple(
    IronMu(leg=mu, outer_legs=mu, yokes=mu, joint=joint)
    for mu, joint in ((60.0, 10.0), (500.0, 3.0), (500.0, 250.0), (8000.0, 20.0), (8000.0, 4000.0))
)
"""Solved for as well where sheets bridge the joints: unsaturated, and saturated ahead of the rest."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Layers:
    """Share of their boxes' height that is gap, for the joints and for a gap in the leg [-]."""

    joint: float
    gap: float

    def weights(self, mu: IronMu) -> Floats:
        """Return the permeability of air and of each of `PARTS`."""
        beside = 2 / (1 / mu.leg + 1 / mu.outer_legs)
        joint, gap = layer_mu_r(beside, mu.joint, self.joint), layer_mu_r(mu.leg, 1.0, self.gap)
        return np.array([1.0, mu.leg, mu.outer_legs, mu.yokes, joint, gap])


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ExcitingEnd:
    """Flux per turn and ampere-turn of one energised winding: in the stack, and what three dimensions add to it.

    Parameters
    ----------
    whole, slab
        Reduced 3-D problem and reduced planar problem times the stack's depth.
    layers
        What is gap in joints and in the leg's gap.
    """

    whole: Reduced
    slab: Reduced
    layers: Layers

    def end_of_planar(self, planar: Floats, ratios: IronMu | None = None) -> Floats:
        """Return the end permeance of each winding that goes with a planar permeance; constant beyond mu_r of 1 to 2e4.

        Parameters
        ----------
        planar
            Planar flux per turn over ampere-turns, or its slope, times the stack's depth [H].
        ratios
            Permeabilities of legs and yokes relative to each other, and that of the joints' gap as it is; uniform iron
            and gaps of air where not given.

        Returns
        -------
        End turns' flux per turn over ampere-turns, or its slope, (n, windings) [H].
        """
        given = ratios or IronMu()
        least = min(given.leg, given.outer_legs, given.yokes)
        ray = np.stack([self.layers.weights(_scaled(given, scale / least)) for scale in SCALES])
        known = self.slab.permeances(ray)
        ends = self.whole.permeances(ray) - known
        at, table = np.log(planar), np.log(known[:, 0])
        return np.stack([np.interp(at, table, column) for column in ends.T], axis=-1)


def _scaled(mu: IronMu, factor: float) -> IronMu:
    """Return legs and yokes of another permeability in the same ratios."""
    return replace(mu, leg=factor * mu.leg, outer_legs=factor * mu.outer_legs, yokes=factor * mu.yokes)


def exciting_end(core: Framed, blocks: Sequence[Block], *, resolution: float = END_RESOLUTION) -> ExcitingEnd:
    """Compute the end turns' flux of one energised winding over the permeabilities of the iron.

    Parameters
    ----------
    core
        The iron, with its joints and any gap in the leg.
    blocks
        Those of the energised winding, which has to sit on the leg at x = 0, then any others that link its flux.
    resolution
        Cells per length relative to the leakage's default [-].

    Returns
    -------
    The reduced problems.

    Raises
    ------
    ValueError
        If a block does not fit the window, the energised winding sits elsewhere or resolution is not positive.

    Notes
    -----
    Gaps thinner than `THINNEST_JOINT` are stretched to it and filled with iron just good enough
    to leave their reluctance: what they drive round the ends is their magnetomotive force, not their own fringe.
    """
    frame = core.frame
    if any(block.leg_axis for block in blocks_of(blocks, blocks[0].winding)):
        msg = f"the energised winding {blocks[0].winding!r} has to sit on the {frame.wound_leg.name}"
        raise ValueError(msg)
    thinnest = THINNEST_JOINT * frame.window_width
    boxes = frame.boxes(thinnest)
    shares = {box.part: box.gap_share for box in boxes}
    layers = Layers(joint=shares.get(Part.JOINT, 1.0), gap=shares.get(Part.GAP, 1.0))
    weights = [layers.weights(mu) for mu in (*UNBRIDGED, *(BRIDGED if frame.joints_below else ()))]

    def lay(fineness: float) -> TensorGrid:
        return end_region_grid(frame, blocks, (), mu_r=2.0, resolution=fineness, resolve_gap=False, thinnest=thinnest)

    grid, reached = affordable(lay, resolution, MOST_UNKNOWNS)
    height = max(block.top for block in blocks) - min(block.bottom for block in blocks)
    if reached < resolution and height < FINELY_PARTED * min(frame.window_width, frame.wound_leg.width) * len(blocks):
        blocks = spread_coils(blocks)
        grid, _ = affordable(lay, resolution, MOST_UNKNOWNS)
    whole, slab = (reduced(g, frame, blocks, boxes, weights) for g in (grid, grid.slab(frame)))
    return ExcitingEnd(whole=whole, slab=slab, layers=layers)
