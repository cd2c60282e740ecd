"""Meshes moved from one section onto another: what must hold, and what it costs in flux."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from skfem import MeshTri

from fem.characteristics.characterise import FLUX_TARGET
from fem.characteristics.laws import linear_iron, saturating_iron
from fem.characteristics.leakage.permeance import leakage_field
from fem.field.static import starts
from fem.field.static.model import build_model, solve_model
from fem.field.static.quantities import both
from fem.field.static.topology import KEPT, build_topology, kept_topology
from fem.materials.steel import steel
from geometries.assembly import morph
from geometries.assembly.mesh import SectionMesh, mesh_section
from geometries.assembly.morph import RATIO, base_mesh, canonical, edges, morphed_section, moved, quality, topology
from geometries.shapes.section import Region, Role, Section, Shape
from tests.support.laws import SmoothIron
from tests.support.random_cores import random_core, solved_section
from tests.support.sections import SIDE_BY_SIDE, shell

MM = 1e-3
IRON = SmoothIron()
FAST = (2, 5, 7)
"""Random cores of every run: shell with shunts and a leg gap, two-leg wound on both legs, two-leg with a leg gap."""


def filled(region: Region) -> SmoothIron | None:
    return IRON if region.role is Role.IRON else None


def random_section(seed: int) -> Section:
    rng = np.random.default_rng(seed)
    leg, w, h = rng.uniform(36, 44) * MM, rng.uniform(18, 22) * MM, rng.uniform(54, 66) * MM
    a, b, s = leg / 2 + 2 * MM, leg / 2 + w - rng.uniform(2, 3) * MM, rng.uniform(0.45, 0.55) * h
    coils = {"primary": (a, b, 2 * MM, s - 2 * MM), "secondary": (a, b, s + 2 * MM, h - 2 * MM)}
    return shell(coils, leg=leg, outer_leg=leg / 2, yoke=leg / 2, window=(w, h), gap=0.1 * MM).half()


def areas(mesh: SectionMesh) -> dict[str, float]:
    a, b, c = (mesh.points[:, mesh.triangles[k]] for k in range(3))
    signed = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]))
    return {r.name: float(signed[mesh.region == k].sum()) for k, r in enumerate(mesh.section.regions)}


@pytest.mark.parametrize("seed", range(4))
def test_a_moved_mesh_fills_every_region(seed: int) -> None:
    section = random_section(seed)
    mesh = morphed_section(section)
    found = areas(mesh)
    for r in section.regions:
        assert found[r.name] == pytest.approx(r.area, rel=1e-9)
    assert np.all(quality(mesh) > 0)
    x0, y0, x1, y1 = section.outline
    assert (mesh.points[0].min(), mesh.points[1].min(), mesh.points[0].max(), mesh.points[1].max()) == pytest.approx(
        (x0, y0, x1, y1)
    )


def test_the_canonical_section_is_one_for_all_near_it() -> None:
    section = random_section(0)
    base = canonical(section)
    assert topology(base) == topology(section)
    assert canonical(base) == base
    old, new = edges(base), edges(section)
    for a, b in ((old.x, new.x), (old.y, new.y)):
        ratio = np.diff(a) / np.diff(b)
        assert np.all((ratio < sqrt(RATIO) + 1e-9) & (ratio > 1 / sqrt(RATIO) - 1e-9))
    bases = {canonical(random_section(seed)) for seed in range(40)}
    assert len(bases) < 12


def test_meshes_do_not_depend_on_what_was_meshed_before() -> None:
    first = [morphed_section(random_section(seed)) for seed in (0, 1, 2, 3)]
    morph._base.cache_clear()
    second = [morphed_section(random_section(seed)) for seed in (3, 1, 2, 0)][::-1]
    for a, b in zip([first[k] for k in (0, 2, 1, 3)], second, strict=True):
        assert np.array_equal(a.points, b.points)
        assert np.array_equal(a.triangles, b.triangles)


@pytest.mark.parametrize("ampere_turns", [500.0, 20e3])
@pytest.mark.parametrize("seed", [0, 5])
def test_moving_costs_no_more_flux_than_the_mesh_itself(seed: int, ampere_turns: float) -> None:
    """Level 0 refined once has flux within 5e-4 (test_ngsolve.py); so has a moved mesh, its elements 1.22 times as long
    at most."""
    section = random_section(seed)
    found, expected = (
        both(solve_model(build_model(mesh, filled), {"primary": ampere_turns}), "primary")[1]
        for mesh in (morphed_section(section), mesh_section(section, level=1))
    )
    assert found == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize("seed", [k if k in FAST else pytest.param(k, marks=pytest.mark.slow) for k in range(12)])
def test_a_moved_mesh_is_as_good_as_one_made_for_the_section(seed: int) -> None:
    """Flux agrees within the error aimed at, from half to deep saturation; leakage likewise. Six shell and six two-leg
    cores, side by side, with shunts, concentric or on a leg each; some with a gap in the leg."""
    core, blocks, shunt = random_core(seed)
    section = solved_section(core, blocks, shunt)
    law_of, *_ = saturating_iron(steel("M530-50A").curve, core.stacking_factor, core.joint)
    mesh, anew = morphed_section(section), mesh_section(section)
    assert mesh.triangles is base_mesh(section).triangles
    for H in (150.0, 20e3):
        state = {"primary": H * core.window_height}
        moved_flux, flux = (both(solve_model(build_model(m, law_of), state), "primary")[1] for m in (mesh, anew))
        assert moved_flux == pytest.approx(flux, rel=FLUX_TARGET)
    pairs = [leakage_field(build_model(m, linear_iron()), blocks) for m in (mesh, anew)]
    moved_leakage, leakage = (both(p, "primary")[1] - both(p, "secondary")[1] for p in pairs)
    assert moved_leakage == pytest.approx(leakage, rel=FLUX_TARGET)


def test_finer_levels_are_meshed_anew() -> None:
    section = random_section(3)
    assert np.array_equal(morphed_section(section, level=1).points, mesh_section(section, level=1).points)


def test_what_cannot_be_moved_is_refused_or_meshed_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    section = random_section(0)
    mesh = morphed_section(section)
    with pytest.raises(ValueError, match="another order"):
        moved(mesh, shell(SIDE_BY_SIDE).half())
    disc = Region(name="wire", role=Role.CONDUCTOR, x0=0.0, y0=0.0, x1=1.0, y1=1.0, shape=Shape.DISC)
    with pytest.raises(ValueError, match="discs"):
        topology(replace(section, regions=(disc,)))
    monkeypatch.setattr(morph, "POOREST", 2.0)
    anew = morphed_section(section)
    assert np.array_equal(anew.points, mesh_section(section).points)


def test_quality_of_known_triangles() -> None:
    """1 for an equilateral one; for a right one with legs 1: 2 sqrt(3) / (1 + 1 + 2)."""
    section = shell(SIDE_BY_SIDE)
    points = np.array([[0.0, 1.0, 0.5, 0.0], [0.0, 0.0, sqrt(0.75), 1.0]])
    triangles = np.array([[0, 1, 2], [0, 1, 3], [1, 0, 2]]).T
    mesh = SectionMesh(points=points, triangles=triangles, region=np.zeros(3, dtype=np.int64), section=section, level=0)
    assert quality(mesh) == pytest.approx([1.0, sqrt(3) / 2, -1.0])


def test_a_kept_topology_changes_no_digit() -> None:
    """Same pattern, same ordering, same sums: bit for bit what a topology made for this mesh alone gives."""
    first, second = (morphed_section(random_section(seed)) for seed in (0, 0))
    other = replace(first, points=first.points * np.array([[1.1], [0.9]]))
    KEPT.clear()
    build_model(other, filled)
    shared = build_model(first, filled)
    assert len(KEPT) == 1
    KEPT.clear()
    alone = build_model(second, filled)
    assert shared.coarse.problem.space is not alone.coarse.problem.space
    a = solve_model(shared, {"primary": 5e3})
    starts.KEPT.clear()  # else the second starts near the first
    b = solve_model(alone, {"primary": 5e3})
    assert np.array_equal(a.coarse.A, b.coarse.A)
    assert np.array_equal(a.fine.A, b.fine.A)


def test_the_refinement_s_points_are_scikit_fem_s() -> None:
    mesh = mesh_section(random_section(2))
    shape = build_topology(mesh.points, mesh.triangles)
    twice = MeshTri(mesh.points, mesh.triangles).refined()
    assert np.array_equal(shape.fine_points(mesh.points), twice.p)
    assert np.array_equal(shape.fine.triangles, MeshTri(twice.p, twice.t).t)


def test_few_topologies_are_kept() -> None:
    for k in range(KEPT.most + 3):
        points = np.array([[0.0, 1.0, 0.0, 1.0], [0.0, 0.0, 1.0, 1.0]])
        triangles = np.array([[0, 1, 2], [1, 3, 2]]).T
        fan = MeshTri(points, triangles).refined(1 + k % 5)
        kept_topology(fan.p, fan.t)
    assert len(KEPT) <= KEPT.most
