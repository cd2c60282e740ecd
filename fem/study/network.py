"""From a design and its characteristics to the circuit: the one place where turns meet the field's numbers."""

from __future__ import annotations

from dataclasses import dataclass

from fem.characteristics.characterise import Characteristics
from fem.characteristics.resistance import at_temperature, resistance
from fem.lumped.circuit import Circuit
from fem.lumped.curves import CoreLossCurve, MagnetisingCurve
from fem.lumped.leads import round_pair_inductance
from fem.materials.metals import metal
from fem.study.design import Design, Leads
from geometries.blocks import Block
from geometries.windings import Winding


@dataclass(frozen=True, kw_only=True, slots=True)
class WoundLength:
    """Length, resistance and mass of one winding's conductor [m], [ohm], [kg]."""

    mean_turn: float
    resistance: float
    mass: float


def wound(design: Design, winding: Winding, block: Block) -> WoundLength:
    """Return the length, resistance and mass of a winding at the design's temperature; what was measured overrides."""
    core, material = design.core, metal(winding.material)
    mean_turn = winding.mean_turn or block.mean_turn(core.leg_width, core.stack_depth)
    length = winding.turns * mean_turn
    if winding.resistance is None:
        ohms = resistance(
            material,
            length=length,
            area=winding.wires_in_hand * winding.conductor.conducting_area,
            temperature=design.temperature,
        )
    else:
        ohms = at_temperature(
            material,
            winding.resistance,
            measured_at=winding.resistance_temperature,
            temperature=design.temperature,
        )
    mass = length * winding.wires_in_hand * winding.conductor.area * material.density
    return WoundLength(mean_turn=mean_turn, resistance=ohms, mass=mass)


def lead_impedance(leads: Leads | None, temperature: float) -> tuple[float, float]:
    """Return resistance [ohm] with joints, and loop inductance [H], of the leads."""
    if leads is None:
        return 0.0, 0.0
    if leads.length == 0:
        return leads.joint_resistance, 0.0
    cable = leads.conductor
    ohms = resistance(metal(leads.material), length=leads.length, area=cable.conducting_area, temperature=temperature)
    # copper spread over the strands' whole circle, as the field between go and return sees it
    area = cable.bare_width**2 * 0.7853981633974483
    return ohms + leads.joint_resistance, round_pair_inductance(leads.length, area, leads.spacing)


def circuit_of(design: Design, found: Characteristics) -> Circuit:
    """Return the circuit of a design whose core and arrangement have been characterised."""
    primary, secondary = design.windings.primary, design.windings.secondary
    lead_ohms, lead_henries = lead_impedance(design.leads, design.temperature)
    return Circuit(
        voltage_rms=design.mains.voltage,
        frequency=design.mains.frequency,
        source_resistance=design.mains.source_resistance,
        source_inductance=design.mains.source_inductance,
        primary_turns=primary.turns,
        secondary_turns=secondary.turns,
        primary_resistance=wound(design, primary, found.blocks[0]).resistance,
        secondary_resistance=wound(design, secondary, found.blocks[1]).resistance,
        lead_resistance=lead_ohms,
        lead_inductance=lead_henries,
        leakage_permeance=found.leakage.permeance,
        magnetising=MagnetisingCurve(
            ampere_turns=found.magnetising.ampere_turns, flux_per_turn=found.magnetising.flux_per_turn
        ),
        core_loss=CoreLossCurve(
            flux_per_turn=found.magnetising.core_loss_flux_per_turn, loss=found.magnetising.core_loss
        ),
        load_resistance=design.load.resistance if design.load else None,
    )
