"""The idle field for a viewer of finite-element results."""

from __future__ import annotations

from pathlib import Path

import meshio
import numpy as np

from fem.estimation.result import Estimate
from fem.field.static.space import node_locations
from fem.report.figures.drawing import flux_density
from fem.report.files.whole import replacing

CENTRE = np.array([[1 / 3], [1 / 3]])


def write_vtu(estimate: Estimate, path: str | Path) -> None:
    """Write the idle field as a binary VTU file.

    Point data: `A_Wb_per_m` on quadratic triangles. Cell data: `B_T` (3 components, at the triangle's centre, averaged
    over iron and air) and `region` (index into the section's regions, -1 for air). A symmetric core is its right half.

    Parameters
    ----------
    estimate
        Its pictures' idle field is written.
    path
        File to write.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    field = estimate.drawn.idle_field
    grid = field.model.fine
    space = grid.problem.space
    x, y = node_locations(space, grid.problem.geometry)
    Bx, By = (component[0] for component in flux_density(field, CENTRE))
    mesh = meshio.Mesh(
        np.column_stack((x, y, np.zeros_like(x))),
        [("triangle6", space.element_dofs.T)],
        point_data={"A_Wb_per_m": field.fine.A},
        cell_data={"B_T": [np.column_stack((Bx, By, np.zeros_like(Bx)))], "region": [grid.region]},
    )
    with replacing(path) as stream:
        # it opens files by their name only
        meshio.write(stream.name, mesh, file_format="vtu", binary=True)
