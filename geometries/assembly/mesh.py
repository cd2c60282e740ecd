"""Triangulate a section with gmsh. The only file that touches gmsh; arrays come back, no files are written."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from math import pi, sin, sqrt
from types import ModuleType

import numpy as np

from geometries.assembly.sizes import Sizes, region_sizes, sides_of, sizes_of
from geometries.shapes.arrays import Floats, Integers
from geometries.shapes.section import GRID, Region, Section, Shape

_LOCK = threading.RLock()
_SERIAL = count()
_SYSTEM_LIBRARIES = "libglu1-mesa libgl1 libxcursor1 libxft2 libxinerama1 libgomp1"


class MesherUnavailable(RuntimeError):
    """gmsh's library cannot be loaded; the message names what to install."""


class MeshFailed(ValueError):
    """gmsh does not mesh a section, or not as it is described."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SectionMesh:
    """Straight-sided triangles that follow a section's rectangles, and its discs as polygons of the same area.

    Parameters
    ----------
    points
        Vertices (2, n) [m].
    triangles
        Vertex numbers (3, m), counter-clockwise.
    region
        For each triangle the index of its region in `section.regions`, or -1 for air outside all of them (m,).
    section
        What was meshed.
    level
        How fine: each level halves the elements and cuts those at iron corners by eight.
    base
        The mesh of a canonical section that this one was moved from; None where it was made for its section.
    """

    points: Floats
    triangles: Integers
    region: Integers
    section: Section
    level: int
    base: SectionMesh | None = None


def mesh_section(section: Section, *, level: int = 0, sizes: Mapping[str, float] | None = None) -> SectionMesh:
    """Triangulate a section.

    Elements shrink towards iron corners, where the field is singular: with quadratic elements a grading that cuts
    the corner element by eight each time the others are halved keeps the smooth-case rate of convergence
    (the field at a re-entrant iron corner goes as r^(-1/3)).

    Parameters
    ----------
    section
        What to mesh.
    level
        0 is coarse; see `SectionMesh`.
    sizes
        Largest element wanted in some regions, by their names, at level 0 [m].

    Raises
    ------
    MesherUnavailable
        If gmsh's library cannot be loaded; the message names the system packages to install.
    MeshFailed
        If gmsh gives up, regions overlap or reach outside the outline (areas do not add up) or discs touch another.
    ValueError
        If a size is not positive or names no region.

    Notes
    -----
    A disc is meshed as the regular polygon of its own area, whose corners stick out by the share
    (2 pi/sides)^2 / 12 of the radius: 0.6 % for 24 sides.
    """
    wanted = region_sizes(section, sizes or {}, level)
    with _model() as gmsh:
        tags = [_rectangle(gmsh, *section.outline)]
        tags += [_surface(gmsh, r, wanted.get(r.name, 0.0)) for r in section.regions]
        _, children = gmsh.model.occ.fragment([(2, tags[0])], [(2, t) for t in tags[1:]])
        gmsh.model.occ.synchronize()
        owner = _owners(children)
        for r, pieces in zip(section.regions, children[1:], strict=True):
            if r.shape is Shape.DISC:
                _divide_circle(gmsh, r, pieces, sides_of(r, wanted[r.name]))
        _set_sizes(gmsh, section, sizes_of(section, level, wanted))
        try:
            gmsh.model.mesh.generate(2)
        except Exception as error:  # gmsh raises no other kind
            msg = f"gmsh: {' '.join(str(error).split())}"
            raise MeshFailed(msg) from error
        points, triangles, region = _read(gmsh, owner)
    mesh = SectionMesh(points=points, triangles=triangles, region=region, section=section, level=level)
    _check_areas(mesh)
    return mesh


def _rectangle(gmsh: ModuleType, x0: float, y0: float, x1: float, y1: float) -> int:
    return int(gmsh.model.occ.addRectangle(x0, y0, 0.0, x1 - x0, y1 - y0))


def _surface(gmsh: ModuleType, r: Region, size: float) -> int:
    if r.shape is Shape.RECTANGLE:
        return _rectangle(gmsh, r.x0, r.y0, r.x1, r.y1)
    angle = 2 * pi / sides_of(r, size)
    corner = (r.x1 - r.x0) / 2 * sqrt(angle / sin(angle))  # of the polygon whose area is the disc's
    return int(gmsh.model.occ.addDisk((r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2, 0.0, corner, corner))


def _divide_circle(gmsh: ModuleType, r: Region, pieces: list[tuple[int, int]], sides: int) -> None:
    curves = gmsh.model.getBoundary(pieces, oriented=False)
    if len(pieces) != 1 or len(curves) != 1:
        msg = f"disc {r.name!r} touches or overlaps another region or the outline"
        raise MeshFailed(msg)
    gmsh.model.mesh.setTransfiniteCurve(curves[0][1], sides + 1)


def _owners(children: list[list[tuple[int, int]]]) -> dict[int, int]:
    """Map each fragment to the region it came from; -1 for fragments of the outline alone."""
    owner = {tag: -1 for _, tag in children[0]}
    for index, pieces in enumerate(children[1:]):
        owner.update({tag: index for _, tag in pieces})
    return owner


def _set_sizes(gmsh: ModuleType, section: Section, sizes: Sizes) -> None:
    """Give gmsh the element sizes as a background field; see `Sizes`."""
    field = gmsh.model.mesh.field
    limits = []
    for size, corners in sizes.corners.items():
        distance = field.add("Distance")
        field.setNumbers(distance, "PointsList", [_point(gmsh, x, y) for x, y in sorted(corners)])
        away = (sizes.scale - size) / sizes.growth
        limits.append(
            _field(gmsh, "Threshold", InField=distance, SizeMin=size, SizeMax=sizes.scale, DistMin=0.0, DistMax=away)
        )
    for r in section.regions:
        if r.name in sizes.regions:
            limits.append(_size_round(gmsh, r, sizes.regions[r.name], max(sizes.scale, sizes.outside), sizes))
    x0, y0, x1, y1 = sizes.built
    away = sizes.scale / 2 * (sizes.outside - sizes.largest) / (2 * sizes.largest)
    limits.append(
        _field(gmsh, "Box", XMin=x0, XMax=x1, YMin=y0, YMax=y1, VIn=sizes.largest, VOut=sizes.outside, Thickness=away)
    )
    smallest = field.add("Min")
    field.setNumbers(smallest, "FieldsList", limits)
    field.setAsBackgroundMesh(smallest)


def _size_round(gmsh: ModuleType, r: Region, size: float, largest: float, sizes: Sizes) -> int:
    """Return a size field: `size` inside a region, growing outside up to `largest`."""
    # also where the size wanted is no limit
    values = {"VIn": size, "VOut": largest, "Thickness": max(largest - size, size) / sizes.region_growth}
    if r.shape is Shape.RECTANGLE:
        return _field(gmsh, "Box", XMin=r.x0, XMax=r.x1, YMin=r.y0, YMax=r.y1, **values)
    radius = 1.01 * (r.x1 - r.x0) / 2  # the polygon's corners are inside
    return _field(gmsh, "Ball", XCenter=(r.x0 + r.x1) / 2, YCenter=(r.y0 + r.y1) / 2, Radius=radius, **values)


def _field(gmsh: ModuleType, kind: str, **numbers: float) -> int:
    tag = gmsh.model.mesh.field.add(kind)
    for name, number in numbers.items():
        gmsh.model.mesh.field.setNumber(tag, name, number)
    return int(tag)


def _point(gmsh: ModuleType, x: float, y: float) -> int:
    near = 10 * GRID
    found = gmsh.model.getEntitiesInBoundingBox(x - near, y - near, -near, x + near, y + near, near, 0)
    return int(found[0][1])


def _read(gmsh: ModuleType, owner: dict[int, int]) -> tuple[Floats, Integers, Integers]:
    node_tags, coordinates, _ = gmsh.model.mesh.getNodes()
    number = np.zeros(int(node_tags.max()) + 1, dtype=np.int64)
    number[node_tags] = np.arange(len(node_tags))
    triangles, region = [], []
    for surface, index in sorted(owner.items()):
        _, nodes = gmsh.model.mesh.getElementsByType(2, surface)
        triangles.append(number[nodes.astype(np.int64)].reshape(-1, 3))
        region.append(np.full(len(nodes) // 3, index, dtype=np.int64))
    t = np.concatenate(triangles).T
    used, t = np.unique(t, return_inverse=True)
    points = coordinates.reshape(-1, 3)[used, :2].T.copy()
    return points, t.reshape(3, -1).astype(np.int64), np.concatenate(region)


def _check_areas(mesh: SectionMesh) -> None:
    """Refuse overlapping or protruding regions: every region's triangles must add up to its area."""
    a, b, c = (mesh.points[:, mesh.triangles[k]] for k in range(3))
    area = 0.5 * abs((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]))
    x0, y0, x1, y1 = mesh.section.outline
    for index, r in enumerate(mesh.section.regions):
        got = float(area[mesh.region == index].sum())
        if abs(got - r.area) > 1e-6 * r.area:
            covered = f"{got * 1e6:.4g} of {r.area * 1e6:.4g} mm2 meshed"
            msg = f"region {r.name!r} overlaps another or leaves the outline: {covered}"
            raise MeshFailed(msg)
    if abs(float(area.sum()) - (x1 - x0) * (y1 - y0)) > 1e-6 * (x1 - x0) * (y1 - y0):
        msg = "regions reach outside the section's outline"
        raise MeshFailed(msg)


