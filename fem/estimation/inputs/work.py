"""The work piece described as the chain of bodies whose heat is computed."""

from __future__ import annotations

from math import inf

from fem.design.work_piece import WorkPieceDescription, WorkSection
from fem.estimation.inputs.contact import HOLDER, TIP, carbon_contact, jaw_contact
from fem.materials.work_metals import emissivity, work_metal
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.chain import WorkPiece, between_carbons, clamped
from fem.work.sections import RoundSection, StripSection
from geometries.windings.wire import read_bare


def work_of(described: WorkPieceDescription, *, contacts: float = 1.0) -> WorkPiece:
    """Return the bodies between the lead ends.

    Parameters
    ----------
    described
        The work piece.
    contacts
        What every contact's resistance, told or typical, is taken times [-].
    """
    work = Bar(
        material=work_metal(described.metal),
        section=across(described.section),
        length=described.length,
        emissivity=emissivity(described.metal, described.surface.value),
    )
    held = described.jaws

    def jaws(contact: Joint) -> Jaw:
        return Jaw(
            temperature=held.temperature,
            contact=contact,
            heat_capacity=inf if held.heat_capacity is None else held.heat_capacity,
            sink_conductance=held.sink_conductance,
        )

    around = Surroundings(temperature=described.ambient)
    if (given := described.carbons) is not None:
        carbon = Bar(
            material=work_metal(given.grade),
            section=across(given.section),
            length=given.length,
            emissivity=emissivity(given.grade, "oxidised"),
            is_work=False,
        )
        area = carbon.section.area
        tip = carbon_contact(given.contact_resistance, area, drop=TIP.typical, times=contacts)
        holder = carbon_contact(held.contact_resistance, area, drop=HOLDER.typical, times=contacts)
        return between_carbons(work, carbon, tip, jaws(holder), around)
    clamp = jaws(jaw_contact(held, described.metal, work.section, times=contacts))
    if (lap := described.joint) is None:
        return clamped(work, clamp, around)
    conductance = inf if lap.conductance is None else lap.conductance
    return clamped(work, clamp, around, brazed=Joint(resistance=contacts * lap.resistance, conductance=conductance))


def across(section: WorkSection) -> RoundSection | StripSection:
    """Return the section across the current."""
    if section.round is not None:
        return RoundSection(diameter=section.round)
    bare = read_bare("strip", section.strip or "")
    return StripSection(width=max(bare.width, bare.height), thickness=min(bare.width, bare.height))
