"""The machine as a network of lumps of metal: from a design's geometry to the heat model's nodes and surfaces."""

from __future__ import annotations

from fem.lumped.heat import Network
from fem.lumped.heat_limits import insulation
from fem.lumped.heat_machine import JointHeat, LeadHeat, WindingHeat, box_surfaces, machine_network
from fem.lumped.heat_surface import Lie, Surface
from fem.materials.metals import metal
from fem.study.network import lead_impedance
from fem.study.sections import Case
from geometries.blocks import Block
from geometries.windings import Arrangement, Winding

JOINT_MASS = 0.3
"""Copper of all lugs, bolts and jaws together [kg]: common practice, no source."""
ALUMINIUM_HEAT = 900.0
"""Specific heat of aluminium [J/(kg K)], from memory."""
COPPER_HEAT = 385.0
"""Specific heat of copper [J/(kg K)]: Incropera and DeWitt, Heat and Mass Transfer, table A.1."""


def heat_network(case: Case, ambient: float) -> Network:
    """Return the heat network of a design.

    Parameters
    ----------
    case
        The design with its windings' masses and resistances.
    ambient
        Temperature of the room [K].
    """
    design, core = case.design, case.design.core
    first, second = case.found.blocks
    primary, secondary = design.windings.primary, design.windings.secondary
    leads, impedance = design.leads, lead_impedance(design)
    sections = []
    if leads is not None and leads.length > 0:
        cable, lead_metal = leads.conductor, metal(leads.material)
        ohms_20 = float(lead_metal.resistivity(293.15)) * leads.length / cable.conducting_area
        sections.append(
            LeadHeat(
                length=leads.length,
                conductor_area=cable.area,
                bare_diameter=cable.bare_width,
                outside_diameter=cable.insulated_width,
                resistance=ohms_20 * impedance.ac_ratio,
                insulation=insulation(leads.jacket),
            )
        )
    joints = JointHeat(resistance=impedance.joint_resistance, mass=JOINT_MASS) if impedance.joint_resistance else None
    return machine_network(
        primary=_winding(case, primary, first),
        secondary=_winding(case, secondary, second),
        core_mass=core.iron_mass(case.sheet.density),
        core_surfaces=box_surfaces(core.overall_width, core.overall_height, core.stack_depth),
        leads=sections,
        joints=joints,
        facing_area=_facing(case, first, second),
        ambient=ambient,
    )


def _winding(case: Case, winding: Winding, block: Block) -> WindingHeat:
    core = case.design.core
    state = case.windings.primary if block.winding == "primary" else case.windings.secondary
    leg, depth = core.leg_width, core.stack_depth
    # Only what lies outside the window is seen by the room: the outermost turn's face, and both edges of the end turns.
    outside = block.turn_length(leg, depth, block.build) - 2 * depth
    edges = 2 * (block.mean_turn(leg, depth) - 2 * depth) * block.build
    in_cable = winding.conductor.cable is not None
    material = metal(winding.material)
    return WindingHeat(
        mass=state.mass,
        resistance=state.resistance,
        conductor_area=winding.wires_in_hand * winding.conductor.area,
        surfaces=(Surface(area=outside * block.height + edges, length=block.height, lie=Lie.VERTICAL),),
        core_area=_to_core(case, block),
        reference_temperature=case.design.temperature,
        ac_factor=state.ac_ratio,
        specific_heat=COPPER_HEAT if winding.material == "copper" else ALUMINIUM_HEAT,
        temperature_coefficient_20=material.temperature_coefficient,
        insulation=insulation("EPR welding cable" if in_cable else f"class {winding.insulation_class.value}"),
    )


def _to_core(case: Case, block: Block) -> float:
    """Return a winding's area that faces iron [m2]: leg, outer legs and the nearer yoke, where nothing lies between."""
    core, windings = case.design.core, case.design.windings
    depth = core.stack_depth
    concentric = windings.arrangement is Arrangement.CONCENTRIC
    inner = not concentric or windings.inner == block.winding
    outer = not concentric or not inner
    leg = block.turn_length(core.leg_width, depth, 0.0) * block.height if inner else 0.0
    legs = 2 * depth * block.height if outer else 0.0
    yokes = 2 * depth * block.build * (2 if concentric else 1)
    return leg + legs + yokes


def _facing(case: Case, first: Block, second: Block) -> float:
    """Return the area of the windings against each other [m2]."""
    core = case.design.core
    if case.design.windings.arrangement is Arrangement.CONCENTRIC:
        inner = min(first, second, key=lambda b: b.leg_clearance)
        shared = min(first.top, second.top) - max(first.bottom, second.bottom)
        return inner.turn_length(core.leg_width, core.stack_depth, inner.build) * max(shared, 0.0)
    return first.mean_turn(core.leg_width, core.stack_depth) * min(first.build, second.build)
