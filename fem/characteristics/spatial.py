"""What the three-dimensional fields depend on, with derivatives by the lengths of a job: iron, windings, shunts."""

from __future__ import annotations

from fem.characteristics.laws import LINEAR_MU_R
from fem.field.bricks.bars import ShuntBar
from fem.field.bricks.motion import Moving
from geometries.assembly.by_key import ByKey
from geometries.shapes.blocks import single_blocks
from geometries.shapes.section import Role


def moving_leakage(found: ByKey) -> Moving:
    """Return what leakage depends on: joints closed, few conductors each by itself.

    Parameters
    ----------
    found
        A design's lengths with their derivatives.
    """
    blocks, bars = single_blocks(found.blocks), _bars(found)
    return Moving(frame=found.frame.closed, blocks=blocks, bars=bars, inputs=len(found.keys))


def moving_core(found: ByKey) -> Moving:
    """Return what the energised primary's field depends on."""
    return Moving(frame=found.frame, blocks=found.blocks, bars=_bars(found), inputs=len(found.keys))


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
