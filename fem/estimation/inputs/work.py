"""The work piece described as the chain of bodies whose heat is computed."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np

from fem.circuit.leads.ring import ring_inductance
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.work_piece import SecondPath, WorkPieceDescription, WorkSection
from fem.estimation.inputs.contact import TYPICAL, ContactDoubt, carbon_contact, jaw_contact, lap_contact, scatter_of
from fem.materials.work_metals import emissivity, work_metal
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.chain import Beside, WorkPiece, between_carbons, clamped
from fem.work.sections import RoundSection, StripSection
from geometries.windings.wire import read_bare

_CUT = 1e-30
"""Heat that passes where nothing does [W/K]."""


def work_of(described: WorkPieceDescription, *, contacts: ContactDoubt = TYPICAL) -> WorkPiece:
    """Return the bodies between the lead ends.

    Parameters
    ----------
    described
        The work piece.
    contacts
        Which of those that may be there.
    """
    work = Bar(
        material=work_metal(described.metal),
        section=across(described.section),
        length=described.path,
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
        tip = carbon_contact(given.contact_resistance, area, doubt=contacts)
        holder = carbon_contact(held.contact_resistance, area, holder=True, doubt=contacts)
        return between_carbons(work, carbon, tip, jaws(holder), around)
    lap = described.joint
    brazed = None if lap is None else lap_contact(lap, described.metal, work.section, doubt=contacts)
    if described.ring is not None:
        # cut open opposite the lap, where nothing flows either way
        cut = Jaw(temperature=described.ambient, contact=Joint(conductance=_CUT))
        return replace(clamped(work, cut, around, brazed=brazed), is_secondary=True)
    contact = jaw_contact(held, described.metal, work.section, doubt=contacts)
    if described.second_path is None:
        return clamped(work, jaws(contact), around, brazed=brazed)
    beside, share = _beside(described, described.second_path, work, contacts)
    return replace(clamped(work, jaws(contact.part(1 - share)), around, brazed=brazed), beside=beside)


def _beside(
    described: WorkPieceDescription, path: SecondPath, work: Bar, contacts: ContactDoubt
) -> tuple[Beside, float]:
    """Return the second path, and its share of either jaw's face [-].

    Both paths meet under the jaw, in one contact: each is given the part of it that goes with what it conducts cold.
    """
    metal = path.metal or described.metal
    bar = Bar(
        material=work_metal(metal),
        section=across(path.section or described.section),
        length=path.length,
        emissivity=emissivity(metal, (path.surface or described.surface).value),
    )
    lap = 0.0 if described.joint is None else scatter_of(described.joint, (described.metal,) * 2).typical
    first, second = (1 / ohms for ohms in (_cold_ohms(work) + lap, _cold_ohms(bar)))
    share = second / (first + second)
    contact = jaw_contact(described.jaws, metal, bar.section, doubt=contacts).part(share)
    loop = ring_inductance(work.length + bar.length, bar.section.mean_distance)
    return Beside(bar=bar, contact=contact, loop_inductance=loop), share


def _cold_ohms(bar: Bar) -> float:
    resistivity = np.interp(REFERENCE_TEMPERATURE, bar.material.temperature, bar.material.resistivity)
    return float(resistivity) * bar.length / bar.section.area


def across(section: WorkSection) -> RoundSection | StripSection:
    """Return the section across the current."""
    if section.round is not None:
        return RoundSection(diameter=section.round)
    bare = read_bare("strip", section.strip or "")
    return StripSection(width=max(bare.width, bare.height), thickness=min(bare.width, bare.height))
