"""What joints and a gap in the leg take of the ampere-turns.

Ampere's law round a loop of iron and air: F = int H dl in the iron + int H dl across joints and gaps. The second sum
over F is the joints' share.
"""

from __future__ import annotations

from collections import defaultdict

import numpy as np

from fem.field.static.model import Grid
from fem.field.static.newton import FieldSolution
from fem.field.static.quantities import mean_field_along_y
from geometries.shapes.section import Region, Role


def joint_ampere_turns(grid: Grid, solution: FieldSolution) -> float:
    """Return the ampere-turns across the joints and gaps of one loop [A]: through the primary's leg and back.

    Parameters
    ----------
    grid, solution
        The primary energised.

    Notes
    -----
    Mean over each leg's width of the integral of H along it, through joint and gap; of several legs in parallel for the
    way back the mean counts. The rest of the loop's ampere-turns is the iron's (Ampere's law), so that the share lies
    between nothing and the whole however far the field fringes.
    """
    drop = 0.0
    for k, share in crossings(grid):
        region = grid.regions[k]
        field = mean_field_along_y(solution, np.flatnonzero(grid.region == k))
        drop += share * abs(field) * (region.y1 - region.y0)
    return drop


def crossings(grid: Grid) -> list[tuple[int, float]]:
    """Return the numbers of the regions that are joints or gaps, and the share of the flux's ways that each lies on."""
    by_leg: dict[float, list[int]] = defaultdict(list)
    for k, region in enumerate(grid.regions):
        if region.role is Role.JOINT or _is_gap(region):
            by_leg[0.0 if region.x0 <= 0 < region.x1 else region.x0].append(k)
    back = len(by_leg) - (0.0 in by_leg)
    return [(k, 1.0 if leg == 0.0 else 1 / back) for leg, numbers in by_leg.items() for k in numbers]


def _is_gap(region: Region) -> bool:
    return region.role is Role.AIR and region.name.endswith("leg gap")
