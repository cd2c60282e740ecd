"""End turns of one energised block with linear iron: against direct solutions, closed forms and limits."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ellipe, ellipk

from fem.characteristics.magnetising.ends import OPEN_AIR
from fem.constants import MU0
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.slices import end_slice, planar_slice
from geometries.shapes.blocks import Block
from tests.support.core_shape import CoreShape
from tests.support.ends import exciting, fluxes_per_turn, linear_end, solved_section

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


def direct(core: CoreShape, mu_r: float) -> tuple[float, float]:
    """Whole permeance with linear iron, and the end part, exactly integrated on one grid with joints as they are."""
    grid = end_region_grid(core, (BLOCK,), (), mu_r=mu_r, resolution=0.6, resolve_gap=False, open_air=OPEN_AIR)
    slab = grid.slab(core, solved_section(core, (BLOCK,)).outline)
    whole, planar = (float(fluxes_per_turn(g, core, (BLOCK,), (1.0,))[0][0]) for g in (grid, slab))
    return whole, whole - planar


@pytest.mark.parametrize("mu_r", [2.5, 60.0, 4000.0])
def test_linear_iron_has_the_linear_problem_s_end_part(mu_r: float) -> None:
    """Eight points in a cell of iron against exact integrals: 1 % of the end part or 2e-4 of the whole."""
    whole, end = direct(CORE, mu_r)
    assert linear_end(CORE, (BLOCK,), mu_r)[0] == pytest.approx(end, rel=0.01, abs=2e-4 * whole)


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
    # Cells without end after one height of air in place of three heights; after two they come closer than these.
    for open_air, room in ((1.0, 1e-3), (2.0, 0.0)):
        grid = end_region_grid(core, (coil,), (), mu_r=1.0, resolution=1.0, open_air=open_air)
        assert exact * (1 - 1e-3) < fluxes_per_turn(grid, core, (coil,), (1.0,))[0][0] < solved * (1 + room)
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

    The end part, a tenth of the whole, may be 3 % high; the boxes that slice and bound end in take a tenth of that.
    """
    core = replace(CORE, joint_gap=1e-3)
    planar = 2 * core.stack_depth * float(planar_slice(core, (BLOCK,), (1.0,)).fluxes_per_turn[0])
    fine, excess = exciting(core, BLOCK, resolution=0.8)
    end = float(linear_end(core, (BLOCK,), 4000.0)[0])
    assert planar + end == pytest.approx(fine, abs=excess + 0.03 * end)


def test_the_other_winding_links_what_reciprocity_says() -> None:
    """Mutual permeances are the same whichever winding is energised, of linear iron."""
    other = Block(
        winding="secondary", leg_clearance=0.0015, end_clearance=0.002, build=0.016, bottom=0.0345, height=0.018
    )
    for mu_r in (3.0, 1000.0):
        first, second = (linear_end(CORE, pair, mu_r)[1] for pair in ((BLOCK, other), (other, BLOCK)))
        assert first == pytest.approx(second, rel=1e-6)


def test_a_thin_joint_is_stretched_without_harm() -> None:
    """A gap of 0.1 mm, resolved: the winding's inductance keeps within 0.3 % (half of what its fringe adds)."""
    core = replace(CORE, joint_gap=1e-4)
    for mu_r in (4000.0, 50.0, 5.0):
        whole, end = direct(core, mu_r)
        assert linear_end(core, (BLOCK,), mu_r)[0] == pytest.approx(end, abs=0.003 * whole)
