"""The saturating end part: against Newton's method on its grid, its own energy, and the planar curve."""

from dataclasses import replace

import numpy as np
import pytest

from fem.characteristics.laws import joint_bridge
from fem.characteristics.magnetising.ends import OPEN_AIR, Materials
from fem.materials.mixture import Reluctivity
from fem.materials.steel import steel
from geometries.cores.stacked import Joint
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Frame
from geometries.shapes.legs import Leg, LegGap
from tests.support.ends import along, coenergy, newton, problems

MM = 1e-3
CURVE = steel("M530-50A").curve
IRON = Reluctivity.of_lamination(CURVE, 0.95)
SHELL = Frame(
    legs=(
        Leg(name="left leg", axis=-45.5 * MM, width=17 * MM, direction=-1),
        Leg(name="centre leg", axis=0.0, width=34 * MM),
        Leg(name="right leg", axis=45.5 * MM, width=17 * MM, direction=-1),
    ),
    yoke_height=17 * MM,
    window_height=55 * MM,
    stack_depth=50 * MM,
)
BLOCKS = (
    Block(
        winding="primary", leg_clearance=1.5 * MM, end_clearance=2 * MM, build=16 * MM, bottom=1.5 * MM, height=30 * MM
    ),
    Block(
        winding="secondary", leg_clearance=1.5 * MM, end_clearance=2 * MM, build=16 * MM, bottom=34 * MM, height=18 * MM
    ),
)
TWO_LEG = replace(
    SHELL,
    legs=(
        Leg(name="left leg", axis=0.0, width=34 * MM),
        Leg(name="right leg", axis=74 * MM, width=34 * MM, direction=-1),
    ),
    yoke_height=34 * MM,
)
UNEQUAL = replace(
    SHELL, legs=(SHELL.legs[0], SHELL.legs[1], Leg(name="right leg", axis=48 * MM, width=22 * MM, direction=-1))
)
CASES = {
    "tight": (replace(SHELL, joint_gap=2e-6), BLOCKS),
    "butt": (replace(SHELL, joint_gap=0.1 * MM), BLOCKS),
    "wide joints": (replace(SHELL, joint_gap=0.9 * MM), BLOCKS),
    "gap in the leg": (replace(SHELL, joint_gap=0.05 * MM, leg_gap=LegGap(bottom=20 * MM, height=0.5 * MM)), BLOCKS),
    "interleaved": (replace(SHELL, joint_gap=0.03 * MM, joints_below=True), BLOCKS),
    "unequal legs": (replace(UNEQUAL, joint_gap=0.05 * MM), BLOCKS),
    "two legs": (replace(TWO_LEG, joint_gap=0.05 * MM), BLOCKS),
    "a leg each": (
        replace(TWO_LEG, joint_gap=0.05 * MM),
        (BLOCKS[0], replace(BLOCKS[1], leg_axis=74 * MM, bottom=10 * MM, height=30 * MM)),
    ),
    "two cores": (
        replace(SHELL, joint_gap=0.05 * MM, second_behind=40 * MM),
        (BLOCKS[0], replace(BLOCKS[1], round_both=True)),
    ),
}
AMPERE_TURNS = np.geomspace(3.0, 60_000.0, 24)
"""From the linear foot to 3 T."""


def of(name: str) -> tuple[Frame, tuple[Block, ...], Materials]:
    frame, blocks = CASES[name]
    bridge = joint_bridge(CURVE, 0.95, Joint.INTERLEAVED) if frame.joints_below else None
    return frame, blocks, Materials(iron=IRON, bridge=bridge)


@pytest.mark.parametrize(
    "name", [name if name == "butt" else pytest.param(name, marks=pytest.mark.slow) for name in CASES]
)
def test_the_span_stands_for_newton_s_method_on_the_grid(name: str) -> None:
    """Half-way between the ampere-turns it was solved at, where it is furthest off.

    1.5 % of the own end part and of the whole flux 3e-4, where what Newton's method itself leaves is a hundredth.
    """
    frame, blocks, materials = of(name)
    resolution = 0.4 if name == "butt" else 0.6
    found = along(frame, blocks, materials, AMPERE_TURNS, resolution=resolution)
    whole, slab = problems(frame, blocks, materials, resolution=resolution)
    step = (AMPERE_TURNS.size - 1) / 6
    for k in sorted({round((level + 0.5) * step) for level in range(1, 5)}):
        high, low = (newton(problem, float(AMPERE_TURNS[k]))[0] for problem in (whole, slab))
        end = high.flux - low.flux
        assert found.flux[k] == pytest.approx(end, abs=0.015 * end[0] + 1e-4 * high.flux[0])
        slopes = high.slope - low.slope
        assert found.slope[k] == pytest.approx(slopes, abs=0.02 * high.slope[0])


def test_flux_is_the_coenergy_s_derivative() -> None:
    """dW/dF = Phi, W from the law's own integral: no tangent, no flux per turn has a part in it.

    Simpson's rule over a step that brings little beyond its fourth order; the state is found to 1e-10.
    """
    problem, _ = problems(SHELL, BLOCKS, Materials(iron=IRON), resolution=0.3)
    for F in (20.0, 250.0, 5000.0):
        at = (0.98 * F, F, 1.02 * F)
        states = [newton(problem, f, tolerance=1e-11) for f in at]
        first, last = (coenergy(problem, IRON, f, states[k][1]) for k, f in ((0, at[0]), (2, at[2])))
        flux = np.array([state.flux[0] for state, _ in states])
        assert last - first == pytest.approx(0.04 * F * (flux @ [1, 4, 1]) / 6, rel=1e-5)
        assert states[1][0].slope[0] == pytest.approx((flux[2] - flux[0]) / (0.04 * F), rel=5e-3)


@pytest.mark.parametrize("name", ["butt", pytest.param("two legs", marks=pytest.mark.slow)])
def test_more_air_before_infinity_changes_nothing(name: str) -> None:
    """Twice the air changes an idle current with peaks beyond 2 T by less than 0.2 % r.m.s. and 0.4 % peak."""
    frame, blocks, materials = of(name)
    F = AMPERE_TURNS[:20]
    slab = problems(frame, blocks, materials, resolution=0.6)[1]
    planar = np.array([newton(slab, float(at))[0].flux[0] for at in F])
    peak, sine = float(np.interp(1500.0, F, planar)), np.sin(np.pi / 2 * (np.arange(200) + 0.5) / 200)
    found = []
    for air in (OPEN_AIR, 2 * OPEN_AIR):
        flux = planar + along(frame, blocks, materials, F, open_air=air).flux[:, 0]
        found.append(np.exp(np.interp(np.log(peak * sine), np.log(flux), np.log(F))))
    assert np.sqrt(np.mean(found[1] ** 2) / np.mean(found[0] ** 2)) == pytest.approx(1, abs=2e-3)
    assert found[1][-1] / found[0][-1] == pytest.approx(1, abs=4e-3)


def test_the_end_part_grows_all_the_way() -> None:
    """Whole and slab each rise, falling ever less; only their difference may dip, at the knee."""
    frame, blocks, materials = of("butt")
    for problem in problems(frame, blocks, materials, resolution=0.4):
        states = [newton(problem, float(F))[0] for F in AMPERE_TURNS[::4]]
        flux = np.array([state.flux[0] for state in states])
        assert (np.diff(flux) > 0).all()
        assert all(state.slope[0] > 0 for state in states)
