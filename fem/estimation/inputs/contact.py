"""The contacts of a work piece: as they were measured, or typical ones with how far they scatter."""

from __future__ import annotations

from dataclasses import dataclass
from math import pi

from fem.assumptions import assumed
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.work_piece import ContactState, Jaws, WorkPieceDescription
from fem.digits import brief
from fem.materials.contact import contact_metal, typical_resistance
from fem.materials.work_metals import work_metal
from fem.work.bodies import Constriction, Joint, SpotMetal
from fem.work.sections import RoundSection, StripSection

CLOSED_ANEW = assumed("contact closed anew")
_FORCE, _GRIP, _FACES = assumed("force of a jaw"), assumed("grip of a jaw"), assumed("heat through pressed faces")
_SCALE = assumed("heat through scale")
TIP, HOLDER = assumed("drop at a carbon"), assumed("drop at a carbon's holder")
_HALF_DROP = assumed("current density of a carbon's drop").typical


@dataclass(frozen=True, kw_only=True, slots=True)
class Scatter:
    """How far contacts may lie from the typical one: the worst and the best of them, and why.

    Parameters
    ----------
    low, high
        Resistance over the typical one [-].
    told
        In words; empty where nothing is in doubt.
    """

    low: float
    high: float
    told: str


def spread_of(jaws: Jaws, metal: str) -> tuple[float, float, float, str]:
    """Return least, typical and greatest resistance of a jaw's cold contact with a metal [ohm], and what it is."""
    given = jaws.contact_resistance
    if given is not None:
        return given * CLOSED_ANEW.low, given, given * CLOSED_ANEW.high, "contacts as measured, closed anew"
    force = (_FORCE.low, _FORCE.typical, _FORCE.high) if jaws.force is None else (jaws.force,) * 3
    clean = [typical_resistance(jaws.material, metal, newton) for newton in force]
    low, typical, high = clean[2][0], clean[1][1], clean[0][2]
    if jaws.contact is not ContactState.CLEAN:
        worse = assumed(f"{jaws.contact.value} contact")
        low, typical, high = low * worse.low, typical * worse.typical, high * worse.high
    told = f"typical {jaws.contact.value} contact of {jaws.material} with {metal}"
    return low, typical, high, told + (f", {_FORCE.typical:g} N assumed" if jaws.force is None else "")


def scatter_of(described: WorkPieceDescription) -> Scatter:
    """Return how far the contacts of the work may lie from those computed with."""
    carbons = described.carbons
    held = described.jaws if described.ring is None else Jaws(contact_resistance=0.0)
    low, typical, high, told = spread_of(held, described.jaws.material if carbons else described.metal)
    lap = 0.0 if described.joint is None else described.joint.resistance
    if carbons is not None:
        if carbons.contact_resistance is None:
            return Scatter(low=TIP.low / TIP.typical, high=TIP.high / TIP.typical, told="drop at the carbons, memory")
        typical = carbons.contact_resistance
        low, high, told = typical * CLOSED_ANEW.low, typical * CLOSED_ANEW.high, "contacts as measured, closed anew"
    if typical == 0:
        nothing = Scatter(low=1.0, high=1.0, told="")
        closed = Scatter(low=CLOSED_ANEW.low, high=CLOSED_ANEW.high, told="lap closed anew, common practice")
        return closed if lap else nothing
    if lap and (low, high) == (typical * CLOSED_ANEW.low, typical * CLOSED_ANEW.high):
        told = "contacts and lap as measured, closed anew"
    told = f"{told}: {brief(low * 1e6, 2)} to {brief(high * 1e6, 2)} uohm"
    return Scatter(low=low / typical, high=high / typical, told=told)


def jaw_contact(jaws: Jaws, metal: str, section: RoundSection | StripSection, *, times: float = 1.0) -> Joint:
    """Return a jaw's contact with a metal, of `times` the resistance that was measured or is typical."""
    typical = spread_of(jaws, metal)[1]
    if typical == 0:
        return Joint()
    wide = section.width if isinstance(section, StripSection) else section.diameter
    area = wide * (_GRIP.typical if jaws.grip is None else jaws.grip)
    faces = _FACES.typical * area
    worse = 1.0 if jaws.contact is ContactState.CLEAN else assumed(f"{jaws.contact.value} contact").typical
    cold = [float(work_metal(name).resistivity_at(REFERENCE_TEMPERATURE)) for name in (jaws.material, metal)]
    clean = times * typical / worse
    spots = pi * (sum(cold) / (4 * clean)) ** 2
    narrow = Constriction(
        resistance=clean,
        share=cold[0] / sum(cold),
        near=spot_metal(jaws.material),
        far=spot_metal(metal),
        insulates=1 / (_SCALE.typical * spots) if jaws.contact is ContactState.SCALED else 0.0,
    )
    return Joint(resistance=times * typical * (1 - 1 / worse), conductance=faces, constriction=narrow)


def carbon_contact(given: float | None, area: float, *, drop: float, times: float = 1.0) -> Joint:
    """Return a contact of carbon over an area [m2], by its resistance [ohm] or a drop [V]: no law of metals."""
    if given == 0:
        return Joint()
    faces = _FACES.typical * area
    if given is not None:
        return Joint(resistance=times * given, conductance=faces)
    return Joint(drop=times * drop, drop_from=_HALF_DROP * area, conductance=faces)


def spot_metal(name: str) -> SpotMetal:
    """Return what a work-piece metal does in a spot."""
    found, touching = work_metal(name), contact_metal(name)
    t = found.temperature
    # what it conducts from cold until it softens, of which alone a contact can hold much
    lorenz = (found.thermal_conductivity * found.resistivity / t)[
        (t >= REFERENCE_TEMPERATURE) & (t < touching.softening)
    ]
    return SpotMetal(
        temperature=t,
        resistivity_ratio=found.resistivity / float(found.resistivity_at(REFERENCE_TEMPERATURE)),
        softening=touching.softening,
        melting=touching.melting,
        lorenz=float(lorenz.mean()),
    )
