"""All that the field says about a core and its winding arrangement, without turns and volts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import count

from fem.characteristics.by_key import Slopes, moving_core, moving_laws, moving_leakage, slopes
from fem.characteristics.laws import linear_iron, saturating_iron
from fem.characteristics.leakage.permeance import Leakage, leakage, leakage_field, shunt_bar
from fem.characteristics.leakage.whole import solve_end_region
from fem.characteristics.magnetising.by_key import kept_planar_slopes
from fem.characteristics.magnetising.curve import Magnetising, magnetising_curve
from fem.characteristics.magnetising.ends import Materials, end_part
from fem.characteristics.magnetising.planar import Energised, kept_planar_curve
from fem.field.static.model import FieldModel, SolvedField, build_model
from fem.materials.bh import BHCurve
from fem.materials.loss import CoreLoss
from fem.materials.mixture import Reluctivity
from geometries.assembly.by_key import ByKey
from geometries.assembly.morph import morphed_section
from geometries.assembly.section_of import section_of
from geometries.assembly.velocity import motion
from geometries.cores.kinds import AnyCore
from geometries.cores.shunt import Shunt
from geometries.shapes.blocks import Block, single_blocks, winding_names
from geometries.shapes.section import Section

FLUX_TARGET = 1e-3
"""Relative discretisation error of the flux: near saturation the idle current amplifies it about tenfold."""
MOST_UNKNOWNS = 90_000
"""Of the finer mesh, some 6 s for the curve: where a further level would take more, the error that is left is told."""
PER_LEVEL = 4.5
"""How many times the unknowns a level has of the one before: 4 in the plane, more at corners."""

Progress = Callable[[str], None]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Characteristics:
    """Curves and numbers per turn: plain arrays, fit to be kept.

    Parameters
    ----------
    section
        The whole section.
    blocks
        The primary's, then the secondary's.
    flux_place
        The cut in which the primary's flux is read.
    mesh_level, unknowns
        Of the mesh the curve was solved on.
    iron
        Law of legs and yokes.
    magnetising
        Primary energised.
    leakage
        Primary against secondary.
    """

    section: Section
    blocks: tuple[Block, ...]
    flux_place: str
    mesh_level: int
    unknowns: int
    iron: Reluctivity
    magnetising: Magnetising
    leakage: Leakage


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Fields:
    """The fields behind them, for pictures and further solving.

    Parameters
    ----------
    model
        The meshed section with saturating iron.
    leakage
        The planar field at 1 A turn in the primary, -1 in the secondary, linear iron.
    slopes
        Derivatives of the characteristics by the lengths of the job, where they were asked for.
    """

    model: FieldModel
    leakage: SolvedField
    slopes: Slopes | None = None


def characterise(
    core: AnyCore,
    blocks: tuple[Block, ...],
    *,
    curve: BHCurve,
    loss: CoreLoss,
    density: float,
    progress: Progress,
    shunt: Shunt | None = None,
    shunt_curve: BHCurve | None = None,
    lengths: ByKey | None = None,
) -> tuple[Characteristics, Fields]:
    """Solve all fields of a core with two windings.

    Parameters
    ----------
    core, blocks
        What is built; primary first.
    curve, loss, density
        Of the sheet; density in [kg/m3].
    progress
        Told in words what is under way.
    shunt, shunt_curve
        Fitted shunts, and their sheet where it is not the core's.
    lengths
        The same with derivatives, where those of the characteristics are wanted.

    Raises
    ------
    NotConverged
        If a field does not converge.
    """
    section = section_of(core, blocks, shunt=shunt)
    solved = section.half() if section.mirror_symmetric else section
    law_of, iron, bridge, bar = saturating_iron(curve, core.stacking_factor, core.joint, shunt_curve)
    primary, secondary = winding_names(blocks)
    energised = Energised(
        winding=primary, other=secondary, window_height=core.window_height, iron=iron, loss=loss, density=density
    )
    for level in count():
        progress(f"meshing the section (level {level})")
        mesh = morphed_section(solved, level=level)
        model = build_model(mesh, law_of)
        progress(f"magnetisation curve, {model.unknowns} unknowns")
        of_planar = None
        if lengths is None:
            planar = kept_planar_curve(model, energised)
        else:
            planar, of_planar = kept_planar_slopes(model, energised, motion(mesh, lengths), curve)
        if planar.discretisation_error <= FLUX_TARGET or PER_LEVEL * model.unknowns > MOST_UNKNOWNS:
            break
    progress("end turns of the primary in 3-D")
    bars = (shunt_bar(core, blocks, shunt),) if shunt is not None and shunt.fitted else ()
    end = end_part(
        core,
        blocks,
        Materials(iron=iron, bridge=bridge, bar=bar if bars else None),
        planar.ampere_turns,
        planar.flux,
        solved,
        bars=bars,
        moving=None if lengths is None else moving_core(lengths),
        tables=() if lengths is None else moving_laws(curve, iron, bridge),
    )
    magnetising = magnetising_curve(planar, depth=core.frame.iron_depth, iron=iron, end=end)
    progress("leakage: window in 2-D, end turns in 3-D")
    moving = None if lengths is None else moving_leakage(lengths)
    whole = solve_end_region(core.frame.closed, single_blocks(blocks), shunts=bars, moving=moving)
    leak, leak_field = leakage(
        build_model(mesh, linear_iron()), core, blocks, shunt=shunt, saturating=model, whole=whole
    )
    found_slopes = None
    if lengths is not None and of_planar is not None:
        found_slopes = slopes(lengths, planar, of_planar, end, whole, iron)
    found = Characteristics(
        section=section,
        blocks=blocks,
        flux_place=core.flux_place,
        mesh_level=level,
        unknowns=model.unknowns,
        iron=iron,
        magnetising=magnetising,
        leakage=leak,
    )
    return found, Fields(model=model, leakage=leak_field, slopes=found_slopes)


def fields_of(
    core: AnyCore,
    blocks: tuple[Block, ...],
    curve: BHCurve,
    *,
    level: int,
    shunt: Shunt | None = None,
    shunt_curve: BHCurve | None = None,
) -> Fields:
    """Set up again the fields of a core that was characterised before.

    Parameters
    ----------
    core, blocks, curve, shunt, shunt_curve
        As for `characterise`.
    level
        Of the mesh.
    """
    section = section_of(core, blocks, shunt=shunt)
    mesh = morphed_section(section.half() if section.mirror_symmetric else section, level=level)
    law_of, _, _, _ = saturating_iron(curve, core.stacking_factor, core.joint, shunt_curve)
    linear = build_model(mesh, linear_iron())
    return Fields(model=build_model(mesh, law_of), leakage=leakage_field(linear, blocks))
