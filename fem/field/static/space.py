"""The finite-element space: what depends on the mesh's topology alone, and what depends on where its points are.

V holds the functions that are quadratic on each triangle, continuous, and 0 on the fixed part of the boundary; its
unknowns are the values at corners and at the middles of sides, shared by neighbouring triangles (`element_dofs`). The
smooth part of a field errs by h^3 in A and by h^4 in energy (h the size of triangles). Topology (numbering, sparsity
pattern, symbolic factor) survives a moved mesh, a new material and a new current, so it is made once and shared.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.field.cholesky import Cholesky
from fem.field.elements import LOWER, NODES, SHAPE_INTEGRALS, shape_values

Where = Callable[[Floats], NDArray[np.bool_]]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Space:
    """Quadratic elements on straight triangles, with A = 0 on the fixed part of the boundary.

    Parameters
    ----------
    triangles
        Vertex numbers (3, m), each column ascending.
    element_dofs
        Global numbers of each element's six nodes (6, m).
    free
        Numbers of the nodes that are solved for (k,).
    size
        Number of all nodes.
    slot
        For each of the 21 x m entries of the element matrices, its place in the lower triangle's value array;
        entries that touch a fixed node go to one extra place at the end.
    factor
        The symbolic factorisation of that pattern, ready for numbers.
    """

    triangles: Integers
    element_dofs: Integers
    free: Integers
    size: int
    slot: Integers
    factor: Cholesky

    @property
    def elements(self) -> int:
        """Number of triangles."""
        return int(self.triangles.shape[1])

    def node_sum(self, element_values: Floats) -> Floats:
        """Add element vectors (6, m) up to a global one (size,)."""
        total: Floats = np.bincount(
            self.element_dofs.ravel(), weights=element_values.ravel(), minlength=self.size
        ).astype(np.float64, copy=False)
        return total

    def matrix_values(self, entries: Floats) -> Floats:
        """Add element matrices, 21 lower entries each (21, m), up to the values of the global lower triangle."""
        total = np.bincount(self.slot, weights=entries.ravel(), minlength=self.factor.entries + 1)
        return total[:-1].astype(np.float64, copy=False)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Geometry:
    """Where the mesh's points are, as the numbers assembly needs.

    With x = x_1 + T xi on an element the squared gradient of u is grad^ u . metric . grad^ u in reference coordinates.

    Parameters
    ----------
    points
        Vertices (2, n) [m].
    determinant
        |det T|, twice the area (m,) [m2].
    metric
        xx, xy and yy of T^-1 T^-T (3, m) [1/m2].
    """

    points: Floats
    determinant: Floats
    metric: Floats


def build_space(points: Floats, triangles: Integers, fixed: Where | None = None) -> Space:
    """Number the nodes of a mesh and analyse its matrix once.

    Parameters
    ----------
    points, triangles
        Vertices (2, n) [m] and their numbers by triangle (3, m).
    fixed
        Which boundary edges have A = 0, asked with their midpoints (2, edges); all of them if None. The rest is a
        natural boundary: field lines of H leave it at right angles.

    Raises
    ------
    ValueError
        If no edge is fixed: A would be defined up to a constant only.
    """
    from skfem import ElementTriP2, MeshTri
    from skfem.assembly.dofs import Dofs

    mesh = MeshTri(points, triangles)
    dofs = Dofs(mesh, ElementTriP2())
    element_dofs = dofs.element_dofs.astype(np.int64)
    edges = mesh.boundary_facets()
    if fixed is not None:
        edges = edges[fixed(points[:, mesh.facets[:, edges]].mean(axis=1))]
    if edges.size == 0:
        msg = "A must be fixed somewhere on the boundary"
        raise ValueError(msg)
    held = np.unique(np.concatenate([mesh.facets[:, edges].ravel(), dofs.facet_dofs[0, edges]]))
    size = int(element_dofs.max()) + 1
    free = np.setdiff1d(np.arange(size), held)
    number = np.full(size, -1, dtype=np.int64)
    number[free] = np.arange(free.size)
    row, col = number[element_dofs[LOWER[0]]], number[element_dofs[LOWER[1]]]
    outside = (row < 0) | (col < 0)
    row, col = np.maximum(row, col), np.minimum(row, col)
    key = np.where(outside, np.iinfo(np.int64).max, col * free.size + row).ravel()
    unique, slot = np.unique(key, return_inverse=True)
    if outside.any():
        unique = unique[:-1]
    factor = Cholesky(rows=unique % free.size, columns=unique // free.size, size=free.size)
    return Space(
        triangles=mesh.t.astype(np.int64),
        element_dofs=element_dofs,
        free=free,
        size=size,
        slot=slot.ravel(),
        factor=factor,
    )


def build_geometry(points: Floats, triangles: Integers) -> Geometry:
    """Compute each element's metric.

    Raises
    ------
    ValueError
        If a triangle has no area.
    """
    p0, p1, p2 = (points[:, triangles[k]] for k in range(3))
    u, v = p1 - p0, p2 - p0
    det = u[0] * v[1] - u[1] * v[0]
    if not np.all(np.abs(det) > 0):
        msg = f"{int(np.sum(det == 0))} triangles have no area"
        raise ValueError(msg)
    # rows of T^-1 are the gradients of xi and eta
    uu, uv, vv = (u * u).sum(0), (u * v).sum(0), (v * v).sum(0)
    metric = np.stack([vv, -uv, uu]) / det**2
    return Geometry(points=points, determinant=np.abs(det), metric=metric)


def node_locations(space: Space, geometry: Geometry) -> Floats:
    """Return the coordinates of all nodes (2, size) [m]."""
    corners = geometry.points[:, space.triangles]  # (2, 3, m)
    weights = np.stack([1 - NODES[:, 0] - NODES[:, 1], NODES[:, 0], NODES[:, 1]])  # (3, 6)
    located = np.empty((2, space.size))
    located[:, space.element_dofs] = np.einsum("dkm,ki->dim", corners, weights)
    return located


def mean_over(space: Space, geometry: Geometry, elements: Integers) -> Floats:
    """Return the vector (size,), int phi_i dA over area, whose product with A is A's mean over some elements."""
    weight = np.zeros(space.elements)
    weight[elements] = geometry.determinant[elements]
    total = 0.5 * float(weight.sum())
    return space.node_sum(SHAPE_INTEGRALS[:, None] * weight / total)


