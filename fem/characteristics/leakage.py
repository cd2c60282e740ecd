"""Leakage of the two windings against each other: window part from the planar field, end turns from the 3-D one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fem.characteristics.end_recipe import end_recipe
from fem.characteristics.end_region import solve_end_region
from fem.characteristics.end_region_shape import CoreShape
from fem.characteristics.leakage_field import BlockForce, block_forces, mean_squares
from fem.field.error import relative_error, remaining_share
from fem.field.model import FieldModel, SolvedField, solve_model
from fem.field.quantities import both
from geometries.blocks import Block
from geometries.cores import ShellCore

MODEL_BAND = 0.01
"""Relative band of the permeance beyond the discretisation error: idealised blocks of turns, linear iron; against 3-D
reference fields the method stays within it."""


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
        The whole by the 2-D recipe [H]: a cross-check, to within 3 %.
    primary_end_permeance
        Share of the end turns' flux that links the primary, per ampere-turn [H].
    mean_squares
        Per winding the mean of Bx^2 and By^2 over its blocks at 1 A turn [T2/A2], planar.
    forces
        On each winding per metre and squared ampere-turn, primary first.
    discretisation_error
        Estimated relative error of `permeance` from both meshes.
    end_region_unknowns
        Size of the 3-D system.
    """

    permeance: float
    window_permeance: float
    end_turn_permeance: float
    recipe_permeance: float
    primary_end_permeance: float
    mean_squares: Mapping[str, tuple[float, float]]
    forces: tuple[BlockForce, ...]
    discretisation_error: float
    end_region_unknowns: int

    @property
    def band(self) -> float:
        """Relative half-width within which the permeance of the idealised arrangement lies."""
        return MODEL_BAND + self.discretisation_error


def core_shape(core: ShellCore) -> CoreShape:
    """Return what the 3-D solver needs of a core, with its joint closed (leakage hardly crosses it)."""
    return CoreShape(
        leg_width=core.leg_width,
        outer_leg_widths=core.outer_leg_widths,
        yoke_height=core.yoke_height,
        window_width=core.window_width,
        window_height=core.window_height,
        stack_depth=core.stack_depth,
    )


def leakage_field(model: FieldModel, blocks: tuple[Block, Block]) -> SolvedField:
    """Return the planar field at 1 A turn in the first winding and -1 in the second."""
    return solve_model(model, {blocks[0].winding: 1.0, blocks[1].winding: -1.0})


def leakage(model: FieldModel, core: ShellCore, blocks: tuple[Block, Block]) -> tuple[Leakage, SolvedField]:
    """Solve for the leakage of two windings; return it with its planar field.

    Parameters
    ----------
    model
        Their section with linear iron.
    core, blocks
        The same in three dimensions; primary first.

    Notes
    -----
    The 3-D field knows the whole leakage; the planar one, times the depth, that part of it that a saturating shunt
    would change. The difference is the end turns'.
    """
    field = leakage_field(model, blocks)
    first, second = both(field, blocks[0].winding), both(field, blocks[1].winding)
    coarse, fine = first[0] - second[0], first[1] - second[1]
    shape = core_shape(core)
    whole = solve_end_region(shape, blocks)
    window = fine * core.stack_depth
    planar_error = float(relative_error(coarse, fine, remaining_share(field))) * window
    found = Leakage(
        permeance=whole.permeance,
        window_permeance=window,
        end_turn_permeance=whole.permeance - window,
        recipe_permeance=end_recipe(shape, blocks, fine / 2).permeance,
        primary_end_permeance=whole.fluxes_per_turn[0] - first[1] * core.stack_depth,
        mean_squares={block.winding: mean_squares(field, block.winding) for block in blocks},
        forces=block_forces(field, senses=((blocks[0].winding, 1), (blocks[1].winding, -1))),
        discretisation_error=(planar_error + whole.error) / whole.permeance,
        end_region_unknowns=whole.unknowns,
    )
    return found, field