@contextmanager
def _model() -> Iterator[ModuleType]:
    """Yield gmsh with an empty model of our own; a user's session, model and options are left as they were."""
    try:
        import gmsh
    except OSError as error:
        msg = f"gmsh cannot be loaded ({error}); on Debian: apt-get install {_SYSTEM_LIBRARIES}"
        raise MesherUnavailable(msg) from error
    wanted = {
        "General.Terminal": 0.0,
        "General.NumThreads": 1.0,  # with more, meshes are not reproducible
        "Mesh.Algorithm": 6.0,
        "Mesh.MeshSizeExtendFromBoundary": 0.0,
        "Mesh.MeshSizeFromPoints": 0.0,
        "Mesh.MeshSizeFromCurvature": 0.0,
        "Mesh.MeshSizeFactor": 1.0,
        "Mesh.MeshSizeMin": 0.0,
        "Mesh.MeshSizeMax": 1e22,
        "Mesh.Smoothing": 1.0,
        "Mesh.RecombineAll": 0.0,
        "Mesh.SubdivisionAlgorithm": 0.0,
        "Mesh.ElementOrder": 1.0,
        "Mesh.RandomSeed": 1.0,
        "Geometry.Tolerance": GRID,
    }
    with _LOCK:
        ours = not gmsh.isInitialized()
        if ours:
            gmsh.initialize(argv=[], readConfigFiles=False, interruptible=False)
        before = None if ours else gmsh.model.getCurrent()
        saved = {name: gmsh.option.getNumber(name) for name in wanted}
        for name, value in wanted.items():
            gmsh.option.setNumber(name, value)
        gmsh.model.add(f"rewound section {next(_SERIAL)}")
        try:
            yield gmsh
        finally:
            gmsh.model.remove()
            if ours:
                gmsh.finalize()
            else:
                for name, value in saved.items():
                    gmsh.option.setNumber(name, value)
                gmsh.model.setCurrent(before)
