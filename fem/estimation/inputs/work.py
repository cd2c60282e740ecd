"""The work piece described as the chain of bodies whose heat is computed."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np

from fem.circuit.leads.ring import ring_inductance
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.work_piece import SecondPath, WorkPieceDescription, WorkSection
from fem.estimation.inputs.contact import Moved, carbon_contact, jaw_contact, lap_contact, scatter_of
from fem.heat.convection import free_film
from fem.materials.work_metals import emissivity, work_metal
from fem.trust.doubts import neutral
from fem.work.bodies import Bar, Jaw, Joint, Surroundings
from fem.work.chain import Beside, WorkPiece, between_carbons, clamped
from fem.work.sections import RoundSection, StripSection
from geometries.windings.wire import read_bare

_CUT = 1e-30
"""Heat that passes where nothing does [W/K]."""


def work_of(described: WorkPieceDescription, moved: Moved | None = None) -> WorkPiece:
    """Return the bodies between the lead ends.

    Parameters
    ----------
    described
        The work piece.
    moved
        By which what is in doubt differs; where left out nothing does.
    """
    moved = neutral() if moved is None else moved
    work = _bar(described.metal, described.section, described.path, described.surface.value, moved)
    held, warmer = described.jaws, moved["heat.ambient"]

    def jaws(contact: Joint) -> Jaw:
        return Jaw(
            temperature=held.temperature + warmer,
            contact=contact,
            heat_capacity=inf if held.heat_capacity is None else held.heat_capacity * moved["jaws.heat_capacity"],
            sink_conductance=held.sink_conductance * moved["jaws.sink"],
        )

    convection = moved["heat.convection"]
    around = Surroundings(
        temperature=described.ambient + warmer,
        film=free_film if convection == 1 else lambda *of: convection * free_film(*of),
    )
    if (given := described.carbons) is not None:
        still = {name: value for name, value in moved.items() if not name.startswith("work.")}
        carbon = replace(
            _bar(given.grade, given.section, given.length, "oxidised", {**neutral(), **still}), is_work=False
        )
        area = carbon.section.area
        tip = carbon_contact(given.contact_resistance, area, moved)
        holder = carbon_contact(held.contact_resistance, area, moved, holder=True)
        return between_carbons(work, carbon, tip, jaws(holder), around)
    lap = described.joint
    brazed = None if lap is None else lap_contact(lap, described.metal, work.section, moved=moved)
    if described.ring is not None:
        # cut open opposite the lap, where nothing flows either way
        cut = Jaw(temperature=described.ambient + warmer, contact=Joint(conductance=_CUT))
        return replace(clamped(work, cut, around, brazed=brazed), is_secondary=True)
    contact = jaw_contact(held, described.metal, work.section, moved=moved)
    if described.second_path is None:
        return clamped(work, jaws(contact), around, brazed=brazed)
    beside, share = _beside(described, described.second_path, work, moved)
    return replace(clamped(work, jaws(contact.part(1 - share)), around, brazed=brazed), beside=beside)


def _beside(described: WorkPieceDescription, path: SecondPath, work: Bar, moved: Moved) -> tuple[Beside, float]:
    """Return the second path, and its share of either jaw's face [-].

    Both paths meet under the jaw, in one contact: each is given the part of it that goes with what it conducts cold.
    """
    metal = path.metal or described.metal
    surface, still = (path.surface or described.surface).value, dict(moved) | {"work.length": 0.0}
    bar = _bar(metal, path.section or described.section, path.length, surface, still)
    lap = 0.0 if described.joint is None else scatter_of(described.joint, (described.metal,) * 2).typical
    first, second = (1 / ohms for ohms in (_cold_ohms(work) + lap, _cold_ohms(bar)))
    share = second / (first + second)
    contact = jaw_contact(described.jaws, metal, bar.section, moved=moved).part(share)
    loop = ring_inductance(work.length + bar.length, bar.section.mean_distance)
    return Beside(bar=bar, contact=contact, loop_inductance=loop), share


def _bar(metal: str, section: WorkSection, length: float, surface: str, moved: Moved) -> Bar:
    """Return a length of metal, its tables and sizes moved."""
    known, shines = work_metal(metal), emissivity(metal, surface)
    ohms, holds, leads = (moved[f"work.{what}"] for what in ("resistivity", "heat_capacity", "conductivity"))
    if (ohms, holds, leads) != (1, 1, 1):
        known = replace(
            known,
            resistivity=known.resistivity * ohms,
            enthalpy=known.enthalpy * holds,
            thermal_conductivity=known.thermal_conductivity * leads,
        )
    more, told = moved["work.emissivity"], across(section)
    thicker = max(moved["work.thickness"], -0.5 * told.half_depth)
    if isinstance(told, RoundSection):
        told = RoundSection(diameter=told.diameter + thicker)
    else:
        thickness = min(told.thickness + thicker, told.width)
        told = StripSection(width=told.width, thickness=thickness)
    return Bar(
        material=known,
        section=told,
        length=max(length + moved["work.length"], 0.5 * length),
        emissivity=shines if more == 1 else lambda kelvin: np.minimum(more * shines(kelvin), 1.0),
    )


def _cold_ohms(bar: Bar) -> float:
    resistivity = np.interp(REFERENCE_TEMPERATURE, bar.material.temperature, bar.material.resistivity)
    return float(resistivity) * bar.length / bar.section.area


def across(section: WorkSection) -> RoundSection | StripSection:
    """Return the section across the current."""
    if section.round is not None:
        return RoundSection(diameter=section.round)
    bare = read_bare("strip", section.strip or "")
    return StripSection(width=max(bare.width, bare.height), thickness=min(bare.width, bare.height))
