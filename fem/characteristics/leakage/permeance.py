"""Leakage of the two windings against each other: window part from the planar field, end turns from the 3-D one.

With equal and opposite ampere-turns, F_1 = F = -F_2, the core's flux is all but gone and what is left is leakage:

    P = (Phi_1 - Phi_2) / F = 2 W / F^2    [H],

Phi_i the flux per turn, W the field's energy [J]; seen from a winding of N turns the leakage inductance is N^2 P. By
place P = P_window + P_ends: P_window = depth (lambda_1 - lambda_2) / F by the planar field, P_ends all that the 3-D
field holds beyond it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.characteristics.laws import LINEAR_MU_R
from fem.characteristics.leakage.planar import BlockForce, block_forces, mean_squares
from fem.characteristics.leakage.recipe import end_recipe, gap_reach, no_recipe_reason, window_per_m_linear
from fem.characteristics.leakage.whole import EndRegion, solve_end_region
from fem.field.bricks.bars import ShuntBar
from fem.field.static.error import relative_error, remaining_share
from fem.field.static.model import FieldModel, SolvedField, solve_both, solve_model
from fem.field.static.newton import solve
from fem.field.static.quantities import both
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.shapes.blocks import Block, single_blocks, winding_names

MODEL_BAND = 0.01
"""Relative band of the permeance beyond the discretisation error: idealised blocks of turns, linear iron. Two cores
without shunts were bounded from below by edge elements in 3-D; the method, a bound from above, lies 0.13 and 0.33 %
over them. The rest is for what no bound tells, such as the windings' true outline."""
APART_BAND = 0.025
"""The same for windings on legs of their own, whose leakage goes round the whole core: bracketed to 1.8 % in 3-D."""


