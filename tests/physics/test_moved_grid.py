"""Derivatives of the leakage in three dimensions by the lengths of a job: of the grid that is there, and of any other.

Taylor's test takes steps of some per cent of each length, all lengths at once in a direction of its own, so that no
derivative can hide another: what is left must fall with the square of the step. That holds the derivative of the grid
that is there; whether it is that of the arrangement, grids laid anew tell, with as many cells as come out.
"""

import numpy as np
import pytest

from fem.characteristics.by_key import moving_leakage
from fem.characteristics.leakage.whole import THINNEST_GAP, EndRegion, solve_end_region
from fem.design.transformer import Design
from fem.field.bricks import lines
from fem.field.bricks.grid import TensorGrid, end_region_grid
from fem.field.bricks.lines import Wanted
from fem.field.bricks.motion import Motion, grid_motion
from fem.field.bricks.slopes import energy_slopes
from fem.field.bricks.solve import linear_field
from geometries.assembly.by_key import ByKey
from geometries.shapes.blocks import single_blocks
from tests.support.every_kind import KINDS, design_of
from tests.support.moved import built, keyed, moved, rates, told

COARSE = 0.45
STEPS = (1.0, 0.5, 0.25, 0.125)
SEEDS = {"concentric": 4, "shunts": 5, "few conductors": 5, "two-leg": 5, "two-leg, each": 4, "extra turns": 2}
"""Of directions in which no line comes or goes and the square outweighs the cube; 1 where none is named."""
FAST = ("leg gap", "shunts")
SLOW = [kind if kind in FAST else pytest.param(kind, marks=pytest.mark.slow) for kind in KINDS]


def arrangement(kind: str) -> Design:
    """Return a kind whose end clearance is not the leg's: where both are equal, corners have two derivatives."""
    return design_of(kind).vary("windings.end_clearance", 2.3e-3)


def laid(design: Design, resolution: float = COARSE) -> TensorGrid:
    blocks, bars = built(design)
    frame = design.core.frame.closed
    thinnest = THINNEST_GAP * frame.window_width
    return end_region_grid(frame, single_blocks(blocks), bars, mu_r=4000.0, resolution=resolution, thinnest=thinnest)


def motion_of(found: ByKey, grid: TensorGrid, resolution: float = COARSE) -> Motion:
    what = moving_leakage(found)
    return grid_motion(grid, what, resolution=resolution, thinnest=THINNEST_GAP * what.frame.window_width)


def permeance(design: Design, grid: TensorGrid) -> float:
    field = linear_field(grid, design.core.frame.closed, single_blocks(built(design)[0]), (1.0, -1.0))
    return float(field.ampere_turns @ field.fluxes)


@pytest.fixture
def smooth(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lay lines without steps of their own: not rounded to nanometres, as many points between two edges for all."""
    monkeypatch.setattr(lines, "SAME", 1e-14)
    monkeypatch.setattr(Wanted, "_steps", lambda *_: 1000)


@pytest.mark.usefixtures("smooth")
@pytest.mark.parametrize("kind", SLOW)
def test_remainders_fall_with_the_square_of_the_step(kind: str) -> None:
    """Rates of 1.9 to 2.1 over three halvings."""
    design = arrangement(kind)
    found, grid = keyed(design), laid(design)
    field = linear_field(grid, design.core.frame.closed, single_blocks(built(design)[0]), (1.0, -1.0))
    slopes = energy_slopes(field, motion_of(found, grid), moving_leakage(found))
    mine, draw = told(design, found), np.random.default_rng(SEEDS.get(kind, 1))
    direction = np.array([0.02 * found.values[k] for k in mine]) * draw.choice([-1.0, 1.0], len(mine))
    left = []
    for step in STEPS:
        other = moved(design, {found.keys[k]: found.values[k] + step * d for k, d in zip(mine, direction, strict=True)})
        again = laid(other)
        assert again.mu_r.shape == grid.mu_r.shape
        left.append(permeance(other, again) - permeance(design, grid) - step * slopes[mine] @ direction)
    assert rates(np.array(left)) == pytest.approx(2.0, abs=0.1), left


def solved(design: Design, found: ByKey | None = None) -> EndRegion:
    blocks, bars = built(design)
    what = None if found is None else moving_leakage(found)
    return solve_end_region(design.core.frame.closed, single_blocks(blocks), shunts=bars, resolution=0.6, moving=what)


@pytest.mark.parametrize("kind", ["concentric", *(pytest.param(k, marks=pytest.mark.slow) for k in KINDS)])
def test_grids_laid_anew_agree_within_the_error_estimates(kind: str) -> None:
    """By every key, those that part edges in one place included; differences over 16 % of a length, or 4 mm.

    Each permeance may lie anywhere up to its estimated error too high; the difference's own remainder is the square of
    the step's share, times a sixth of a third derivative about as large as the permeance.
    """
    design = design_of(kind)
    found = keyed(design)
    here = solved(design, found)
    for k, (key, value) in enumerate(zip(found.keys, found.values, strict=True)):
        step = min(0.08 * value, 2e-3) if value > 4e-3 else 0.2 * value
        if kind == "concentric" and not key.endswith(("height", "stack_depth", "build")):
            continue
        ends = [solved(moved(design, {key: value + side * step})) for side in (1, -1)]
        difference = (ends[0].permeance - ends[1].permeance) / (2 * step)
        room = here.slope_errors[k] + max(end.error for end in ends) / (2 * step)
        room += (step / value) ** 2 / 6 * here.permeance / value
        assert here.slopes[k] == pytest.approx(difference, abs=room), (key, room * value / here.permeance)
