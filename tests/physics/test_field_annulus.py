"""A ring of iron round a straight wire: H = I/(2 pi r) in any iron, so its flux is a quadrature over the radius."""

from dataclasses import replace

import numpy as np
import pytest

from fem.constants import MU0
from fem.field.static.newton import solve
from fem.field.static.problem import Problem
from fem.materials.bh import BHCurve
from fem.materials.mixture import Reluctivity
from tests.support.fields import potential_at, problem_on
from tests.support.meshes import graded, midpoints, rings
from tests.support.seeds import FRESH

MM = 1e-3
WIRE, INNER, OUTER, EDGE = 2 * MM, 5 * MM, 15 * MM, 20 * MM
AROUND = 120


def random_curve(seed: int) -> tuple[BHCurve, float]:
    """Return a rising table of 8 rows that no steel need have, and an iron fraction."""
    rng = np.random.default_rng(seed)
    # Up to 1e5 A/m, rows half as much again apart at least: closer ones would be a jump of B within an element.
    steps = rng.uniform(0.3, 1.0, 8)
    H = np.concatenate([[0.0], 10 ** (5 * np.cumsum(steps) / np.sum(steps))])
    J_s = rng.uniform(1.5, 2.3)
    J = np.concatenate([[0.0], J_s * np.cumsum(rng.uniform(0.05, 1, 8)) / 9])
    curve = BHCurve(name="random", H=H, B=J + MU0 * H, saturation_polarisation=J_s, source="random")
    return curve, float(rng.uniform(0.4, 1.0))


@pytest.fixture(scope="module")
def ring() -> Problem:
    mesh = rings(graded([0.0, WIRE, INNER, OUTER, EDGE], [0.5 * MM, 0.5 * MM, 0.2 * MM, 1 * MM, 2 * MM], 1.2), AROUND)
    r = np.hypot(*midpoints(mesh.p, mesh.t))
    iron = np.flatnonzero((r > INNER) & (r < OUTER))
    return problem_on(
        mesh,
        windings={"wire": [(np.flatnonzero(r < WIRE), 1)]},
        laws=[(iron, Reluctivity.linear(1.0))],
    )


@pytest.mark.parametrize("H_inside", [100.0, 3e3, 1e5])
@pytest.mark.parametrize("seed", [1, 2, 3, FRESH])
def test_flux_between_radii(ring: Problem, seed: int, H_inside: float) -> None:
    curve, iron_fraction = random_curve(seed)
    law = Reluctivity.of_lamination(curve, iron_fraction)
    problem = replace(ring, laws=((ring.laws[0][0], law),))
    current = 2 * np.pi * INNER * H_inside
    A = solve(problem, {"wire": current}).A
    # Read 1 mm, several sides of the polygons, away from the iron's faces: their corners are not felt there.
    inner, outer = INNER + MM, OUTER - MM
    at = potential_at(problem, A, [(r, 0.0) for r in (inner, outer, OUTER + 1.5 * MM)])
    # Midpoint rule with 4000 steps in ln r: the random curves have corners, at which its error is below 1e-6.
    r = inner * (outer / inner) ** ((np.arange(4000) + 0.5) / 4000)
    H = current / (2 * np.pi * r)
    B = iron_fraction * curve.polarisation(H) + MU0 * H
    wanted = float(np.sum(B * r) * np.log(outer / inner) / 4000)
    # 1e-3 is what the project promises for flux; polygons of 120 sides with 30 elements along the radius are nearer.
    assert at[0] - at[1] == pytest.approx(wanted, rel=1e-3)
    # Outside the ring nothing of the iron is left: the current alone says what the field is.
    beyond = MU0 * current / (2 * np.pi) * np.log(EDGE / (OUTER + 1.5 * MM))
    assert at[2] == pytest.approx(beyond, rel=1e-3)
