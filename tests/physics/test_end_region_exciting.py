"""End turns of one energised block: the reduced problem against direct solves, limits and an independent recipe."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ellipe, ellipk

from fem.characteristics.magnetising.ends import IronMu, exciting_end
from fem.constants import MU0
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.slices import end_slice, planar_slice
from fem.field.bricks.solve import fluxes_per_turn
from geometries.shapes.blocks import Block
from tests.support.core_shape import CoreShape
from tests.support.ends import exciting, planar_and_end

Floats = NDArray[np.float64]

CORE = CoreShape(
    leg_width=0.034,
    outer_leg_widths=(0.017, 0.017),
    yoke_height=0.017,
    window_width=0.02,
    window_height=0.055,
    stack_depth=0.05,
)
BLOCK = Block(winding="primary", leg_clearance=0.0015, end_clearance=0.002, build=0.016, bottom=0.0015, height=0.03)


def even(mu: float) -> IronMu:
    return IronMu(leg=mu, outer_legs=mu, yokes=mu)


def direct(core: CoreShape, mu: IronMu) -> tuple[float, float]:
    """Planar and end permeance solved on the grid itself, without the reduced basis."""
    grid = end_region_grid(core, (BLOCK,), (), mu_r=2.0, resolution=0.6, resolve_gap=False)
    x, y = (grid.x[1:] + grid.x[:-1]) / 2, (grid.y[1:] + grid.y[:-1]) / 2
    beside = np.where(x < core.leg_width, mu.leg, mu.outer_legs)[:, None, None]
    level = ((y < 0) | (y > core.window_height))[None, :, None]
    grid = replace(grid, mu_r=np.where(grid.mu_r > 1, np.where(level, mu.yokes, beside), 1.0))
    whole, planar = (float(fluxes_per_turn(g, core, (BLOCK,), (1.0,))[0][0]) for g in (grid, grid.slab(core)))
    return planar, whole - planar


@pytest.mark.parametrize("gap", [0.0, 1e-3])
def test_the_reduced_problem_stands_for_the_solved_one(gap: float) -> None:
    """Within 1 % of the end part at iron it was not built from; exactly, but for rounding, at iron it was."""
    core = replace(CORE, joint_gap=gap)
    ends = exciting_end(core, (BLOCK,))
    planar, end = direct(core, even(60.0))
    assert planar_and_end(ends, even(60.0))[0] == pytest.approx(planar, rel=1e-7)
    assert planar_and_end(ends, even(60.0))[1] == pytest.approx(end, rel=1e-6)
    for mu in (
        even(2.5),
        even(3000),
        IronMu(leg=5, outer_legs=50, yokes=300),
        IronMu(leg=30, outer_legs=60, yokes=400),
    ):
        planar, end = direct(core, mu)
        reduced = planar_and_end(ends, mu)
        assert reduced[1] == pytest.approx(end, rel=0.01)
        # A minimum over fewer fields cannot be lower.
        assert sum(reduced) >= (planar + end) * (1 - 1e-9)
        assert ends.end_of_planar(np.array([planar]), mu)[0, 0] == pytest.approx(end, rel=0.015)


def coaxial(r1: Floats, r2: Floats, distance: Floats) -> Floats:
    """Mutual inductance of coaxial circles: Maxwell, A Treatise on Electricity and Magnetism, 1873, art. 701."""
    m = 4 * r1 * r2 / ((r1 + r2) ** 2 + distance**2)
    k = np.sqrt(m)
    mutual: Floats = MU0 * np.sqrt(r1 * r2) * ((2 / k - k) * ellipk(m) - 2 / k * ellipe(m))
    return mutual


def test_without_iron_a_round_coil_has_maxwell_s_inductance() -> None:
    """Clearance round a vanishing leg makes the racetrack a circle; its filaments' mutual inductances are known."""
    inner, build, height = 0.02, 0.015, 0.03

    def rule(points: int, start: float, stop: float) -> tuple[Floats, Floats]:
        x, w = np.polynomial.legendre.leggauss(points)
        return (start + stop) / 2 + (stop - start) / 2 * x, w / 2

    estimates = []
    for one, other in (
        (24, 25),
        (24, 27),
    ):  # Points that never meet; the logarithm leaves 5e-4 (the two differ by 9e-4).
        r1, u1 = rule(one, inner, inner + build)
        r2, u2 = rule(other, inner, inner + build)
        z1, v1 = rule(one, 0.0, height)
        z2, v2 = rule(other, 0.0, height)
        table = coaxial(r1[:, None, None, None], r2[:, None, None], z1[:, None] - z2)
        estimates.append(float(np.einsum("ijkl,i,j,k,l->", table, u1, u2, v1, v2)))
    exact = float(np.mean(estimates))

    core = CoreShape(
        leg_width=1e-5,
        outer_leg_widths=(1e-3, 1e-3),
        yoke_height=1e-3,
        window_width=0.04,
        window_height=0.06,
        stack_depth=1e-5,
    )
    coil = Block(winding="round", leg_clearance=inner, end_clearance=inner, build=build, bottom=0.015, height=height)
    solved, excess = exciting(core, coil, mu_r=1.0)
    assert exact * (1 - 1e-3) < solved < exact * (1 + 1e-3) + excess
    # Axisymmetric: a lower bound, quadratic elements; far air at three heights takes 1e-3 at most.
    turned = float(end_slice(core, (coil,), (1.0,), mu_r=1.0).fluxes_per_turn[0])
    assert turned == pytest.approx(exact, rel=2e-3)


