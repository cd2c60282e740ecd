"""What a brick grid can hold: windings and bars inside the windows, iron no worse than air."""

from collections.abc import Sequence

from fem.field.bricks.bars import ShuntBar
from geometries.shapes.blocks import Block, blocks_of, winding_names
from geometries.shapes.frame import Framed
from geometries.shapes.section import GRID


def check_arrangement(
    core: Framed, blocks: Sequence[Block], shunts: Sequence[ShuntBar], *, mu_r: float, resolution: float
) -> None:
    """Refuse what does not fit the window.

    Parameters
    ----------
    core, blocks, shunts
        The arrangement.
    mu_r
        Relative permeability of the core [-].
    resolution
        Cells per length relative to the default [-].

    Raises
    ------
    ValueError
        If a block or bar does not fit, mu_r is below 1 or resolution not positive.
    """
    frame = core.frame
    height = frame.window_height
    for block in blocks:
        width = frame.room_beside(frame.leg_at(block.leg_axis))
        if block.bottom < -GRID or block.top > height + GRID:
            msg = f"block {block.name!r} from {block.bottom} to {block.top} m leaves the window, 0 to {height} m"
            raise ValueError(msg)
        if min(block.leg_clearance, block.end_clearance) < 0 or block.leg_clearance + block.build > width + GRID:
            msg = (
                f"block {block.name!r} does not fit: clearances {block.leg_clearance} and {block.end_clearance} m, "
                f"build {block.build} m, window {width} m"
            )
            raise ValueError(msg)
    for name in winding_names(blocks):
        blocks_of(blocks, name)
    for bar in shunts:
        if bar.top > height or bar.leg_gap + bar.outer_leg_gap >= frame.window_width:
            msg = (
                f"shunt bar from {bar.bottom} to {bar.top} m with gaps {bar.leg_gap} and {bar.outer_leg_gap} m "
                f"does not fit a window of {frame.window_width} m by {height} m"
            )
            raise ValueError(msg)
    if not (mu_r >= 1 and resolution > 0):
        msg = f"mu_r must be at least 1 and resolution positive, got {mu_r} and {resolution}"
        raise ValueError(msg)
