"""The contacts of a work piece: as they were measured, or typical ones with how far they scatter."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum
from math import inf, pi

from fem.assumptions import Assumption, assumed
from fem.circuit.leads.joints import JointBand
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.work_piece import ContactState, Jaws, WorkJoint, WorkPieceDescription
from fem.digits import brief
from fem.materials.contact import contact_metal, typical_resistance
from fem.materials.work_metals import work_metal
from fem.work.bodies import Constriction, Joint, SpotMetal
from fem.work.sections import RoundSection, StripSection

CLOSED_ANEW = assumed("contact closed anew")
_FACES, _SCALE, _GRIP = assumed("heat through pressed faces"), assumed("heat through scale"), assumed("grip of a jaw")
_FORCE, _LAP_FORCE, _OVERLAP = assumed("force of a jaw"), assumed("force of a lap"), assumed("overlap of a lap")
_TIP, _HOLDER = assumed("drop at a carbon"), assumed("drop at a carbon's holder")
_HALF_DROP = assumed("current density of a carbon's drop").typical


class ContactDoubt(Enum):
    """Which of the contacts that may be there: of what resistance, and of faces that conduct heat how well."""

    TYPICAL = ("typical", "typical")
    GOOD = ("low", "high")
    BAD = ("high", "low")
    FILMED = ("high", "high")

    def __init__(self, resistance: str, faces: str) -> None:
        self.resistance = resistance
        self.faces = faces

    def ohms(self, figure: Assumption | Scatter) -> float:
        """Return this of a resistance, or of what lets one be told."""
        return float(getattr(figure, self.resistance))

    def conducts(self, area: float) -> float:
        """Return what pressed faces conduct [W/K] over an area [m2]."""
        return float(getattr(_FACES, self.faces)) * area


TYPICAL = ContactDoubt.TYPICAL


@dataclass(frozen=True, kw_only=True, slots=True)
class Scatter(JointBand):
    """Between which resistances a cold contact of metals may well lie [ohm].

    Parameters
    ----------
    told
        What it is, in words.
    film
        How many times as much it is as of clean faces [-].
    """

    told: str
    film: float


def scatter_of(given: Jaws | WorkJoint, metals: tuple[str, str]) -> Scatter:
    """Return what a jaw's contact with the work, or a lap's with itself, may be, by the names of both metals."""
    if isinstance(given, Jaws):
        what, assumed_force, ohms = "contact", _FORCE, given.contact_resistance
    else:
        what, assumed_force, ohms = "lap", _LAP_FORCE, given.resistance
    film = 1.0 if given.contact is ContactState.CLEAN else assumed(f"{given.contact.value} contact").typical
    if ohms is not None:
        told = f"{what} as measured, closed anew"
        return Scatter(low=CLOSED_ANEW.low * ohms, typical=ohms, high=CLOSED_ANEW.high * ohms, told=told, film=film)
    force = [getattr(assumed_force, end) if given.force is None else given.force for end in ("low", "typical", "high")]
    clean = [typical_resistance(*metals, newton) for newton in force]
    low, typical, high = clean[2][0], clean[1][1], clean[0][2]
    if given.contact is not ContactState.CLEAN:
        worse = assumed(f"{given.contact.value} contact")
        low, typical, high = low * worse.low, typical * worse.typical, high * worse.high
    told = f"typical {given.contact.value} {what} of " + " with ".join(dict.fromkeys(metals))
    told += f", {assumed_force.typical:g} N assumed" if given.force is None else ""
    return Scatter(low=low, typical=typical, high=high, told=told, film=film)


def doubts_of(described: WorkPieceDescription) -> Iterator[str]:
    """Tell how far the contacts of the work may lie from those computed with, one by one."""
    carbons, metal = described.carbons, described.metal
    if carbons is not None:
        for given, figure, place in (
            (carbons.contact_resistance, _TIP, "carbons"),
            (described.jaws.contact_resistance, _HOLDER, "holders"),
        ):
            if given is None:
                yield f"drop at the {place} {figure.low:g} to {figure.high:g} V, memory"
            elif given:
                yield f"contacts of the {place} as measured, closed anew"
        return
    # a ring has no jaws
    contacts = [] if described.ring else [scatter_of(described.jaws, (described.jaws.material, metal))]
    if described.joint is not None:
        contacts.append(scatter_of(described.joint, (metal, metal)))
    for contact in contacts:
        if contact.typical:
            yield f"{contact.told}: {brief(contact.low * 1e6, 2)} to {brief(contact.high * 1e6, 2)} uohm"
    if any(contact.typical for contact in contacts):
        yield f"heat through faces {_FACES.low / 1e3:g} to {_FACES.high / 1e3:g} kW/(m2 K)"


def jaw_contact(
    jaws: Jaws,
    metal: str,
    section: RoundSection | StripSection,
    *,
    doubt: ContactDoubt = TYPICAL,
) -> Joint:
    """Return a jaw's contact with a metal."""
    grip = getattr(_GRIP, doubt.faces) if jaws.grip is None else jaws.grip
    return _pressed(jaws, (jaws.material, metal), doubt, doubt.conducts(_wide(section) * grip))