def test_a_narrow_gap_rules_the_exciting_permeance() -> None:
    """L -> mu0 A / (2 g): the centre leg's gap in series with the outer legs', of the same area together.

    Leakage and fringing lie on top: relative to the uniform gap's value the one goes as g, the other as g ln(1/g).
    """
    core = CoreShape(
        leg_width=0.04,
        outer_leg_widths=(0.02, 0.02),
        yoke_height=0.02,
        window_width=0.02,
        window_height=0.06,
        stack_depth=0.05,
    )
    block = Block(winding="first", leg_clearance=0.0015, end_clearance=0.0015, build=0.015, bottom=0.0015, height=0.05)
    excess = [
        exciting(replace(core, joint_gap=gap), block, mu_r=1e7, resolution=0.6)[0]
        / (MU0 * core.leg_width * core.stack_depth / (2 * gap))
        - 1
        for gap in (0.2e-3, 0.1e-3)
    ]
    # Between pure leakage, a half, and pure fringing, where g (1 + ln(pi w / 2 g)) makes it 0.56; the grid's 0.1 % of L
    # are 2 % of the excess.
    assert excess[1] > 0
    assert 0.49 < excess[1] / excess[0] < 0.57


def test_the_coarse_end_part_completes_the_planar_slice() -> None:
    """Planar slice (a lower bound, fine) plus coarse end part against the whole 3-D bound with its own estimate.

    The end part, a tenth of the whole, may be 3 % high.
    """
    core = replace(CORE, joint_gap=1e-3)
    planar = 2 * core.stack_depth * float(planar_slice(core, (BLOCK,), (1.0,)).fluxes_per_turn[0])
    fine, excess = exciting(core, BLOCK, resolution=0.8)
    _, end = planar_and_end(exciting_end(core, (BLOCK,)), even(4000.0))
    assert planar + end == pytest.approx(fine, abs=excess + 0.03 * end)


def test_the_end_part_follows_from_the_planar_slope() -> None:
    """At uniform iron the table gives back what was solved; iron beyond saturation keeps the end turns' part in air."""
    ends = exciting_end(CORE, (BLOCK,))
    for mu in (1.0, 50.0):
        planar, end = planar_and_end(ends, even(mu))
        # The table along the ray is interpolated: 60 points over four decades.
        assert ends.end_of_planar(np.array([planar]))[0, 0] == pytest.approx(end, rel=5e-3)
    planar, end = planar_and_end(ends, even(1.0))
    assert ends.end_of_planar(np.array([0.9 * planar]))[0, 0] == pytest.approx(end, rel=1e-12)


def test_the_other_winding_links_what_reciprocity_says() -> None:
    """L11 - 2 L12 + L22 of two blocks excited in turn is the leakage of both at once, all on one grid.

    The blocks' self and mutual permeances agree to about 1 %, so the difference is checked with linear iron no better
    than mu_r 60, where it is not lost in rounding or in the reduced basis.
    """
    other = Block(
        winding="secondary", leg_clearance=0.0015, end_clearance=0.002, build=0.016, bottom=0.0345, height=0.018
    )
    grid = end_region_grid(CORE, (BLOCK, other), (), mu_r=60.0, resolution=0.6, resolve_gap=False)
    first = exciting_end(CORE, (BLOCK, other)).whole.permeances(np.array([[1.0, 60.0, 60.0, 60.0, 1.0, 1.0]]))[0]
    second = exciting_end(CORE, (other, BLOCK)).whole.permeances(np.array([[1.0, 60.0, 60.0, 60.0, 1.0, 1.0]]))[0]
    assert first[1] == pytest.approx(second[1], rel=1e-9)
    fluxes, _ = fluxes_per_turn(grid, CORE, (BLOCK, other), (1.0, -1.0))
    assert first[0] - 2 * first[1] + second[0] == pytest.approx(fluxes[0] - fluxes[1], rel=1e-6)


def test_a_thin_joint_is_stretched_without_harm() -> None:
    """A gap of 0.1 mm, resolved: the winding's inductance keeps within 0.3 % (half of what its fringe adds)."""
    core = replace(CORE, joint_gap=1e-4)
    for mu in (4000.0, 50.0, 5.0):
        planar, end = direct(core, even(mu))
        _, stretched = planar_and_end(exciting_end(core, (BLOCK,)), even(mu))
        assert stretched == pytest.approx(end, abs=0.003 * (planar + end))
