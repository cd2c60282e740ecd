"""The machine as a network of lumps of metal: from a design's geometry to the heat model's nodes and surfaces."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

import numpy as np

from fem.arrays import Number
from fem.assumptions import assumed
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.transformer import Design
from fem.estimation.inputs.circuit import lead_impedance
from fem.estimation.inputs.joints import End, JointGroup, joints_of
from fem.estimation.inputs.ring import ring_of
from fem.heat.cable import JointHeat, LeadHeat
from fem.heat.machine import WindingHeat, box_surfaces, machine_network
from fem.heat.network import Network
from fem.heat.surface import Lie, Surface
from fem.materials.insulation import Insulation, insulation
from fem.materials.metals import metal
from geometries.cores.kinds import AnyCore
from geometries.shapes.blocks import Block, blocks_of
from geometries.windings.arrangement import Arrangement, Legs
from geometries.windings.coils import coils_of
from geometries.windings.nested import TOLERANCE
from geometries.windings.turns import Winding

if TYPE_CHECKING:
    from fem.estimation.case import Case

WINDING_TO_CORE, WINDING_TO_WINDING = assumed("winding to core").typical, assumed("winding to winding").typical
"""Heat through bobbin, insulation and air left between winding and leg, and across barrier and jacket [W/(m^2 K)]."""
LUGS = {what: assumed(f"{what} of lugs").typical for what in ("thickness", "height", "emissivity")}
"""Of the pieces [m], [m], [-]: both faces give off heat."""
JOINT_LIMIT = Insulation(
    name="bare joint",
    working_temperature=assumed("limit of a joint").typical,
    hot_spot_allowance=0.0,
    once_temperature=assumed("limit of a joint, once").typical,
    source=assumed("limit of a joint").source,
)
"""What joints are held against: their own metal, not the jacket beside them."""
EMISSIVITY = assumed("emissivity of varnish").typical
"""Of core, windings and cable [-]: painted, varnished, oxidised or rubber."""
JACKET = assumed("conductivity of a jacket").typical
"""Of cable [W/(m K)]."""


Moved = Callable[[str], Number]
"""By what a thing in doubt differs from what it is taken as, by its name in `fem.trust.draws.Draws`; (m,) of many."""


def as_taken(name: str) -> float:
    """Return what changes nothing: a factor of 1, a shift of 0."""
    return 0.0 if name == "leads.length" else 1.0


def heat_network(case: Case, ambient: Number, moved: Moved = as_taken) -> Network:
    """Return the heat network of a design, or of its drawn members.

    Parameters
    ----------
    case
        The design with its windings' masses and resistances.
    ambient
        Temperature of the room, or of each one's (m,) [K].
    moved
        By what else the members differ: films, radiation, jackets, masses and resistances of joints and leads,
        stacking, the model's own error. Lengths of core and windings are held.
    """
    design = case.design if case.drawn_of is None else case.drawn_of.design
    core = design.core
    blocks = case.found.blocks
    primary, secondary = design.windings.primary, design.windings.secondary
    leads, impedance = design.leads, lead_impedance(design)
    emissivity = np.minimum(EMISSIVITY * moved("heat.emissivity"), 1.0)
    sections = []
    if leads is not None and leads.length > 0:
        cable, lead_metal = leads.conductor, metal(leads.material)
        ohms_20 = float(lead_metal.resistivity(REFERENCE_TEMPERATURE)) * leads.length / cable.conducting_area
        sections.append(
            LeadHeat(
                length=leads.length,
                metal=lead_metal,
                conductor_area=cable.area,
                bare_diameter=cable.bare_width,
                outside_diameter=cable.insulated_width,
                resistance=ohms_20
                * impedance.ac_ratio
                * moved("leads.resistance")
                * np.maximum(1 + moved("leads.length") / leads.length, 0.1),
                jacket_conductivity=JACKET * moved("heat.jacket"),
                emissivity=emissivity,
                insulation=insulation(leads.jacket),
            )
        )
    return machine_network(
        primary=_winding(case, primary, blocks_of(blocks, "primary"), emissivity),
        secondary=None if ring_of(design) else _winding(case, secondary, blocks_of(blocks, "secondary"), emissivity),
        core_mass=core.iron_mass(case.sheet.density) * moved("core.stacking_factor"),
        core_surfaces=_core_surfaces(core, emissivity),
        leads=sections,
        joints=[_joint(design, group, moved) for group in joints_of(design).groups],
        facing_area=_facing(case),
        ambient=ambient,
        winding_to_core=WINDING_TO_CORE * moved("heat.winding_to_core"),
        winding_to_winding=WINDING_TO_WINDING * moved("heat.winding_to_winding"),
        convection=moved("heat.convection"),
        rise=moved("model.heat"),
    )


def _winding(case: Case, winding: Winding, blocks: tuple[Block, ...], emissivity: Number) -> WindingHeat:
    core = case.design.core
    state = case.windings.primary if blocks[0].winding == "primary" else case.windings.secondary
    frame = core.frame
    # Only what lies outside a window is seen by the room: the outermost turn's face, and both edges of the end turns.
    hidden = len(_windows_beside(case, blocks[0])) * frame.iron_within(blocks[0])
    outside = _copies(case, blocks[0]) * sum(
        (block.turn_length(*frame.surrounded(block), block.build) - hidden) * block.height
        + 2 * (block.mean_turn(*frame.surrounded(block)) - hidden) * block.build
        for block in blocks
    )
    at_once = core.parallel_primaries if blocks[0].winding == "primary" else 1
    in_cable, height = winding.conductor.cable is not None, max(block.height for block in blocks)
    return WindingHeat(
        mass=state.mass,
        metal=metal(winding.material),
        resistance=state.resistance,
        conductor_area=at_once
        * min(coil.wires_in_hand * coil.conductor.area for coil in coils_of(case.design.windings, blocks)),
        surfaces=(Surface(area=outside, length=height, lie=Lie.VERTICAL, emissivity=emissivity),),
        core_area=sum(_to_core(case, block) for block in blocks),
        reference_temperature=case.design.temperature,
        # what draws take away from a ratio near 1 may go below it
        ac_factor=np.maximum(state.ac_ratio, 1.0),
        insulation=insulation("EPR welding cable" if in_cable else f"class {winding.insulation_class.value}"),
    )


def _joint(design: Design, group: JointGroup, moved: Moved) -> JointHeat:
    """Return joints as a lump of bare copper."""
    mass = assumed("mass of joints").typical * moved("joints.mass")
    if group.kind == "clamped":
        mass = group.count * assumed("mass of a clamp").typical * moved("joints.clamp_mass")
    elif group.kind:
        cable = (design.leads.conductor if design.leads else design.windings.secondary.conductor).area
        length = assumed("cable that weighs as much as a lug").typical * moved("joints.lug_mass")
        mass = group.count * length * cable * metal("copper").density
    # both faces
    area = 2 * mass / metal("copper").density / LUGS["thickness"]
    emissivity = np.minimum(LUGS["emissivity"] * moved("heat.lug_emissivity"), 1.0)
    return JointHeat(
        resistance=group.resistance.typical * moved(f"joints.{group.kind or 'measured'}"),
        mass=mass,
        surfaces=(Surface(area=area, length=LUGS["height"], lie=Lie.VERTICAL, emissivity=emissivity),),
        name=group.name,
        cables=1 if group.count == 1 else 2,
        at_winding=group.end is End.WINDING,
        insulation=JOINT_LIMIT,
    )


def _core_surfaces(core: AnyCore, emissivity: Number) -> tuple[Surface, ...]:
    """Return the core's free faces; two cores' faces towards each other give nothing off."""
    return box_surfaces(core.overall_width, core.overall_height, core.frame.iron_depth, emissivity=emissivity)


def _copies(case: Case, block: Block) -> int:
    """Return how many there are of a block: with two cores one on each, unless it runs round both."""
    return 1 if block.round_both else case.design.core.count


def _windows_beside(case: Case, block: Block) -> list[tuple[float, float]]:
    """Return the windows to either side of the leg that a block surrounds."""
    frame = case.design.core.frame
    leg = frame.leg_at(block.leg_axis)
    return [w for w in frame.windows if min(abs(w[0] - leg.x1), abs(w[1] - leg.x0)) < TOLERANCE]


def _to_core(case: Case, block: Block) -> float:
    """Return the area of a coil, and of its like, that faces iron [m2].

    Leg, next legs and the nearer yoke, where nothing lies between.
    """
    frame, windings = case.design.core.frame, case.design.windings
    depth, sides = frame.iron_within(block), len(_windows_beside(case, block))
    concentric = windings.arrangement is Arrangement.CONCENTRIC
    inner = not concentric or windings.inner == block.winding
    outer = not concentric or not inner
    width, around = frame.surrounded(block)
    between = 2 * (around - depth)  # nothing faces it there
    leg = (block.turn_length(width, around, 0.0) - between) * block.height if inner else 0.0
    legs = sides * depth * block.height if outer and windings.legs is Legs.ONE else 0.0
    faces = 1.0
    if concentric or windings.legs is Legs.EACH:
        faces = 2.0
    elif windings.arrangement is Arrangement.INTERLEAVED:
        everywhere = case.found.blocks
        lowest, highest = min(b.bottom for b in everywhere), max(b.top for b in everywhere)
        faces = float(block.bottom <= lowest + TOLERANCE) + float(block.top >= highest - TOLERANCE)
    return _copies(case, block) * (leg + legs + sides * depth * block.build * faces)


def _facing(case: Case) -> float:
    """Return the area of the windings against each other [m2]."""
    frame, blocks = case.design.core.frame, case.found.blocks
    depth = frame.iron_depth

    def shared_length(length: float) -> float:
        # of two cores' primaries the end turns between the cores face no secondary
        return length if frame.stacks == 1 else frame.stacks * (length / 2 + frame.stack_depth)

    pairs = [(a, b) for a, b in combinations(blocks, 2) if a.winding != b.winding]
    if case.design.windings.legs is Legs.EACH:
        return sum(depth * max(min(a.top, b.top) - max(a.bottom, b.bottom), 0.0) for a, b in pairs)
    if case.design.windings.arrangement is Arrangement.CONCENTRIC:
        area = 0.0
        for pair in pairs:
            inner = min(pair, key=lambda b: b.leg_clearance)
            shared = min(b.top for b in pair) - max(b.bottom for b in pair)
            length = inner.turn_length(*frame.surrounded(inner), inner.build)
            area += shared_length(length) * max(shared, 0.0)
        return area
    along = sorted(blocks, key=lambda b: b.bottom)
    area = 0.0
    for pair in pairwise(along):
        if pair[0].winding != pair[1].winding:
            shorter = min(pair, key=lambda b: b.round_both)
            length = shorter.mean_turn(*frame.surrounded(shorter))
            area += shared_length(length) * min(b.build for b in pair)
    return area