def lap_contact(
    lap: WorkJoint,
    metal: str,
    section: RoundSection | StripSection,
    *,
    doubt: ContactDoubt = TYPICAL,
) -> Joint:
    """Return the lap in the work.

    One that is told is a plain resistance, as of a lap that is soldered already; one that is not told, or whose filler
    is to melt, is a contact of metals.
    """
    if lap.resistance is not None and (lap.filler_melts_at is None or lap.resistance == 0):
        ohms = doubt.ohms(scatter_of(lap, (metal, metal)))
        return Joint(resistance=ohms, conductance=inf if lap.conductance is None else lap.conductance)
    overlap = getattr(_OVERLAP, doubt.faces) if lap.overlap is None else lap.overlap
    faces = doubt.conducts(_wide(section) * overlap) if lap.conductance is None else lap.conductance
    return _pressed(lap, (metal, metal), doubt, faces, flows=lap.filler_melts_at or inf)


def carbon_contact(given: float | None, area: float, *, holder: bool = False, doubt: ContactDoubt = TYPICAL) -> Joint:
    """Return a carbon's contact over an area [m2], by its resistance [ohm] or by a drop: no law of metals."""
    if given == 0:
        return Joint()
    faces = doubt.conducts(area)
    if given is not None:
        return Joint(resistance=doubt.ohms(CLOSED_ANEW) * given, conductance=faces)
    return Joint(drop=doubt.ohms(_HOLDER if holder else _TIP), drop_from=_HALF_DROP * area, conductance=faces)


def spot_metal(name: str) -> SpotMetal:
    """Return what a work-piece metal does in a spot."""
    found, touching = work_metal(name), contact_metal(name)
    t = found.temperature
    firm = (t >= REFERENCE_TEMPERATURE) & (t < touching.softening)
    lorenz = (found.thermal_conductivity * found.resistivity / t)[firm]
    return SpotMetal(
        temperature=t,
        resistivity_ratio=found.resistivity / float(found.resistivity_at(REFERENCE_TEMPERATURE)),
        softening=touching.softening,
        melting=touching.melting,
        lorenz=float(lorenz.mean()),
    )


def _wide(section: RoundSection | StripSection) -> float:
    return section.width if isinstance(section, StripSection) else section.diameter


def _pressed(
    given: Jaws | WorkJoint, metals: tuple[str, str], doubt: ContactDoubt, faces: float, *, flows: float = inf
) -> Joint:
    """Return a contact of two metals: the spots that clean faces have, and in them the film that there is."""
    scatter = scatter_of(given, metals)
    if (ohms := doubt.ohms(scatter)) == 0:
        return Joint()
    clean = ohms / scatter.film
    cold = [float(work_metal(name).resistivity_at(REFERENCE_TEMPERATURE)) for name in metals]
    spots = pi * (sum(cold) / (4 * clean)) ** 2
    narrow = Constriction(
        resistance=clean,
        share=cold[0] / sum(cold),
        near=spot_metal(metals[0]),
        far=spot_metal(metals[1]),
        insulates=1 / (_SCALE.typical * spots) if given.contact is ContactState.SCALED else 0.0,
        flows=flows,
    )
    return Joint(resistance=ohms - clean, conductance=faces, constriction=narrow)
