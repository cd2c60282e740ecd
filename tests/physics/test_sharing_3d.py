"""How cables in parallel share the current: the planar slice against inductances of three-dimensional fields."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest

import fem
from fem.arrays import Floats
from fem.characteristics.leakage.whole import THINNEST_GAP
from fem.characteristics.resistance.coils import AcState
from fem.characteristics.resistance.direct import resistance
from fem.characteristics.resistance.slice import ac_slice
from fem.estimation.inputs.windings import SHARED_LEAKAGE, SHARED_LOSS
from fem.field.bricks.grid import end_region_grid
from fem.field.bricks.sources import winding_sources
from fem.field.bricks.space import brick_space, stiffness_matrix
from fem.field.cholesky import solve_in_order
from fem.materials.metals import metal
from geometries.shapes.blocks import Block, single_blocks
from geometries.shapes.frame import Frame
from geometries.windings.arrangement import place

DESIGN = fem.example_design()
for key, size in {
    "leg_width": 0.048, "outer_leg_width": 0.024, "yoke_height": 0.024,
    "window_width": 0.026, "window_height": 0.076, "stack_depth": 0.064,
}.items():  # fmt: skip
    DESIGN = DESIGN.vary(f"core.{key}", size)
DESIGN = DESIGN.vary("windings.primary.turns", 230).vary("windings.primary.conductor", {"round": "1.6 mm"})
OMEGA, WARM = 100 * pi, 313.15
LAYS = [(1, 2, "along"), (1, 3, "2 + 1"), (1, 3, "along"), (2, 2, "along"), (1, 4, "2 + 2"), (2, 3, "3 + 3")]


def inductances(frame: Frame, blocks: tuple[Block, ...]) -> Floats:
    """Return the flux per turn of each block's conductor by the ampere-turns of each [H]."""
    alone = tuple(replace(block, winding=str(k), share=1.0) for k, block in enumerate(blocks))
    grid = end_region_grid(frame, alone, (), mu_r=4000.0, resolution=1.0, thinnest=THINNEST_GAP * frame.window_width)
    space = brick_space(grid)
    sources, K = winding_sources(space, frame, alone), stiffness_matrix(space)
    potentials = [solve_in_order([K], [load])[0] for load in sources.loads.T]
    return np.asarray(grid.copies * (sources.products - sources.loads.T @ np.column_stack(potentials)))


@pytest.mark.slow
@pytest.mark.parametrize(("turns", "hand", "lay"), LAYS)
def test_the_slice_errs_within_what_is_told_of_it(turns: int, hand: int, lay: str) -> None:
    """Equal voltage along each path, resistance by its own length, the primary's ampere-turns opposite."""
    design = DESIGN.vary("windings.secondary.turns", turns).vary("windings.secondary.wires_in_hand", hand)
    design = design.vary("windings.secondary.lay", lay)
    blocks, pair = place(design.core, design.windings), (design.windings.primary, design.windings.secondary)
    found = ac_slice(AcState(design.core, pair, blocks, frequency=50.0, temperature=WARM))
    frame, parts, wound = design.core.frame.closed, single_blocks(blocks), pair[1]
    join = np.zeros((1 + hand, len(parts)))
    join[0, 0] = 1.0
    for k in range(len(parts) - 1):
        join[1 + k % hand, 1 + k] = 1 / turns
    L = join @ inductances(frame, parts) @ join.T
    lengths = np.array([part.mean_turn(*frame.surrounded(part)) for part in parts[1:]]).reshape(turns, hand).sum(axis=0)
    area = wound.conductor.conducting_area
    R = np.array([resistance(metal("copper"), length=x, area=area, temperature=WARM) for x in lengths]) / turns**2
    A = np.zeros((hand + 1, hand + 1), dtype=complex)
    A[:hand, :hand], A[:hand, hand], A[hand, :hand] = np.diag(R) + 1j * OMEGA * L[1:, 1:], -1.0, 1.0
    shares = np.linalg.solve(A, np.append(1j * OMEGA * L[1:, 0], 1.0))[:hand]

    def permeance(x: np.ndarray) -> float:
        both = np.concatenate([[1.0], -x])
        return float((both.conj() @ L @ both).real)

    even = permeance(np.full(hand, 1 / hand))
    window = found.even_permeance_per_m * frame.iron_depth
    slice_says = 1 + window / even * (found.permeance_per_m / found.even_permeance_per_m - 1)
    assert slice_says - SHARED_LEAKAGE < permeance(shares) / even < slice_says + 5e-4
    added, by_slice = R @ abs(shares) ** 2 * hand / R.mean() - 1, found.resistance_ratios["secondary"] - 1
    assert (1 - SHARED_LOSS) * by_slice - 5e-4 < added < by_slice
