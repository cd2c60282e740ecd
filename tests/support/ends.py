"""End turns of one energised winding in three dimensions: by the tool's own span, and on grids of their own."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.characteristics.leakage.whole import COARSE, excess
from fem.characteristics.magnetising.ends import END_RESOLUTION, OPEN_AIR, THINNEST_JOINT, EndPart, Materials, end_part
from fem.characteristics.magnetising.reduced import Reduced, State
from fem.field.bricks.grid import TensorGrid, end_region_grid
from fem.field.bricks.saturating import Saturating, saturating
from fem.field.bricks.solve import linear_field
from fem.materials.mixture import Reluctivity
from geometries.assembly.section_of import section_of
from geometries.shapes.blocks import Block
from geometries.shapes.frame import Framed
from geometries.shapes.section import Section


def fluxes_per_turn(
    grid: TensorGrid, core: Framed, blocks: Sequence[Block], ampere_turns: Sequence[float]
) -> tuple[Floats, int]:
    """Return each winding's mean flux per turn with linear iron (windings,) [Wb], and the number of unknowns."""
    field = linear_field(grid, core, blocks, ampere_turns)
    return field.fluxes, field.space.size


def solved_section(core: Framed, blocks: Sequence[Block]) -> Section:
    """Return the planar section that would be solved, of the first block alone."""
    section = section_of(core, blocks[:1])
    return section.half() if section.mirror_symmetric else section


def along(
    core: Framed, blocks: Sequence[Block], materials: Materials, ampere_turns: Sequence[float], **given: float
) -> EndPart:
    """Return the end part at ampere-turns that are all taken as levels."""
    F = np.asarray(ampere_turns, dtype=np.float64)
    return end_part(core, blocks, materials, F, np.linspace(0.5, 1.0, F.size), solved_section(core, blocks), **given)


def linear_end(core: Framed, blocks: Sequence[Block], mu_r: float, **given: float) -> Floats:
    """Return what three dimensions add per ampere-turn to each winding's flux with linear iron (windings,) [H]."""
    found = along(core, blocks, Materials(iron=Reluctivity.linear(mu_r)), (1.0, 2.0), **given)
    return np.asarray(found.flux[0])


def problems(
    core: Framed,
    blocks: Sequence[Block],
    materials: Materials,
    *,
    resolution: float = END_RESOLUTION,
    open_air: float = OPEN_AIR,
) -> tuple[Saturating, Saturating]:
    """Return the problem in three dimensions and that of the slab, as `end_part` lays them."""
    frame = core.frame
    thinnest = THINNEST_JOINT * frame.window_width
    grid = end_region_grid(
        frame,
        blocks,
        (),
        mu_r=2.0,
        resolution=resolution,
        resolve_gap=False,
        thinnest=thinnest,
        open_air=open_air,
    )
    whole, slab = (
        saturating(g, frame, blocks, materials.cells(g, frame, (), thinnest))
        for g in (grid, grid.slab(frame, solved_section(core, blocks).outline))
    )
    return whole, slab


def newton(problem: Saturating, ampere_turns: float, *, tolerance: float = 1e-9) -> tuple[State, Floats]:
    """Return the state that Newton's method finds on the grid itself, and its potential (size,) [A].

    Each step is a full solution of the grid's own tangent; the span is no more than its memory.
    """
    factor, span = problem.cholesky(), Reduced(problem)
    matrix, right = problem.uniform(10.0)
    factor.factor(matrix)
    span.add(factor.solve(right))
    state = span.solve(ampere_turns)
    for _ in range(60):
        matrix, right = span.linearised(state)
        factor.factor(matrix)
        solved = factor.solve(right)
        if float(right[:, 0] @ solved[:, 0]) * problem.copies < tolerance * ampere_turns * state.flux[0]:
            break
        span.add(solved)
        state = span.solve(ampere_turns, state.place)
    else:
        msg = "Newton's method did not settle"
        raise AssertionError(msg)
    return state, span.fields @ state.place


def coenergy(problem: Saturating, iron: Reluctivity, ampere_turns: float, potential: NDArray[np.float64]) -> float:
    """Return int w(H) dV [J] of a core of one law without stretched layers, by the law's own integral of H db."""
    H = -problem.slopes(potential[:, None])[..., 0]
    H[1] += ampere_turns * np.repeat(problem.turns[:, 0], problem.weights.shape[1])
    size = np.sqrt((H**2).sum(axis=0))
    b = size * problem.permeabilities(size)[0]
    core = float(problem.weights.ravel() @ iron.coenergy_density(b))
    lower = problem.lower(problem.air)
    twice = 2 * potential @ (lower @ potential) - potential @ (lower.diagonal() * potential)
    driven = ampere_turns * problem.loads[:, 0] @ potential
    return problem.copies * (core + 0.5 * (ampere_turns**2 * problem.products[0] - 2 * driven + twice))


def exciting(core: Framed, block: Block, *, mu_r: float = 4000.0, resolution: float = 1.0) -> tuple[float, float]:
    """Return the permeance of one block alone with linear iron, an upper bound, and its estimated excess [H]."""
    bounds = []
    for fineness in (COARSE * resolution, resolution):
        grid = end_region_grid(core, (block,), (), mu_r=mu_r, resolution=fineness)
        bounds.append(float(fluxes_per_turn(grid, core, (block,), (1.0,))[0][0]))
    return bounds[1], excess(*bounds)
