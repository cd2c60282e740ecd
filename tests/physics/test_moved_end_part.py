"""Derivatives of the saturating end part by the lengths of a job: each problem's own, the span's, and other grids'.

Steps are taken as in `test_moved_grid`; a quarter per cent at most, as the knee bends the flux.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from fem.arrays import Floats
from fem.characteristics.by_key import moving_core, moving_laws
from fem.characteristics.laws import saturating_iron
from fem.characteristics.magnetising.ends import (
    OPEN_AIR,
    THINNEST_JOINT,
    EndPart,
    Materials,
    end_part,
)
from fem.characteristics.magnetising.reduced import Reduced
from fem.design.transformer import Design
from fem.field.bricks import lines
from fem.field.bricks.grid import TensorGrid, end_region_grid
from fem.field.bricks.lines import Wanted
from fem.field.bricks.motion import Motion, grid_motion, slab_motion
from fem.field.bricks.racetrack import encircling_share
from fem.field.bricks.reference import NODES
from fem.field.bricks.saturating import Saturating, saturating
from fem.field.bricks.saturating_slopes import flux_slopes
from fem.field.bricks.space import symmetric
from fem.materials.bh import BHCurve
from fem.materials.steel import steel
from geometries.assembly.by_key import ByKey
from geometries.assembly.section_of import section_of
from geometries.shapes.blocks import winding_names
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


def drawn(design: Design) -> Section:
    section = section_of(design.core, built(design)[0], shunt=design.fitted_shunt)
    return section.half() if section.mirror_symmetric else section


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
    return grid, grid.slab(frame, drawn(design).outline)


def problems(design: Design) -> tuple[Saturating, Saturating]:
    blocks, bars = built(design)
    frame, made_of = design.core.frame, materials(design)
    thinnest = THINNEST_JOINT * frame.window_width
    whole, slab = (saturating(g, frame, blocks, made_of.cells(g, frame, bars, thinnest)) for g in grids(design))
    return whole, slab


def on_the_grid(problem: Saturating, F: float = KNEE) -> tuple[Floats, Floats]:
    """Return potential and responses by Newton's method on the grid itself."""
    _, potential = newton(problem, F, tolerance=1e-13)
    span, factor = Reduced(problem), problem.cholesky()
    span.add(potential[:, None])
    matrix, right = span.linearised(span.solve(F))
    factor.factor(matrix)
    return potential, factor.solve(right[:, 1:])


def slopes_of(
    design: Design, found: ByKey, part: int, fields: tuple[Floats, Floats], ampere_turns: float = KNEE
) -> Floats:
    """Return the derivatives of the fluxes of one problem (windings, keys)."""
    what, (grid, slab) = moving_core(found), grids(design)
    gap = THINNEST_JOINT * what.frame.window_width
    motion = grid_motion(grid, what, resolution=COARSE, resolve_gap=False, thinnest=gap, open_air=OPEN_AIR)
    if part:
        motion = slab_motion(motion, grid, slab, what, thinnest=gap, outline=drawn(design).outline)
    potential, responses = fields
    laws, F = (materials(design).moves(motion), ()), np.array([ampere_turns])
    return flux_slopes(problems(design)[part], motion, what, *laws, F, potential[:, None], responses[:, None])[0][0]


def assert_square(
    kind: str, part: int, found: ByKey, slopes: Floats, flux: Callable[[Saturating, Design], Floats]
) -> None:
    """Hold what is left of each winding's flux against the square of the step."""
    design = arrangement(kind)
    mine, draw = told(design, found), np.random.default_rng(SEEDS.get(kind, 1))
    direction = np.array([0.0025 * found.values[k] for k in mine]) * draw.choice([-1.0, 1.0], len(mine))
    here, left = problems(design)[part], []
    for step in (1.0, 0.5, 0.25, 0.125):
        other = moved(design, {found.keys[k]: found.values[k] + step * d for k, d in zip(mine, direction, strict=True)})
        there = problems(other)[part]
        assert there.size == here.size
        left.append(flux(there, other) - flux(here, design) - step * slopes[:, mine] @ direction)
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
    assert_square(kind, part, found, slopes, lambda problem, _: newton(problem, KNEE, tolerance=1e-13)[0].flux)


