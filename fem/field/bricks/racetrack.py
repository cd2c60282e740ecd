"""Racetrack windings round a rectangular leg: which share of the turns encircles a point.

A block's turns lie evenly in its height h and build b, so with F ampere-turns a current density of size F / (b h) runs
round the leg. It is the curl of a field along y alone, T0 = F share(x, z) / h within the block's height and 0 above and
below: curl T0 = (-dT0/dz, 0, dT0/dx), and the share falls by 1 / b per metre outwards.
"""

import numpy as np

from fem.arrays import Floats
from geometries.shapes.blocks import Block


def encircling_share(block: Block, leg_width: float, stack_depth: float, x: Floats, z: Floats) -> Floats:
    """Return the share of the block's turns that encircle the points (x, z).

    One inside the innermost turn, falling linearly through the build, zero outside. T0 is normal to the block's upper
    and lower faces and may end there without a current sheet.

    Parameters
    ----------
    block
        The winding.
    leg_width, stack_depth
        Section of the leg, or of both cores' legs with what lies between, that it surrounds [m].
    x, z
        Points in the plane across the leg, measured from the middle of that [m]; any shapes that broadcast.

    Returns
    -------
    Share, broadcast [-].
    """
    radius = block.corner_radius
    over_x = np.abs(x) - (leg_width / 2 + block.leg_clearance - radius)
    over_z = np.abs(z) - (stack_depth / 2 + block.end_clearance - radius)
    # Distance from the rounded corner's centre, or from the straight line through it where a side is straight.
    corner = np.hypot(np.maximum(over_x, 0.0), np.maximum(over_z, 0.0))
    distance = np.where((over_x > 0) & (over_z > 0), corner, np.maximum(over_x, over_z))
    return np.clip(1 - (distance - radius) / block.build, 0.0, 1.0)
