"""The contacts of a work piece: as they were measured, or typical ones with how far they scatter."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from math import inf, log, pi

from fem.assumptions import Assumption, assumed
from fem.circuit.leads.joints import JointBand
from fem.constants import REFERENCE_TEMPERATURE
from fem.design.work_piece import ContactState, Jaws, WorkJoint
from fem.materials.contact import contact_metal, typical_resistance
from fem.materials.work_metals import work_metal
from fem.trust.doubt import between
from fem.work.bodies import Constriction, Joint, SpotMetal
from fem.work.sections import RoundSection, StripSection

CLOSED_ANEW = assumed("contact closed anew")
_FACES, _SCALE, _GRIP = assumed("heat through pressed faces"), assumed("heat through scale"), assumed("grip of a jaw")
_FORCE, _LAP_FORCE, _OVERLAP = assumed("force of a jaw"), assumed("force of a lap"), assumed("overlap of a lap")
_TIP, _HOLDER = assumed("drop at a carbon"), assumed("drop at a carbon's holder")
_HALF_DROP = assumed("current density of a carbon's drop").typical


Moved = Mapping[str, float]
"""What a draw of all that is in doubt makes of each, by name; `neutral()` leaves all as it is told."""


def _conducts(area: float, moved: Moved) -> float:
    """Return what pressed faces conduct [W/K] over an area [m2]."""
    return _FACES.typical * moved["contact.faces"] * area


def _held(figure: Assumption, moved: Moved) -> float:
    """Return how far faces reach that are not told [m]: far where they conduct well."""
    well = moved["contact.faces"]
    way = log(well) / log((_FACES.high if well > 1 else 1 / _FACES.low) * _FACES.typical ** (-1 if well > 1 else 1))
    return float(between(way, figure.low, figure.typical, figure.high))


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

    def at(self, place: float) -> float:
        """Return the resistance at a place between the ends [ohm]: -1 at the low one, 0 typical, 1 at the high one."""
        return float(between(place, self.low, self.typical, self.high)) if self.typical else 0.0


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


def jaw_contact(
    jaws: Jaws,
    metal: str,
    section: RoundSection | StripSection,
    *,
    moved: Moved,
) -> Joint:
    """Return a jaw's contact with a metal."""
    grip = _held(_GRIP, moved) if jaws.grip is None else jaws.grip
    scatter = scatter_of(jaws, (jaws.material, metal))
    ohms = scatter.at(moved["contact.jaws"]) * moved["model.contact"]
    return _pressed(jaws, (jaws.material, metal), scatter, ohms, _conducts(_wide(section) * grip, moved))


def lap_contact(
    lap: WorkJoint,
    metal: str,
    section: RoundSection | StripSection,
    *,
    moved: Moved,
) -> Joint:
    """Return the lap in the work.

    One that is told is a plain resistance, as of a lap that is soldered already; one that is not told, or whose filler
    is to melt, is a contact of metals.
    """
    scatter = scatter_of(lap, (metal, metal))
    ohms = scatter.at(moved["contact.lap"]) * moved["model.contact"]
    if lap.resistance is not None and (lap.filler_melts_at is None or lap.resistance == 0):
        return Joint(resistance=ohms, conductance=inf if lap.conductance is None else lap.conductance)
    overlap = _held(_OVERLAP, moved) if lap.overlap is None else lap.overlap
    faces = _conducts(_wide(section) * overlap, moved) if lap.conductance is None else lap.conductance
    return _pressed(lap, (metal, metal), scatter, ohms, faces, flows=lap.filler_melts_at or inf)


def carbon_contact(given: float | None, area: float, moved: Moved, *, holder: bool = False) -> Joint:
    """Return a carbon's contact over an area [m2], by its resistance [ohm] or by a drop: no law of metals."""
    if given == 0:
        return Joint()
    faces, place = _conducts(area, moved), moved["contact.carbons"]
    if given is not None:
        return Joint(resistance=_at(CLOSED_ANEW, place) * given * moved["model.contact"], conductance=faces)
    return Joint(drop=_at(_HOLDER if holder else _TIP, place), drop_from=_HALF_DROP * area, conductance=faces)


@cache
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


def _at(figure: Assumption, place: float) -> float:
    return float(between(place, figure.low, figure.typical, figure.high))


def _pressed(
    given: Jaws | WorkJoint,
    metals: tuple[str, str],
    scatter: Scatter,
    ohms: float,
    faces: float,
    *,
    flows: float = inf,
) -> Joint:
    """Return a contact of two metals: the spots that clean faces have, and in them the film that there is."""
    if ohms == 0:
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
