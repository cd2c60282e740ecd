"""Triangulate a section with gmsh. The only file that touches gmsh; arrays come back, no files are written."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import count
from math import ceil, inf, isfinite, pi, sin, sqrt
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

from geometries.shapes.section import GRID, Region, Role, Section, Shape

_LOCK = threading.RLock()
_SERIAL = count()
_SYSTEM_LIBRARIES = "libglu1-mesa libgl1 libxcursor1 libxft2 libxinerama1 libgomp1"

_COARSEST = 1 / 7
"""Largest element of level 0, as a share of the built part's larger side. A half section counts with twice its larger
side: it is meshed coarser than the whole, and still keeps the flux within 0.1 % (tests/physics/test_field_error.py)."""
_CORNER = 1 / 80
"""Element at an iron corner of level 0, as a share of the same."""
_SLENDER = 2.5
"""The larger side counts as at most that many times the smaller one: the field round a slender core goes by that."""
_ACROSS_IRON = 5
"""Elements at a corner for the width of the narrowest leg or yoke; in common proportions there are 6 to 18."""
_GROWTH = 0.7
"""Growth of the element size with the distance from the nearest iron corner, level 0."""
_FEWEST_SIDES = 24
"""Sides of the polygon that stands for a disc, level 0: a multiple of four, so that it is symmetric both ways."""
_SIZED_GROWTH = 0.5
"""Growth of the element size with the distance from a region of given element size, level 0."""


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
    """

    points: NDArray[np.float64]
    triangles: NDArray[np.int64]
    region: NDArray[np.int64]
    section: Section
    level: int


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
    wanted = _wanted_sizes(section, sizes or {}, level)
    with _model() as gmsh:
        tags = [_rectangle(gmsh, *section.outline)]
        tags += [_surface(gmsh, r, wanted.get(r.name, 0.0)) for r in section.regions]
        _, children = gmsh.model.occ.fragment([(2, tags[0])], [(2, t) for t in tags[1:]])
        gmsh.model.occ.synchronize()
        owner = _owners(children)
        for r, pieces in zip(section.regions, children[1:], strict=True):
            if r.shape is Shape.DISC:
                _divide_circle(gmsh, r, pieces, _sides(r, wanted[r.name]))
        _set_sizes(gmsh, section, level, wanted)
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
    angle = 2 * pi / _sides(r, size)
    corner = (r.x1 - r.x0) / 2 * sqrt(angle / sin(angle))  # of the polygon whose area is the disc's
    return int(gmsh.model.occ.addDisk((r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2, 0.0, corner, corner))


def _sides(r: Region, size: float) -> int:
    return max(_FEWEST_SIDES, 4 * ceil(pi * (r.x1 - r.x0) / size / 4))


def _wanted_sizes(section: Section, sizes: Mapping[str, float], level: int) -> dict[str, float]:
    """Return the element size wanted in each region that has one of its own: all discs and those named in `sizes`."""
    if unknown := set(sizes) - {r.name for r in section.regions}:
        msg = f"element sizes for {sorted(unknown)}, which the section does not have"
        raise ValueError(msg)
    wanted = {r.name: pi * (r.x1 - r.x0) / _FEWEST_SIDES for r in section.regions if r.shape is Shape.DISC}
    for name, size in sizes.items():
        if not size > 0:
            msg = f"element size of {name!r} must be above 0, got {size!r}"
            raise ValueError(msg)
        wanted[name] = min(size, wanted.get(name, size))
    return {name: size / 2**level for name, size in wanted.items()}


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


def _set_sizes(gmsh: ModuleType, section: Section, level: int, wanted: Mapping[str, float]) -> None:
    xs = [v for r in section.regions for v in (r.x0, r.x1)] or list(section.outline[::2])
    ys = [v for r in section.regions for v in (r.y0, r.y1)] or list(section.outline[1::2])
    sides = max(xs) - min(xs), max(ys) - min(ys)
    scale = max(sides) * (2.0 if section.halved else 1.0)
    narrowest, slender = _narrowest_iron(section), scale
    if isfinite(narrowest):  # bars in a wide field of air are no slender core
        slender = min(scale, _SLENDER * min(sides[0] * (2.0 if section.halved else 1.0), sides[1]))
    largest = slender * _COARSEST / 2**level
    corner = min(scale * _CORNER, narrowest / _ACROSS_IRON) / 8**level
    growth = _GROWTH / 2**level
    field = gmsh.model.mesh.field
    thresholds = []
    for size, corners in _corner_sizes(section, corner, level).items():
        tags = [_point(gmsh, x, y) for x, y in sorted(corners)]
        distance = field.add("Distance")
        field.setNumbers(distance, "PointsList", tags)
        threshold = field.add("Threshold")
        field.setNumber(threshold, "InField", distance)
        field.setNumber(threshold, "SizeMin", size)
        field.setNumber(threshold, "SizeMax", scale)
        field.setNumber(threshold, "DistMin", 0.0)
        field.setNumber(threshold, "DistMax", (scale - size) / growth)
        thresholds.append(threshold)
    # Inside the built part no element exceeds `largest`; outside, the corner fields alone let it grow, at the same rate
    # as far as a distant outline goes.
    x0, y0, x1, y1 = section.outline
    distance_out = max(min(xs) - x0, x1 - max(xs), min(ys) - y0, y1 - max(ys))
    outside = max(3 * largest, distance_out / 6 / 2**level)
    for r in section.regions:
        if r.name in wanted:
            thresholds.append(_size_round(gmsh, r, wanted[r.name], max(scale, outside), _SIZED_GROWTH / 2**level))
    box = field.add("Box")
    for key, value in (("XMin", min(xs)), ("XMax", max(xs)), ("YMin", min(ys)), ("YMax", max(ys))):
        field.setNumber(box, key, value)
    field.setNumber(box, "VIn", largest)
    field.setNumber(box, "VOut", outside)
    field.setNumber(box, "Thickness", scale / 2 * (outside - largest) / (2 * largest))
    smallest = field.add("Min")
    field.setNumbers(smallest, "FieldsList", [*thresholds, box])
    field.setAsBackgroundMesh(smallest)


def _narrowest_iron(section: Section) -> float:
    """Return the least width of a leg or yoke [m]; infinite without iron."""
    widths = [
        side
        for r in section.regions
        if r.role is Role.IRON
        for side in ((r.x1 - r.x0) * (2.0 if section.halved and r.x0 <= GRID else 1.0), r.y1 - r.y0)
    ]
    return min(widths, default=inf)


def _size_round(gmsh: ModuleType, r: Region, size: float, largest: float, growth: float) -> int:
    """Return a size field: `size` inside a region, growing outside up to `largest`."""
    field = gmsh.model.mesh.field
    if r.shape is Shape.DISC:
        around = field.add("Ball")
        extent = {
            "XCenter": (r.x0 + r.x1) / 2,
            "YCenter": (r.y0 + r.y1) / 2,
            "Radius": 1.01 * (r.x1 - r.x0) / 2,  # the polygon's corners are inside
        }
    else:
        around = field.add("Box")
        extent = {"XMin": r.x0, "XMax": r.x1, "YMin": r.y0, "YMax": r.y1}
    for key, value in (
        *extent.items(),
        ("VIn", size),
        ("VOut", largest),
        ("Thickness", max(largest - size, size) / growth),  # also where the size wanted is no limit
    ):
        field.setNumber(around, key, value)
    return int(around)


def _corner_sizes(section: Section, corner: float, level: int) -> dict[float, set[tuple[float, float]]]:
    """Return the element size wanted at each corner of iron; at a narrow joint no larger than the joint."""
    sizes: dict[tuple[float, float], float] = {}
    for r in section.regions:
        if r.role in (Role.IRON, Role.SHUNT):
            for p in _corners(r):
                sizes.setdefault(p, corner)
    for r in section.regions:
        # a gap in the leg is air with iron's corners
        if r.role is Role.JOINT or (
            r.role is Role.AIR and r.shape is Shape.RECTANGLE and set(_corners(r)) <= set(sizes)
        ):
            narrow = min(r.x1 - r.x0, r.y1 - r.y0)
            for p in _corners(r):
                sizes[p] = min(sizes.get(p, corner), max(narrow / 2**level, corner / 8))
    for r in section.regions:
        if r.role is Role.SHUNT:
            narrow = _gap_beside(r, section)
            for p in _corners(r):
                sizes[p] = min(sizes.get(p, corner), max(narrow / 2**level, corner / 8))
    grouped: dict[float, set[tuple[float, float]]] = {}
    for p, size in sizes.items():
        if not (section.halved and p[0] <= GRID):  # corners on the mirror line are none
            grouped.setdefault(size, set()).add(p)
    return grouped


def _gap_beside(r: Region, section: Section) -> float:
    """Return the narrowest gap between a shunt and iron to its left or right [m]; its own width where there is none."""
    gaps = [
        max(other.x0 - r.x1, r.x0 - other.x1)
        for other in section.regions
        if other.role is Role.IRON and other.y0 < r.y1 and other.y1 > r.y0
    ]
    return min((gap for gap in gaps if gap > GRID), default=r.x1 - r.x0)


def _corners(r: Region) -> list[tuple[float, float]]:
    return [(r.x0, r.y0), (r.x1, r.y0), (r.x1, r.y1), (r.x0, r.y1)]


def _point(gmsh: ModuleType, x: float, y: float) -> int:
    near = 10 * GRID
    found = gmsh.model.getEntitiesInBoundingBox(x - near, y - near, -near, x + near, y + near, near, 0)
    return int(found[0][1])


def _read(gmsh: ModuleType, owner: dict[int, int]) -> tuple[NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]]:
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
