"""Sections meshed as finely as a test asks, and filled with a smooth iron that another solver can use, too."""

from unittest.mock import patch

import numpy as np
from skfem import MeshTri

from geometries.assembly import sizes
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.laws import SmoothIron

IRON = SmoothIron()


def filled(region: Region) -> SmoothIron | None:
    """Return the smooth iron where there is iron."""
    return IRON if region.role is Role.IRON else None


def meshed(section: Section, fineness: float) -> SectionMesh:
    """Mesh a section with all elements so many times smaller than by default."""
    names = ("_COARSEST", "_CORNER", "_GROWTH")
    with patch.multiple(sizes, **{name: getattr(sizes, name) / fineness for name in names}):
        return mesh_section(section)


def refined(mesh: SectionMesh) -> SectionMesh:
    """Return the mesh with each triangle cut into four."""
    twice = MeshTri(mesh.points, mesh.triangles).refined()
    region = np.tile(mesh.region, 4)
    return SectionMesh(
        points=twice.p, triangles=twice.t.astype(np.int64), region=region, section=mesh.section, level=mesh.level + 1
    )