def located(space: Space, geometry: Geometry, points: Sequence[tuple[float, float]]) -> tuple[Integers, Floats]:
    """Return for each point (x, y) [m] an element that holds it (n,), and its reference coordinates there (2, n).

    Only elements whose bounding box holds the point are looked into.

    Raises
    ------
    ValueError
        If a point lies outside the mesh.
    """
    corners = geometry.points[:, space.triangles]  # (2, 3, m)
    rim = 1e-9 * float(np.ptp(geometry.points))
    low, high = corners.min(axis=1)[:, None] - rim, corners.max(axis=1)[:, None] + rim
    asked = np.array(points).reshape(-1, 2).T[:, :, None]
    boxes = ((low <= asked) & (asked <= high)).all(axis=0)
    elements, coordinates = [], []
    for (x, y), inside in zip(points, boxes, strict=True):
        near = np.flatnonzero(inside)
        reference = _to_reference(geometry, space.triangles[:, near], np.array([x, y]))
        depth = np.stack([1 - reference[0] - reference[1], reference[0], reference[1]]).min(axis=0)
        if near.size == 0 or depth.max() < -1e-9:
            msg = f"the point ({x:g}, {y:g}) m lies outside the mesh"
            raise ValueError(msg)
        k = int(depth.argmax())
        elements.append(int(near[k]))
        coordinates.append(reference[:, k])
    return np.array(elements, dtype=np.int64), np.array(coordinates).reshape(-1, 2).T


def values_at(space: Space, geometry: Geometry, points: Sequence[tuple[float, float]]) -> list[Floats]:
    """Return for each point (x, y) [m] the vector (size,) whose product with A is A there; raises as `located`."""
    elements, reference = located(space, geometry, points)
    found = np.zeros((len(points), space.size))
    for vector, element, weights in zip(found, elements, shape_values(reference).T, strict=True):
        vector[space.element_dofs[:, element]] = weights
    return list(found)


def prolongation(coarse: Space, coarse_geometry: Geometry, fine: Space, fine_geometry: Geometry) -> Prolongation:
    """Tabulate how a coarse field is written exactly in the refined space, whose children come in four blocks of m."""
    parent = np.arange(fine.elements) % coarse.elements
    nodes = node_locations(fine, fine_geometry)[:, fine.element_dofs]  # (2, 6, 4m)
    # They lie at quarters of their parent; without its rounding the weights are the same wherever the points are.
    reference = np.round(4 * _to_reference(coarse_geometry, coarse.triangles[:, parent], nodes)) / 4
    weights = shape_values(reference.reshape(2, -1)).reshape(6, 6, -1)  # coarse shape, fine node, element
    return Prolongation(
        source=coarse.element_dofs[:, parent], target=fine.element_dofs, weights=weights, size=fine.size
    )


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Prolongation:
    """Writes a field of a coarse space in the space refined from it: exactly, as the one holds the other.

    Parameters
    ----------
    source, target
        Numbers of the coarse nodes of each fine element's parent, and of its own nodes (6, 4m).
    weights
        Value of each coarse shape function at each fine node (6, 6, 4m).
    size
        Number of fine nodes.
    """

    source: Integers
    target: Integers
    weights: Floats
    size: int

    def __call__(self, A: Floats) -> Floats:
        """Return the same field's values at the fine nodes."""
        fine = np.empty(self.size)
        fine[self.target] = np.einsum("cnm,cm->nm", self.weights, A[self.source])
        return fine


def _to_reference(geometry: Geometry, triangles: Integers, x: Floats) -> Floats:
    """Map points to the reference coordinates of elements; x is (2,) or (2, ..., m)."""
    p0, p1, p2 = (geometry.points[:, triangles[k]] for k in range(3))
    u, v = p1 - p0, p2 - p0
    det = u[0] * v[1] - u[1] * v[0]
    if x.ndim == 1:
        x = x[:, None]
    else:
        p0 = p0[:, None, :]
    d = x - p0
    return np.stack([(d[0] * v[1] - d[1] * v[0]) / det, (u[0] * d[1] - u[1] * d[0]) / det])
