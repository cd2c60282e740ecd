"""What a mesh and its refinement share with every other mesh of the same triangles, wherever their points are.

Uniform refinement cuts each triangle into four like it at the middles of its sides, so that the coarse space lies in
the fine one, and which node depends on which is the same for all. Numbering, sparsity pattern and symbolic factors cost
as much as two Newton steps; they are made once for all models on the same triangles: the saturating and the linear one
of a core, and all sections a mesh is moved onto.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Integers
from fem.field.static.space import Prolongation, Space, Where, build_geometry, build_space, prolongation
from fem.kept import Recent


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Topology:
    """A mesh and its uniform refinement, without the places of their points.

    Parameters
    ----------
    coarse, fine
        Their spaces. The symbolic factors in them are shared by all models that use them: in one thread only.
    refine
        From the coarse space to the fine one; the same wherever the points are.
    ends
        Vertices between which each further vertex of the fine mesh lies (2, edges).
    """

    coarse: Space
    fine: Space
    refine: Prolongation
    ends: Integers

    def fine_points(self, points: Floats) -> Floats:
        """Return the vertices of the refinement (2, n + edges) from those of the mesh (2, n) [m].

        It is linear, so it takes motions of vertices as well (2, n, ...).
        """
        middles: Floats = points[:, self.ends].mean(axis=1)
        return np.concatenate((points, middles), axis=1)


def build_topology(points: Floats, triangles: Integers, fixed: Where | None = None) -> Topology:
    """Number and analyse a mesh and its refinement.

    Parameters
    ----------
    points, triangles
        Vertices (2, n) [m] and their numbers by triangle (3, m).
    fixed
        Which boundary edges have A = 0 (see `build_space`); all of them if None.
    """
    from skfem import MeshTri

    once = MeshTri(points, triangles)
    twice = once.refined()
    coarse, fine = build_space(once.p, once.t, fixed), build_space(twice.p, twice.t, fixed)
    refine = prolongation(
        coarse, build_geometry(once.p, coarse.triangles), fine, build_geometry(twice.p, fine.triangles)
    )
    return Topology(coarse=coarse, fine=fine, refine=refine, ends=once.facets.astype(np.int64))


KEPT: Recent[Topology] = Recent(8, by_thread=True)
"""One takes some 10 MB at 20 000 unknowns, and is factored in place: in one thread only."""


def kept_topology(points: Floats, triangles: Integers) -> Topology:
    """Return the topology of a mesh, A = 0 all round: the one made before in this thread where the triangles are equal.

    Parameters
    ----------
    points, triangles
        As for `build_topology`.
    """
    key = hashlib.sha256(np.ascontiguousarray(triangles).tobytes()).digest()
    return KEPT.get(key, lambda: build_topology(points, triangles))
