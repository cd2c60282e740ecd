"""Derivatives of the saturating end part by the lengths of a job: each problem's own, the span's, and other grids'.

Steps are taken as in `test_moved_grid`; a quarter per cent at most, as the knee bends the flux.
"""

from collections.abc import Callable

import numpy as np
import pytest

from fem.arrays import Floats
from fem.characteristics.by_key import moving_core
from fem.characteristics.laws import saturating_iron
from fem.characteristics.magnetising.ends import (
    OPEN_AIR,
    THINNEST_JOINT,
    Materials,
)
from fem.characteristics.magnetising.reduced import Reduced
from fem.design.transformer import Design
from fem.field.bricks import lines
from fem.field.bricks.grid import TensorGrid, end_region_grid
from fem.field.bricks.lines import Wanted
from fem.field.bricks.motion import grid_motion, slab_motion
from fem.field.bricks.saturating import Saturating, saturating
from fem.field.bricks.saturating_slopes import flux_slopes
from fem.materials.steel import steel
from geometries.assembly.by_key import ByKey
from geometries.assembly.section_of import section_of
from geometries.shapes.section import Section
from tests.support.ends import newton
from tests.support.every_kind import KINDS, design_of
from tests.support.moved import built, keyed, moved, rates, told

COARSE = 0.3
KNEE = 300.0
"""Ampere-turns [A] at which these cores' fluxes bend."""
SEEDS = {"few conductors": 3, "nested": 3}
FAST = ("two-leg",)
SLOW = [kind if kind in FAST else pytest.param(kind, marks=pytest.mark.slow) for kind in KINDS]


def arrangement(kind: str) -> Design:
    """Return a kind whose end clearance is not the leg's: where both are equal, corners have two derivatives."""
    return design_of(kind).vary("windings.end_clearance", 2.3e-3)


def materials(design: Design) -> Materials:
    assert design.core.steel is not None
    curve, core = steel(design.core.steel).curve, design.core
    _, iron, bridge, bar = saturating_iron(curve, core.stacking_factor, core.joint)
    return Materials(iron=iron, bridge=bridge, bar=bar if design.fitted_shunt else None)


def outline(section: Section) -> tuple[float, float, float, float]:
    return (section.half() if section.mirror_symmetric else section).outline


def drawn(design: Design) -> tuple[float, float, float, float]:
    return outline(section_of(design.core, built(design)[0], shunt=design.fitted_shunt))


def grids(design: Design) -> tuple[TensorGrid, TensorGrid]:
    blocks, bars = built(design)
    frame = design.core.frame
    grid = end_region_grid(
        frame,
        blocks,
        bars,
        mu_r=2.0,
        resolution=COARSE,
        resolve_gap=False,
        thinnest=THINNEST_JOINT * frame.window_width,
        open_air=OPEN_AIR,
    )
    return grid, grid.slab(frame, drawn(design))


def problems(design: Design) -> tuple[Saturating, Saturating]:
    blocks, bars = built(design)
    frame, made_of = design.core.frame, materials(design)
    thinnest = THINNEST_JOINT * frame.window_width
    whole, slab = (saturating(g, frame, blocks, made_of.cells(g, frame, bars, thinnest)) for g in grids(design))
    return whole, slab


def on_the_grid(problem: Saturating) -> tuple[Floats, Floats]:
    """Return potential and responses by Newton's method on the grid itself."""
    _, potential = newton(problem, KNEE, tolerance=1e-13)
    span, factor = Reduced(problem), problem.cholesky()
    span.add(potential[:, None])
    matrix, right = span.linearised(span.solve(KNEE))
    factor.factor(matrix)
    return potential, factor.solve(right[:, 1:])


def slopes_of(design: Design, found: ByKey, part: int, fields: tuple[Floats, Floats]) -> Floats:
    """Return the derivatives of the fluxes of one problem (windings, keys)."""
    what, (grid, slab) = moving_core(found), grids(design)
    gap = THINNEST_JOINT * what.frame.window_width
    motion = grid_motion(grid, what, resolution=COARSE, resolve_gap=False, thinnest=gap, open_air=OPEN_AIR)
    if part:
        motion = slab_motion(motion, grid, slab, what, thinnest=gap, outline=drawn(design))
    potential, responses = fields
    laws, F = materials(design).moves(motion), np.array([KNEE])
    return flux_slopes(problems(design)[part], motion, what, laws, F, potential[:, None], responses[:, None])[0]


def assert_square(kind: str, part: int, found: ByKey, slopes: Floats, flux: Callable[[Saturating], Floats]) -> None:
    """Hold what is left of each winding's flux against the square of the step."""
    design = arrangement(kind)
    mine, draw = told(design, found), np.random.default_rng(SEEDS.get(kind, 1))
    direction = np.array([0.0025 * found.values[k] for k in mine]) * draw.choice([-1.0, 1.0], len(mine))
    here, left = problems(design)[part], []
    for step in (1.0, 0.5, 0.25, 0.125):
        other = moved(design, {found.keys[k]: found.values[k] + step * d for k, d in zip(mine, direction, strict=True)})
        there = problems(other)[part]
        assert there.size == here.size
        left.append(flux(there) - flux(here) - step * slopes[:, mine] @ direction)
    assert rates(np.array(left)) == pytest.approx(2.0, abs=0.1), left


@pytest.fixture
def _smooth(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lay lines without steps of their own: not rounded to nanometres, as many points between two edges for all."""
    monkeypatch.setattr(lines, "SAME", 1e-14)
    monkeypatch.setattr(Wanted, "_steps", lambda *_: 1000)


@pytest.mark.usefixtures("_smooth")
@pytest.mark.parametrize("part", [pytest.param(0, id="whole", marks=pytest.mark.slow), pytest.param(1, id="slab")])
@pytest.mark.parametrize("kind", SLOW)
def test_remainders_fall_with_the_square_of_the_step(kind: str, part: int) -> None:
    """Of states found on the grid itself to 1e-13 of the coenergy; of both windings."""
    design = arrangement(kind)
    found = keyed(design)
    slopes = slopes_of(design, found, part, on_the_grid(problems(design)[part]))
    assert_square(kind, part, found, slopes, lambda problem: newton(problem, KNEE, tolerance=1e-13)[0].flux)


@pytest.mark.usefixtures("_smooth")
@pytest.mark.parametrize("kind", ["shunts", pytest.param("concentric", marks=pytest.mark.slow)])
def test_a_span_s_own_derivative_is_exact(kind: str) -> None:
    """Of fluxes found in one and the same span on every grid: a poor one, with two fields for each of three states."""
    design = arrangement(kind)
    found, problem = keyed(design), problems(design)[0]
    factor, span = problem.cholesky(), Reduced(problem)
    for mu_r in (30.0, 300.0, 2000.0):
        matrix, right = problem.uniform(mu_r)
        factor.factor(matrix)
        span.add(factor.solve(np.column_stack((right, problem.loads[:, 1]))))

    def flux(other: Saturating) -> Floats:
        again = Reduced(other)
        again.add(span.fields)
        return again.solve(KNEE, again.solve(KNEE)).flux

    state = span.solve(KNEE, span.solve(KNEE))
    fields = span.fields @ state.place, span.fields @ span.responses(state)
    assert_square(kind, 0, found, slopes_of(design, found, 0, fields), flux)
