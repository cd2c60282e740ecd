"""Field solves against another finite-element library on the same triangles, law, tolerance, start and line search.

Every comparison first checks that both find the same flux.
"""

import numpy as np
import pytest

from tests.support.needed import needed

needed("ngsolve")

from fem.field.static import starts, topology
from fem.field.static.model import FieldModel, build_model, extrapolated, solve_both, solve_model
from fem.field.static.newton import solve
from fem.field.static.quantities import both
from geometries.assembly import morph
from geometries.assembly.mesh import mesh_section
from geometries.assembly.morph import morphed_section
from geometries.shapes.section import Section
from tests.benchmarks.side_by_side import compare, tell
from tests.support.finer import IRON, filled, meshed, refined
from tests.support.ngsolve_tuned import Tuned, own_mesh
from tests.support.ngsolve_twin import on_arrays
from tests.support.sections import SIDE_BY_SIDE, shell

pytestmark = [pytest.mark.bench, pytest.mark.filterwarnings("default")]

MM = 1e-3
STATE = {"primary": 3e3}
"""About 1.9 T in the centre leg."""


SIZES = {"5k": 0.35, "20k": 1.0}
"""Unknowns of the fine mesh, about, and how fine the coarse one is."""


@pytest.fixture(scope="module", params=SIZES)
def pair(request: pytest.FixtureRequest) -> tuple[str, FieldModel, Tuned]:
    """Return our model and theirs on the same fine triangles of a whole shell core."""
    section = shell(SIDE_BY_SIDE, gap=0.1 * MM)
    mesh = meshed(section, SIZES[request.param])
    model = build_model(mesh, filled)
    tuned = Tuned(on_arrays(refined(mesh)), section, IRON)
    assert tuned.unknowns == model.unknowns
    flux = both(solve_model(model, STATE), "primary")[1]
    tuned.solve(STATE)
    assert tuned.linkage_per_m("primary") == pytest.approx(flux, rel=1e-7)  # residuals of 1e-8 on both sides
    return request.param, model, tuned


def test_one_solve(pair: tuple[str, FieldModel, Tuned]) -> None:
    """All but meshing: numbering, pattern, symbolic factor, Newton."""
    size, model, tuned = pair

    def ours() -> None:
        topology.KEPT.clear()
        solve_model(build_model(model.mesh, filled), STATE)

    def theirs() -> None:
        Tuned(tuned.mesh, tuned.section, IRON).solve(STATE)

    found = compare(f"one solve, {size} ({model.unknowns} unknowns)", ours, theirs, goal=3)
    assert found.median >= found.goal


def test_kept_topology(pair: tuple[str, FieldModel, Tuned]) -> None:
    """The second and further solves on a mesh; ours from its coarse half, as every field here is solved."""
    size, model, tuned = pair
    found = compare(f"kept topology, {size}", lambda: solve_model(model, STATE), lambda: tuned.solve(STATE), goal=4)
    assert found.median >= found.goal


def test_step_for_step(pair: tuple[str, FieldModel, Tuned]) -> None:
    """The same iteration on the same mesh from the same start: what assembly and factorisation alone make of it."""
    size, model, tuned = pair
    problem = model.fine.problem
    found = compare(f"step for step, {size}", lambda: solve(problem, STATE), lambda: tuned.solve(STATE), goal=3)
    tell(f"    {solve(problem, STATE).steps} steps against {tuned.steps}")
    assert found.median >= found.goal


def test_magnetisation_curve(pair: tuple[str, FieldModel, Tuned]) -> None:
    """Twenty points from deep saturation down to the foot: each from those before, on ours by extrapolation."""
    size, model, tuned = pair
    sizes = np.geomspace(60e3, 30.0, 20)

    def ours() -> list[float]:
        starts: list[np.ndarray] = []
        for k, F in enumerate(sizes):
            starts.append(solve(model.coarse.problem, {"primary": F}, start=extrapolated(sizes[: k + 1], starts)).A)
        solved = solve_both(model, [{"primary": float(F)} for F in sizes], starts)
        return [both(s, "primary")[1] for s in solved]

    def theirs() -> list[float]:
        found = []
        for k, F in enumerate(sizes):
            tuned.solve({"primary": float(F)}, start=k == 0)
            found.append(tuned.linkage_per_m("primary"))
        return found

    assert ours() == pytest.approx(theirs(), rel=1e-6)
    found = compare(f"20-point magnetisation curve, {size}", ours, theirs, goal=4, repeats=3)
    assert found.median >= found.goal


def a_section(rng: np.random.Generator) -> Section:
    leg, w, h = rng.uniform(36, 44) * MM, rng.uniform(18, 22) * MM, rng.uniform(54, 66) * MM
    a, b, s = leg / 2 + 2 * MM, leg / 2 + w - rng.uniform(2, 3) * MM, rng.uniform(0.45, 0.55) * h
    coils = {"primary": (a, b, 2 * MM, s - 2 * MM), "secondary": (a, b, s + 2 * MM, h - 2 * MM)}
    return shell(coils, leg=leg, outer_leg=leg / 2, yoke=leg / 2, window=(w, h), gap=0.1 * MM)


def test_hundred_geometries() -> None:
    """One solve of each of 100 cores, meshing included, to the same accuracy.

    Ours halved, moved, and started as the tool itself starts the second and further sections like one it has met; all
    canonical meshes and fields are made within the time. Theirs meshed anew, whole. Both within 5e-4 of a finer mesh.
    """
    sections = [a_section(np.random.default_rng(seed)) for seed in range(100)]

    def ours() -> list[float]:
        for kept in (starts.KEPT, topology.KEPT):
            kept.clear()
        morph._base.cache_clear()
        models = (build_model(morphed_section(section.half()), filled) for section in sections)
        return [both(solve_model(model, STATE), "primary")[1] for model in models]

    def theirs() -> list[float]:
        found = []
        for section in sections:
            tuned = Tuned(own_mesh(section, largest=4 * MM, corner=0.25 * MM), section, IRON)
            tuned.solve(STATE)
            found.append(tuned.linkage_per_m("primary"))
        return found

    a, b = np.array(ours()), np.array(theirs())
    fine = np.array(
        [
            both(solve_model(build_model(mesh_section(s.half(), level=1), filled), STATE), "primary")[1]
            for s in sections[:10]
        ]
    )
    unknowns = build_model(morphed_section(sections[0].half()), filled).unknowns
    other = Tuned(own_mesh(sections[0], largest=4 * MM, corner=0.25 * MM), sections[0], IRON).unknowns
    tell(
        f"100 geometries: flux off a finer mesh's by at most {np.abs(a[:10] / fine - 1).max():.1e} and "
        f"{np.abs(b[:10] / fine - 1).max():.1e}; {unknowns} unknowns (half) and {other} (whole)"
    )
    assert np.abs(a[:10] / fine - 1).max() < 5e-4
    assert np.abs(b[:10] / fine - 1).max() < 5e-4
    found = compare("100 geometries, meshing included", ours, theirs, goal=20, repeats=3)
    assert found.median >= found.goal
