"""Meshing a section: areas, orientation, reproducibility, refusals, and a user's own gmsh session."""

import builtins
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import gmsh
import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from geometries.assembly.mesh import MesherUnavailable, MeshFailed, SectionMesh, mesh_section
from geometries.shapes.section import Region, Role, Section
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
SECTION = shell(SIDE_BY_SIDE, gap=0.2 * MM).half()


@pytest.fixture(scope="module")
def mesh() -> SectionMesh:
    return mesh_section(SECTION)


@pytest.fixture
def session() -> Iterator[None]:
    """A user's own gmsh, with a model and options of their liking."""
    gmsh.initialize(argv=[], readConfigFiles=False, interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        gmsh.model.add("mine")
        gmsh.model.occ.addBox(0, 0, 0, 1, 2, 3)
        gmsh.model.occ.synchronize()
        yield
    finally:
        gmsh.finalize()


def signed_areas(mesh: SectionMesh) -> np.ndarray:
    p = mesh.points[:, mesh.triangles]
    u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    return 0.5 * (u[0] * v[1] - u[1] * v[0])


def test_areas_add_up(mesh: SectionMesh) -> None:
    areas = signed_areas(mesh)
    assert np.all(areas > 0), "not counter-clockwise"
    for k, r in enumerate(SECTION.regions):
        assert_allclose(areas[mesh.region == k].sum(), r.area, rtol=1e-9)
    x0, y0, x1, y1 = SECTION.outline
    assert_allclose(areas.sum(), (x1 - x0) * (y1 - y0), rtol=1e-12)
    rest = (x1 - x0) * (y1 - y0) - sum(r.area for r in SECTION.regions)
    assert_allclose(areas[mesh.region == -1].sum(), rest, rtol=1e-9)


def test_every_triangle_lies_in_its_region(mesh: SectionMesh) -> None:
    corners = mesh.points[:, mesh.triangles]
    for k, r in enumerate(SECTION.regions):
        x, y = corners[:, :, mesh.region == k]
        assert x.min() >= r.x0 - 1e-9
        assert x.max() <= r.x1 + 1e-9
        assert y.min() >= r.y0 - 1e-9
        assert y.max() <= r.y1 + 1e-9


def test_triangles_share_whole_edges(mesh: SectionMesh) -> None:
    edges = np.sort(np.hstack([mesh.triangles[[0, 1]], mesh.triangles[[1, 2]], mesh.triangles[[2, 0]]]), axis=0)
    _, counts = np.unique(edges, axis=1, return_counts=True)
    assert set(counts) == {1, 2}
    # Euler: for a disc, vertices - edges + triangles = 1. A hanging node would break it.
    assert mesh.points.shape[1] - counts.size + mesh.triangles.shape[1] == 1
    assert np.unique(mesh.triangles).size == mesh.points.shape[1]


def test_the_same_section_gives_the_same_mesh(mesh: SectionMesh) -> None:
    again = mesh_section(SECTION)
    assert_same(again, mesh)
    assert again.section.digest == mesh.section.digest


def assert_same(a: SectionMesh, b: SectionMesh) -> None:
    assert_array_equal(a.points, b.points)
    assert_array_equal(a.triangles, b.triangles)
    assert_array_equal(a.region, b.region)


def test_threads_take_turns(mesh: SectionMesh) -> None:
    with ThreadPoolExecutor(2) as pool:
        for result in pool.map(mesh_section, [SECTION] * 4):
            assert_same(result, mesh)
    assert not gmsh.isInitialized()


@pytest.mark.parametrize(
    "change", [{"x0": 10 * MM}, {"y1": 62 * MM}, {"x0": 0.0, "x1": 200 * MM}, {"y0": -200 * MM, "y1": 0.3}]
)
def test_overlapping_or_protruding_regions_are_refused(change: dict[str, float]) -> None:
    coil = next(k for k, r in enumerate(SECTION.regions) if r.winding == "secondary")
    regions = list(SECTION.regions)
    regions[coil] = replace(regions[coil], **change)
    with pytest.raises(ValueError, match=r"overlaps another or leaves|reach outside"):
        mesh_section(replace(SECTION, regions=tuple(regions)))
    assert not gmsh.isInitialized()


def test_region_outside_the_outline_is_refused() -> None:
    stray = Region(name="stray", role=Role.IRON, x0=0.2, y0=0.0, x1=0.3, y1=0.1)
    with pytest.raises(ValueError, match="reach outside"):
        mesh_section(Section(regions=(stray,), outline=(0.0, 0.0, 0.1, 0.1)))


@pytest.mark.usefixtures("session")
def test_a_users_session_survives(mesh: SectionMesh) -> None:
    gmsh.option.setNumber("Mesh.MeshSizeFactor", 3.0)
    gmsh.option.setNumber("Mesh.Algorithm", 5)
    before = gmsh.model.list()
    assert_same(mesh_section(SECTION), mesh)
    assert gmsh.isInitialized()
    assert gmsh.model.list() == before
    assert gmsh.model.getCurrent() == "mine"
    assert_allclose(gmsh.model.getBoundingBox(-1, -1), (0, 0, 0, 1, 2, 3), atol=1e-6)
    assert gmsh.option.getNumber("Mesh.MeshSizeFactor") == 3.0
    assert gmsh.option.getNumber("Mesh.Algorithm") == 5
    with pytest.raises(ValueError, match="overlaps"):
        mesh_section(replace(SECTION, regions=(*SECTION.regions, SECTION.regions[0])))
    assert gmsh.model.getCurrent() == "mine"
    assert gmsh.model.list() == before


@pytest.mark.usefixtures("session")
@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("Mesh.MeshSizeMax", 1e-3),
        ("Mesh.MeshSizeMin", 1e-2),
        ("Mesh.RecombineAll", 1),
        ("Mesh.SubdivisionAlgorithm", 1),
        ("Mesh.ElementOrder", 2),
        ("Mesh.Smoothing", 10),
        ("Mesh.SaveAll", 1),
        ("Mesh.MeshSizeFromPoints", 1),
        ("Mesh.ScalingFactor", 1000),
        ("Geometry.OCCScaling", 1000),
        ("Mesh.Algorithm", 8),
    ],
)
def test_a_users_options_do_not_reach_our_mesh(mesh: SectionMesh, option: str, value: float) -> None:
    gmsh.option.setNumber(option, value)
    assert_same(mesh_section(SECTION), mesh)
    assert gmsh.option.getNumber(option) == value


def test_library_that_cannot_be_loaded_names_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def failing(name: str, *args: object, **kwargs: object) -> object:
        if name == "gmsh":
            msg = "libGLU.so.1: cannot open shared object file"
            raise OSError(msg)
        return real(name, *args, **kwargs)  # type: ignore[arg-type]

    monkeypatch.setattr(builtins, "__import__", failing)
    with pytest.raises(MesherUnavailable, match=r"libGLU.so.1.*apt-get install .*libglu1-mesa"):
        mesh_section(SECTION)


def test_a_mesher_that_gives_up_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def give_up(dimension: int) -> None:
        raise Exception("Unable to recover\nthe edge 12")

    monkeypatch.setattr(gmsh.model.mesh, "generate", give_up)
    with pytest.raises(MeshFailed, match="gmsh: Unable to recover the edge 12"):
        mesh_section(SECTION)