def lifts(here: Design, problem: Saturating, there: Design, other: Saturating) -> Floats:
    """Return how the integral of each winding's T0 from below changes at the nodes (size, windings) [-].

    Its share of the turns round each node stays.
    """
    space, frame = problem.space, here.core.frame
    free = space.dofs >= 0
    cells = np.stack(np.unravel_index(np.arange(len(free)), space.grid.mu_r.shape), axis=-1)
    at = np.empty((space.size, 3), dtype=np.int64)
    at[space.dofs[free]] = (2 * cells[:, None] + NODES)[free]

    def nodes(lines: Floats, axis: int) -> Floats:
        return np.interp(at[:, axis] / 2, np.arange(lines.size), lines)

    x, z = nodes(space.grid.x, 0), nodes(space.grid.z, 2)
    names = winding_names(built(here)[0])
    found = np.zeros((space.size, len(names)))
    for block, moved_block in zip(built(here)[0], built(there)[0], strict=True):
        leg = frame.leg_at(block.leg_axis)
        share = encircling_share(block, *frame.surrounded(block), x - leg.axis, z - frame.turn_centre(block))
        low, high = (
            np.clip((nodes(p.space.grid.y, 1) - b.bottom) / b.height, 0.0, 1.0)
            for p, b in ((problem, block), (other, moved_block))
        )
        found[:, names.index(block.winding)] += block.share * leg.direction * share * (high - low)
    return found


def in_a_span(problem: Saturating, span: Floats, shift: Floats) -> tuple[Floats, Floats, Floats]:
    """Return potential, responses and fluxes where the coenergy is least among F shift_1 + span.

    Newton's method to rounding; a flux is what the coenergy rises by per ampere-turn.
    """
    air, turns, place = problem.lower(problem.air), np.repeat(problem.turns, 8, axis=0), np.zeros(span.shape[1])
    for _ in range(40):
        potential = KNEE * shift[:, 0] + span @ place
        H = -problem.slopes(potential[:, None])[..., 0]
        H[1] += KNEE * turns[:, 0]
        size = np.sqrt((H**2).sum(axis=0))
        secant, slope = problem.permeabilities(size)
        left = KNEE * problem.loads[:, 0] - symmetric(air, potential) + problem.tested(secant * H)
        unit, shape = H / np.maximum(size, 1e-30), problem.weights.shape
        matrix = problem.matrix(secant.reshape(shape), (slope - secant).reshape(shape), unit.reshape(3, *shape))
        tangent = span.T @ symmetric(problem.lower(matrix), span)
        step = np.linalg.solve(tangent, span.T @ left)
        place += step * min(1.0, 0.5 * np.linalg.norm(place) / np.linalg.norm(step)) if place.any() else step
        if np.linalg.norm(step) < 1e-11 * np.linalg.norm(place):
            break
    through = (problem.weights.ravel() * secant * H[1]) @ turns
    flux = problem.copies * (KNEE * problem.products - problem.loads.T @ potential + through - shift.T @ left)
    drives = []
    for i in range(turns.shape[1]):
        along = np.zeros_like(H)
        along[1] = turns[:, i]
        bent = secant * along + (slope - secant) * (unit * along).sum(axis=0) * unit
        drives.append(problem.loads[:, i] + problem.tested(bent))
    return potential, span @ np.linalg.solve(tangent, span.T @ np.stack(drives, axis=1)), flux


@pytest.mark.usefixtures("_smooth")
@pytest.mark.parametrize("kind", ["leg gap", pytest.param("shunts", marks=pytest.mark.slow)])
def test_a_span_s_own_derivative_is_exact(kind: str) -> None:
    """Of fluxes in one span of values at the nodes, a poor one of six fields, which the lift of T0 shifts with them."""
    design = arrangement(kind)
    found, problem = keyed(design), problems(design)[1]
    factor, span = problem.cholesky(), Reduced(problem)
    for mu_r in (30.0, 300.0, 2000.0):
        matrix, right = problem.uniform(mu_r)
        factor.factor(matrix)
        span.add(factor.solve(np.column_stack((right, problem.loads[:, 1]))))

    def flux(other: Saturating, there: Design) -> Floats:
        return in_a_span(other, span.fields, lifts(design, problem, there, other))[2]

    potential, responses, _ = in_a_span(problem, span.fields, np.zeros((problem.size, 2)))
    assert_square(kind, 1, found, slopes_of(design, found, 1, (potential, responses)), flux)


