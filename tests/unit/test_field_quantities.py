"""What is read from a field: linkages, their slopes, flux densities, areas."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from fem.field.static.model import FieldModel, build_model, solve_model
from fem.field.static.newton import solve
from fem.field.static.problem import Law
from fem.field.static.quantities import (
    both,
    cut_fluxes_per_m,
    flux_density,
    flux_linkage_per_m,
    quadrature_areas,
)
from geometries.assembly.mesh import mesh_section
from geometries.shapes.section import Region, Role
from tests.support.fields import incremental_linkages_per_m
from tests.support.laws import SmoothIron
from tests.support.sections import SIDE_BY_SIDE, shell

IRON = SmoothIron()
STATES = [{"primary": 20.0, "secondary": 5.0}, {"primary": 5000.0, "secondary": -1000.0}]


def filled(region: Region) -> Law | None:
    return IRON if region.role is Role.IRON else None


@pytest.fixture(scope="module", params=[True, False], ids=["half", "whole"])
def model(request: pytest.FixtureRequest) -> FieldModel:
    section = shell(SIDE_BY_SIDE, gap=2e-4)
    return build_model(mesh_section(section.half() if request.param else section), filled)


@pytest.mark.parametrize("ampere_turns", STATES)
def test_incremental_linkages_are_slopes_of_linkages(model: FieldModel, ampere_turns: dict[str, float]) -> None:
    problem = model.coarse.problem
    at = solve(problem, ampere_turns, tolerance=1e-11)
    slopes = {name: incremental_linkages_per_m(at, name) for name in ("primary", "secondary")}
    assert_allclose(slopes["primary"]["secondary"], slopes["secondary"]["primary"], rtol=1e-7)
    for driven in slopes:
        step = 1e-3 * ampere_turns[driven]
        around = [
            solve(problem, {**ampere_turns, driven: ampere_turns[driven] + k * step}, start=at.A, tolerance=1e-11)
            for k in (1, -1)
        ]
        for read in slopes:
            difference = (flux_linkage_per_m(around[0], read) - flux_linkage_per_m(around[1], read)) / (2 * step)
            # A central difference over a thousandth: the third derivative leaves some 1e-6.
            assert_allclose(slopes[driven][read], difference, rtol=1e-5)


def test_halves_carry_whole_linkages() -> None:
    section = shell(SIDE_BY_SIDE, gap=2e-4)
    half, whole = (solve_model(build_model(mesh_section(s), filled), STATES[1]) for s in (section.half(), section))
    for winding in STATES[1]:
        # Two different meshes of level 0: the finer is within 5e-4, the one it was refined from within 1e-3.
        assert_allclose(both(half, winding), both(whole, winding), rtol=2e-3)
    fluxes = [cut_fluxes_per_m(one.model.fine, one.fine) for one in (half, whole)]
    largest = max(map(abs, fluxes[1].values()))
    assert set(fluxes[0]) == set(fluxes[1])
    for name in fluxes[0]:
        assert fluxes[0][name] == pytest.approx(fluxes[1][name], abs=1e-3 * largest), name


def test_areas_and_flux_densities(model: FieldModel) -> None:
    fine = solve_model(model, STATES[1]).fine
    areas, b = quadrature_areas(fine), flux_density(fine)
    x0, y0, x1, y1 = model.mesh.section.outline
    assert_allclose(areas.sum(), (x1 - x0) * (y1 - y0), rtol=1e-12)
    iron = fine.problem.laws[0][0]
    # The energy once more, from |B| and areas.
    air = np.setdiff1d(np.arange(b.shape[1]), iron)
    total = (IRON.energy_density(b[:, iron]) * areas[:, iron]).sum() + (
        b[:, air] ** 2 / (8e-7 * np.pi) * areas[:, air]
    ).sum()
    assert_allclose(fine.problem.copies * total, fine.problem.energy_per_m(fine.A), rtol=1e-12)
