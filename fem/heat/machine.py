"""The heat network of a shell-type transformer with its leads, from masses, areas and resistances."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

from fem.constants import REFERENCE_TEMPERATURE, ROOM
from fem.heat.network import Link, Network, Node
from fem.heat.phases import Carries
from fem.heat.surface import Lie, Surface, jacket_coat
from fem.materials.insulation import Insulation, insulation
from fem.materials.metals import Metal, metal

IRON_HEAT = 460.0
"""Specific heat of steel [J/(kg K)]: EN 1993-1-2:2005, clause 3.4.1.2, at 50 degC."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingHeat:
    """Describe what the heat network needs of one winding.

    Parameters
    ----------
    mass
        Of the metal [kg]; insulation left out, which errs to the hot side.
    resistance
        D.c., at `reference_temperature` [ohm].
    conductor_area
        All wires in hand [m^2].
    surfaces
        What the air sees: end turns outside the window, mostly.
    core_area
        That faces leg and yokes [m^2], >= 0.
    reference_temperature
        [K].
    ac_factor
        A.c. over d.c. resistance at `reference_temperature` [-].
    metal, insulation
        What it is made of, and what limits it.
    """

    mass: float
    metal: Metal
    resistance: float
    conductor_area: float
    surfaces: tuple[Surface, ...]
    core_area: float
    reference_temperature: float = REFERENCE_TEMPERATURE
    ac_factor: float = 1.0
    insulation: Insulation = insulation()  # noqa: RUF009


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
    resistance: float
    jacket_conductivity: float
    emissivity: float
    insulation: Insulation = insulation("EPR welding cable")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class JointHeat:
    """Describe lugs, bolts and jaws as one lump: resistance [ohm], constant, and mass of copper [kg]."""

    resistance: float
    mass: float
    surfaces: tuple[Surface, ...]


def box_surfaces(width: float, height: float, depth: float, *, emissivity: float) -> tuple[Surface, ...]:
    """Return the free faces of a standing block such as the core: four sides and the top; the foot stands on a bench.

    Parameters
    ----------
    width, height, depth
        [m].
    emissivity
        Of all faces [-].
    """
    girth = 2 * (width + depth)
    return (
        Surface(area=girth * height, length=height, lie=Lie.VERTICAL, emissivity=emissivity),
        Surface(area=width * depth, length=width * depth / girth, lie=Lie.FACING_UP, emissivity=emissivity),
    )


def machine_network(
    *,
    primary: WindingHeat,
    secondary: WindingHeat,
    core_mass: float,
    core_surfaces: tuple[Surface, ...],
    leads: Sequence[LeadHeat] = (),
    joints: JointHeat | None = None,
    facing_area: float = 0.0,
    winding_to_core: float,
    winding_to_winding: float,
    ambient: float = ROOM,
) -> Network:
    """Build the heat network of a machine.

    Parameters
    ----------
    primary, secondary
        The windings.
    core_mass
        [kg].
    core_surfaces
        See `box_surfaces`.
    leads
        Sections from the winding outwards.
    joints
        At the leads' far end, or the winding's where there are no leads.
    facing_area
        Of the two windings against each other [m^2].
    winding_to_core, winding_to_winding
        Heat through bobbin, insulation and air left between winding and leg, and from winding to winding across
        barrier and jacket [W/(m^2 K)].
    ambient
        Of air, walls and floor [K].

    Returns
    -------
    Network
        Nodes "primary", "secondary", "core", "lead 1" ... and "joints".

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    C = m c for each lump. G = h A between faces, and along the leads, go and return side by side and each l/2 long,

        G = 1/(theta_1 + theta_2),   theta = l/(8 k S)

    from the middle of one section to its end: sections and joints are chained, middle to middle.
    """
    nodes = [
        _winding("primary", Carries.PRIMARY, primary),
        _winding("secondary", Carries.SECONDARY, secondary),
        Node(name="core", capacity=core_mass * IRON_HEAT, core_loss_share=1.0, surfaces=core_surfaces),
    ]
    links = [
        Link(first=name, second="core", conductance=winding_to_core * part.core_area)
        for name, part in (("primary", primary), ("secondary", secondary))
        if part.core_area > 0
    ]
    if facing_area > 0:
        links.append(Link(first="primary", second="secondary", conductance=winding_to_winding * facing_area))
    before, half_before = "secondary", 0.0
    for number, lead in enumerate(leads, start=1):
        node = _lead(f"lead {number}", lead)
        nodes.append(node)
        half = lead.length / (8 * lead.metal.thermal_conductivity * lead.conductor_area)
        links.append(Link(first=before, second=node.name, conductance=1 / (half_before + half)))
        before, half_before = node.name, half
    if joints is not None:
        nodes.append(
            Node(
                name="joints",
                capacity=joints.mass * metal("copper").specific_heat,
                carries=Carries.SECONDARY,
                resistance=joints.resistance,
                temperature_coefficient=0.0,
                surfaces=joints.surfaces,
            )
        )
        # A joint on the winding's own end is bolted to it: half a turn's length is not known here, 10 mm of bar is.
        half = half_before or 0.01 / (2 * secondary.metal.thermal_conductivity * secondary.conductor_area)
        links.append(Link(first=before, second="joints", conductance=1 / half))
    return Network(nodes=tuple(nodes), links=tuple(links), ambient=ambient)


def _winding(name: str, carries: Carries, part: WindingHeat) -> Node:
    # Same metal, other reference: alpha = alpha_20 / (1 + alpha_20 (T - 20 degC)), IEC 60028.
    alpha_20 = part.metal.temperature_coefficient
    alpha = alpha_20 / (1 + alpha_20 * (part.reference_temperature - REFERENCE_TEMPERATURE))
    return Node(
        name=name,
        capacity=part.mass * part.metal.specific_heat,
        carries=carries,
        resistance=part.resistance,
        reference_temperature=part.reference_temperature,
        temperature_coefficient=alpha,
        ac_factor=part.ac_factor,
        conductor_area=part.conductor_area,
        surfaces=part.surfaces,
        insulation=part.insulation,
    )


def _lead(name: str, lead: LeadHeat) -> Node:
    surface = Surface(
        area=pi * lead.outside_diameter * lead.length,
        length=lead.outside_diameter,
        lie=Lie.HORIZONTAL_CYLINDER,
        coat=jacket_coat(lead.bare_diameter, lead.outside_diameter, lead.jacket_conductivity),
        emissivity=lead.emissivity,
    )
    return Node(
        name=name,
        capacity=lead.length * lead.conductor_area * lead.metal.density * lead.metal.specific_heat,
        carries=Carries.SECONDARY,
        resistance=lead.resistance,
        temperature_coefficient=lead.metal.temperature_coefficient,
        conductor_area=lead.conductor_area,
        surfaces=(surface,),
        insulation=lead.insulation,
    )