def test_the_steel_moves_the_flux_as_its_law_moves() -> None:
    """Stacking factor and the two weightiest rows of the table, with bridged joints and a gap: central differences.

    They err by the square of a step of a thousandth, and where the table's cubics change their limiter.
    """
    design = arrangement("leg gap")
    core, made_of = design.core, materials(design)
    assert core.steel is not None
    curve, (_, slab) = steel(core.steel).curve, grids(design)
    found, F = keyed(design), np.array([KNEE])
    what, problem = moving_core(found), problems(design)[1]
    x, y, z = (np.zeros((line.size, what.inputs)) for line in (slab.x, slab.y, slab.z))
    still = Motion(x=x, y=y, z=z, layers=())
    laws = moving_laws(curve, made_of.iron, made_of.bridge)
    thinnest = THINNEST_JOINT * core.frame.window_width
    tables = [
        (at, share, law, moves)
        for at, series in made_of.layers(slab, core.frame, (), thinnest)
        for share, held in series
        for law, moves in laws
        if held is law
    ]
    potential, responses = on_the_grid(problem)
    slopes = flux_slopes(problem, still, what, [], tables, F, potential[:, None], responses[:, None])[1][0]

    def flux(bh: BHCurve, stacking: float) -> Floats:
        _, iron, bridge, _ = saturating_iron(bh, stacking, core.joint)
        cells = Materials(iron=iron, bridge=bridge).cells(slab, core.frame, (), thinnest)
        return newton(saturating(slab, core.frame, built(design)[0], cells), KNEE, tolerance=1e-13)[0].flux

    step = 1e-3
    ends = [flux(curve, core.stacking_factor + side * step) for side in (1, -1)]
    assert slopes[0] == pytest.approx((ends[0] - ends[1])[0] / (2 * step), rel=1e-3)
    for row in 1 + np.argsort(-np.abs(slopes[1:]))[:2]:
        raised = step * (np.arange(curve.B.size) == row)
        ends = [flux(replace(curve, B=curve.B + side * raised), core.stacking_factor) for side in (1, -1)]
        assert slopes[row] == pytest.approx((ends[0] - ends[1])[0] / (2 * step), rel=0.01)


def end_of(design: Design, ampere_turns: Floats, found: ByKey | None = None) -> EndPart:
    blocks, bars = built(design)
    return end_part(
        design.core,
        blocks,
        materials(design),
        ampere_turns,
        np.linspace(0.2, 1.0, ampere_turns.size),
        drawn(design),
        bars=bars,
        resolution=COARSE,
        moving=None if found is None else moving_core(found),
    )


@pytest.mark.usefixtures("_smooth")
@pytest.mark.parametrize("kind", ["two-leg"])
def test_what_is_added_to_the_leg_s_flux_density_moves(kind: str) -> None:
    """Against states of moved cores, per relative change of a length: 15 % of it and 5 mT, 0.3 % of the whole.

    A reading is of first order in what the span does not hold of how states move, a tenth of that; the flux itself may
    be told 0.3 % off. The air in longer turns' ends lies beside the leg: more flux per turn, and less in the leg.
    """
    design = arrangement(kind)
    found, F = keyed(design), np.geomspace(40.0, 20000.0, 13)
    end, leg = end_of(design, F, found), design.core.frame.wound_leg.name
    for key in ("core.leg_width", "windings.end_clearance"):
        k = found.keys.index(key)
        step = 0.005 * found.values[k]
        more, less = (end_of(moved(design, {key: found.values[k] + s}), F).flux_density[leg] for s in (step, -step))
        exact, told_ = (more - less) / 0.01, end.by_length[:, -1, k] * found.values[k]
        assert told_[[3, 6, 9]] == pytest.approx(exact[[3, 6, 9]], rel=0.15, abs=5e-3), key
    assert told_[9] < 0 < end.by_length[9, 0, k]


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_what_the_span_leaves_out_is_small(kind: str) -> None:
    """Against states found on the grid itself, per relative change of a length: 1.5 % of the primary's flux.

    The span holds the states and how they move with the ampere-turns, each to a per cent or so, but not how they move
    with a length, of which it leaves out about all that the lift does not tell. The product is 0.03 to 0.3 % of the
    flux in most states, 1.1 % between the knee and the first level below; of the other winding in saturation 1.9 %,
    beyond shunts 3.4 %.
    """
    design = arrangement(kind)
    found, F = keyed(design), np.geomspace(40.0, 20000.0, 13)
    end = end_of(design, F, found)
    values = np.array(found.values)
    for k in (3, 6, 9):
        exact, fluxes = np.zeros((2, values.size)), []
        for part, sign in ((0, 1), (1, -1)):
            problem = problems(design)[part]
            exact += sign * slopes_of(design, found, part, on_the_grid(problem, float(F[k])), float(F[k]))
            fluxes.append(newton(problem, float(F[k]))[0].flux)
        # what is added to the leg, a row more, has a test of its own
        off = np.nanmax(np.abs((end.by_length[k][:2] - exact) * values), axis=1) / fluxes[0]
        assert off[0] < 0.015, off
        assert off[1] < 0.04, off
