"""The leads and their joints as a chain of lumps: a cable carries the heat of a joint away as a fin does."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi

from fem.arrays import Number
from fem.heat.network import Link, Node
from fem.heat.phases import Carries
from fem.heat.surface import Lie, Surface, jacket_coat
from fem.materials.insulation import Insulation, insulation
from fem.materials.metals import Metal, metal

FINEST, GROWTH = 0.02, 1.5
"""First piece of cable beside a joint [m], and how much longer the next is: within 2 % of a fin, settled or not."""
TAIL = 0.01
"""Of the winding's conductor between it and a joint on its end [m]: half a turn's length is not known here."""


@dataclass(frozen=True, kw_only=True, slots=True)
class LeadHeat:
    """Describe one section of leads, go and return together.

    Parameters
    ----------
    length
        Of conductor, go plus return [m].
    metal
        Of the conductor.
    conductor_area
        [m^2].
    bare_diameter, outside_diameter
        Over the strands, over the jacket [m].
    resistance
        D.c., at 20 degC [ohm].
    jacket_conductivity, emissivity
        Of the jacket [W/(m K)], [-].
    insulation
        Of the jacket.
    """

    length: float
    metal: Metal
    conductor_area: float
    bare_diameter: float
    outside_diameter: float
    resistance: Number
    jacket_conductivity: Number
    emissivity: Number
    insulation: Insulation = insulation("EPR welding cable")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class JointHeat:
    """Describe like joints at one end of the leads as one lump of copper.

    Parameters
    ----------
    resistance
        Of all of them, constant [ohm].
    mass
        Of all of them [kg].
    surfaces
        What the air sees of them.
    name
        What they are called.
    cables
        Into how many of the two cables, go and return, their heat flows: 1 or 2 [-].
    at_winding
        Whether they join the winding to the leads; else they are at the far end.
    insulation
        What limits their temperature, if anything does.
    """

    resistance: Number
    mass: Number
    surfaces: tuple[Surface, ...]
    name: str = "joints"
    cables: int = 2
    at_winding: bool = False
    insulation: Insulation | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Cable:
    """Hold the lumps of leads and joints, what joins them, and what of them is joined to the winding [W/K]."""

    nodes: tuple[Node, ...]
    links: tuple[Link, ...]
    to_winding: Mapping[str, float]


def cable(leads: Sequence[LeadHeat], joints: Sequence[JointHeat], winding: float) -> Cable:
    """Return leads and joints as lumps.

    Parameters
    ----------
    leads
        Sections from the winding outwards.
    joints
        At either end of the leads, or on the winding where there are no leads.
    winding
        Thermal conductivity times section of the winding's conductor [W m/K].

    Notes
    -----
    Pieces of cable are joined from middle to end to middle, theta = l/(2 k S) for each half and cable. A section
    without joints is one lump. Beside a joint it is a fin that leads away sqrt(h p k S) per kelvin, p its girth, and at
    first a half-space of copper: there it is cut into pieces that grow. All joints at one end conduct into the same
    first piece.
    """
    at_winding = [joint for joint in joints if joint.at_winding]
    at_work = [joint for joint in joints if not joint.at_winding]
    pieces = [
        piece
        for number, lead in enumerate(leads, start=1)
        for piece in _pieces(
            f"lead {number}", lead, at_winding if number == 1 else (), at_work if number == len(leads) else ()
        )
    ]
    chain: list[tuple[str, str, float]] = [
        (before.node.name, after.node.name, before.half(after.cables) + after.half(before.cables))
        for before, after in pairwise(pieces)
    ]
    on_winding = {joint.name: 2 * winding / TAIL for joint in (at_winding if pieces else joints)}
    if pieces:
        chain += [(joint.name, pieces[0].node.name, pieces[0].half(joint.cables)) for joint in at_winding]
        chain += [(pieces[-1].node.name, joint.name, pieces[-1].half(joint.cables)) for joint in at_work]
        if not at_winding:
            on_winding = {pieces[0].node.name: 1 / pieces[0].half(2)}
    lumps = [*map(_joint, at_winding), *(piece.node for piece in pieces), *map(_joint, at_work)]
    links = (Link(first=first, second=second, conductance=1 / theta) for first, second, theta in chain)
    return Cable(nodes=tuple(lumps), links=tuple(links), to_winding=on_winding)


def _joint(joint: JointHeat) -> Node:
    return Node(
        name=joint.name,
        capacity=joint.mass * metal("copper").specific_heat,
        carries=Carries.SECONDARY,
        resistance=joint.resistance,
        surfaces=joint.surfaces,
        insulation=joint.insulation,
    )


@dataclass(frozen=True, kw_only=True, slots=True)
class _Piece:
    """A piece of leads as a lump: of one cable or of both, each so long [m]."""

    node: Node
    length: float
    cables: int
    conductance: float

    def half(self, cables: int) -> float:
        """Return the thermal resistance from its middle to its end [K/W], into so many cables at most."""
        return self.length / 2 / (self.conductance * min(self.cables, cables))


def _pieces(part: str, lead: LeadHeat, at_winding: Sequence[JointHeat], at_work: Sequence[JointHeat]) -> list[_Piece]:
    """Return the pieces of a section of leads, fine beside joints."""
    cables = [max((joint.cables for joint in joints), default=0) for joints in (at_winding, at_work)]
    room = lead.length / 2 / max(sum(map(bool, cables)), 1)
    fine: list[float] = []
    size = FINEST
    while any(cables) and sum(fine) + size + GROWTH * size / 2 <= room:
        fine.append(size)
        size *= GROWTH
    first, last = ([(length, count) for length in fine if count] for count in cables)
    rest = lead.length - sum(length * count for length, count in (*first, *last))
    sizes = [*first, (rest / 2, 2), *last[::-1]]
    return [
        _Piece(
            node=_lead(part, part if place == len(first) else f"{part}, piece {place + 1}", lead, length * count),
            length=length,
            cables=count,
            conductance=lead.metal.thermal_conductivity * lead.conductor_area,
        )
        for place, (length, count) in enumerate(sizes)
    ]


def _lead(part: str, name: str, lead: LeadHeat, length: float) -> Node:
    surface = Surface(
        area=pi * lead.outside_diameter * length,
        length=lead.outside_diameter,
        lie=Lie.HORIZONTAL_CYLINDER,
        coat=jacket_coat(lead.bare_diameter, lead.outside_diameter, lead.jacket_conductivity),
        emissivity=lead.emissivity,
    )
    return Node(
        name=name,
        part=part,
        capacity=length * lead.conductor_area * lead.metal.density * lead.metal.specific_heat,
        carries=Carries.SECONDARY,
        resistance=lead.resistance * length / lead.length,
        temperature_coefficient=lead.metal.temperature_coefficient,
        conductor_area=lead.conductor_area,
        surfaces=(surface,),
        insulation=lead.insulation,
    )
