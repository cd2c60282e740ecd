"""Meshes made without gmsh: graded tensor grids that follow a section, and rings of triangles round an axis."""

import numpy as np
from numpy.typing import NDArray
from skfem import MeshTri

from fem.verification.meshes import graded, midpoints, rings, tensor_mesh
from geometries.assembly.mesh import SectionMesh
from geometries.shapes.section import Role, Section

__all__ = ["graded", "midpoints", "rings", "tensor_mesh", "tensor_section_mesh"]

Array = NDArray[np.float64]


def tensor_section_mesh(
    section: Section, *, corner: float, inner: float, far: float, growth: float = 1.5
) -> SectionMesh:
    """Triangulate a section by a tensor grid.

    Parameters
    ----------
    section
        What to mesh.
    corner, inner, far
        Size [m] of the elements at lines that bound iron, at other regions' edges and at the outline.
    growth
        Ratio of neighbouring sizes [-].
    """
    axes = []
    for low, high, least, most in (("x0", "x1", 0, 2), ("y0", "y1", 1, 3)):
        wanted = {section.outline[least]: far, section.outline[most]: far}
        for r in section.regions:
            size = corner if r.role in (Role.IRON, Role.SHUNT, Role.JOINT) else inner
            for value in (getattr(r, low), getattr(r, high)):
                near = next((v for v in wanted if abs(v - value) < 1e-9), value)
                wanted[near] = min(size, wanted.get(near, size))
        breaks = sorted(wanted)
        axes.append(graded(breaks, [wanted[b] for b in breaks], growth))
    mesh = MeshTri.init_tensor(*axes)
    x, y = midpoints(mesh.p, mesh.t)
    region = np.full(mesh.t.shape[1], -1, dtype=np.int64)
    for index, r in enumerate(section.regions):
        region[(r.x0 < x) & (x < r.x1) & (r.y0 < y) & (y < r.y1)] = index
    return SectionMesh(points=mesh.p, triangles=mesh.t.astype(np.int64), region=region, section=section, level=0)