SHUNTED_AMPERE_TURNS = np.geomspace(1e5, 30.0, 18)
"""Ampere-turns of either winding [A] at which leakage through shunts is solved, falling: from far above any short
circuit down to where shunts of sheet are not yet saturated."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Leakage:
    """Leakage per turn squared, turn-free.

    Parameters
    ----------
    permeance
        Of the windings with equal and opposite ampere-turns [H].
    window_permeance
        Planar field times the stack's depth [H].
    end_turn_permeance
        What the 3-D field adds to it [H].
    recipe_permeance
        The whole by the 2-D recipe [H]: a cross-check, to within 3 %; None where there is no recipe.
    primary_end_permeance
        Share of the end turns' flux that links the primary, per ampere-turn [H].
    mean_squares
        Per winding the mean of Bx^2 and By^2 over its blocks at 1 A turn [T2/A2], planar.
    forces
        On each coil per metre and squared ampere-turn, the primary's first.
    ampere_turns, flux_per_turn
        With shunts, leakage flux per turn against the ampere-turns of either winding, from (0, 0) into their saturation
        (n,) [A], [Wb]; None without.
    shunted_forces
        With shunts, `forces` at each of those ampere-turns but the first, in saturating iron; empty without.
    model_band
        Relative band beyond the discretisation error [-].
    discretisation_error
        Estimated relative error of `permeance` from both meshes.
    end_region_unknowns
        Size of the 3-D system.
    """

    permeance: float
    window_permeance: float
    end_turn_permeance: float
    recipe_permeance: float | None
    primary_end_permeance: float
    mean_squares: Mapping[str, tuple[float, float]]
    forces: tuple[BlockForce, ...]
    ampere_turns: Floats | None
    flux_per_turn: Floats | None
    shunted_forces: tuple[tuple[BlockForce, ...], ...] = ()
    model_band: float = MODEL_BAND
    discretisation_error: float
    end_region_unknowns: int

    @property
    def band(self) -> float:
        """Relative half-width within which the permeance of the idealised arrangement lies."""
        return self.model_band + self.discretisation_error


def leakage_field(model: FieldModel, blocks: tuple[Block, ...]) -> SolvedField:
    """Return the planar field at 1 A turn in the first winding and -1 in the second."""
    primary, secondary = winding_names(blocks)
    return solve_model(model, {primary: 1.0, secondary: -1.0})


def leakage(
    model: FieldModel,
    core: AnyCore,
    blocks: tuple[Block, ...],
    *,
    shunt: Shunt | None = None,
    saturating: FieldModel | None = None,
    whole: EndRegion | None = None,
) -> tuple[Leakage, SolvedField]:
    """Solve for the leakage of two windings; return it with its planar field.

    Parameters
    ----------
    model
        Their section with linear iron.
    core, blocks
        The same in three dimensions; primary first.
    shunt
        Fitted shunts in that section, if any.
    saturating
        The same section with saturating iron; needed with shunts.
    whole
        Their field in three dimensions, where it is solved already.

    Notes
    -----
    The 3-D field knows the whole leakage; the planar one, times the depth, that part of it that a saturating shunt
    changes: Phi_1 - Phi_2 = P_plain F + depth (1 + 2 reach / stack) (lambda_1 - lambda_2 - lambda_plain F), P_plain the
    permeance without shunts, lambda_plain its planar part per metre, reach how far beyond the stack's ends a shunt's
    gaps conduct (`gap_reach`).
    """
    field = leakage_field(model, blocks)
    primary, secondary = names = winding_names(blocks)
    first, second = both(field, primary), both(field, secondary)
    coarse, fine = first[0] - second[0], first[1] - second[1]
    shape = core.frame.closed  # leakage hardly crosses the joints
    bars = () if shunt is None else (shunt_bar(core, blocks, shunt),)
    parts = single_blocks(blocks)
    whole = whole or solve_end_region(shape, parts, shunts=bars)
    depth = core.frame.iron_depth
    window = fine * depth
    planar_error = float(relative_error(coarse, fine, remaining_share(field))) * window
    plain_per_m = window_per_m_linear(shape, parts) if bars else fine / 2
    recipe = None
    if no_recipe_reason(shape, blocks) is None:
        recipe = end_recipe(shape, parts, fine / 2, shunts=bars, unshunted_window_per_m=plain_per_m)
    curve: tuple[Floats, Floats] | tuple[None, None] = (None, None)
    senses = ((primary, 1), (secondary, -1))
    shunted: tuple[tuple[BlockForce, ...], ...] = ()
    if bars:
        if saturating is None:
            msg = "with shunts the section with saturating iron is needed too"
            raise ValueError(msg)
        plain = solve_end_region(shape, parts).permeance
        reach = 1 + 2 * gap_reach(bars[0].leg_gap, bars[0].height) / core.stack_depth
        solved = _shunted_fields(saturating, names)
        curve = _shunted_curve(solved, names, depth, plain, 2 * plain_per_m, reach)
        shunted = tuple(
            block_forces(s, senses=senses, ampere_turns=float(F))
            for F, s in zip(SHUNTED_AMPERE_TURNS[::-1], solved[::-1], strict=True)
        )
    found = Leakage(
        permeance=whole.permeance,
        window_permeance=window,
        end_turn_permeance=whole.permeance - window,
        recipe_permeance=recipe,
        primary_end_permeance=whole.fluxes_per_turn[0] - first[1] * depth,
        mean_squares={name: mean_squares(field, name) for name in names},
        forces=block_forces(field, senses=senses),
        ampere_turns=curve[0],
        flux_per_turn=curve[1],
        shunted_forces=shunted,
        model_band=APART_BAND if any(block.leg_axis for block in blocks) else MODEL_BAND,
        discretisation_error=(planar_error + whole.error) / whole.permeance,
        end_region_unknowns=whole.unknowns,
    )
    return found, field


def shunt_bar(core: AnyCore, blocks: tuple[Block, ...], shunt: Shunt) -> ShuntBar:
    """Return a fitted shunt as the 3-D solver knows it, unsaturated."""
    return ShuntBar(
        leg_gap=shunt.total_gap / 2,
        outer_leg_gap=shunt.total_gap / 2,
        bottom=shunt.lower_edge(blocks),
        height=shunt.height,
        depth=core.stack_depth,
        mu_r=LINEAR_MU_R,
    )


def _shunted_fields(model: FieldModel, names: tuple[str, ...]) -> list[SolvedField]:
    """Follow the leakage field into the shunts' saturation, from the largest ampere-turns down."""
    points = [{names[0]: float(F), names[1]: -float(F)} for F in SHUNTED_AMPERE_TURNS]
    starts: list[Floats] = []
    for point in points:
        starts.append(solve(model.coarse.problem, point, start=starts[-1] if starts else None).A)
    return solve_both(model, points, starts)


def _shunted_curve(
    solved: list[SolvedField], names: tuple[str, ...], depth: float, plain: float, plain_per_m: float, reach: float
) -> tuple[Floats, Floats]:
    """Return the leakage flux against the ampere-turns: that without shunts and what they add to it."""
    planar = np.array([both(s, names[0])[1] - both(s, names[1])[1] for s in solved])
    F = SHUNTED_AMPERE_TURNS
    flux = plain * F + (planar - plain_per_m * F) * depth * reach
    return np.concatenate(([0.0], F[::-1])), np.concatenate(([0.0], flux[::-1]))
