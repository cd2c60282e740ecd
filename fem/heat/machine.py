"""The heat network of a shell-type transformer with its leads, from masses, areas and resistances."""

from collections.abc import Sequence
from dataclasses import dataclass

from fem.arrays import Number
from fem.constants import REFERENCE_TEMPERATURE, ROOM
from fem.heat.cable import JointHeat, LeadHeat, cable
from fem.heat.network import Link, Network, Node
from fem.heat.phases import Carries
from fem.heat.surface import Lie, Surface
from fem.materials.insulation import Insulation, insulation
from fem.materials.metals import Metal

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

    mass: Number
    metal: Metal
    resistance: Number
    conductor_area: float
    surfaces: tuple[Surface, ...]
    core_area: float
    reference_temperature: float = REFERENCE_TEMPERATURE
    ac_factor: Number = 1.0
    insulation: Insulation = insulation()  # noqa: RUF009


def box_surfaces(width: float, height: float, depth: float, *, emissivity: Number) -> tuple[Surface, ...]:
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
    secondary: WindingHeat | None,
    core_mass: Number,
    core_surfaces: tuple[Surface, ...],
    leads: Sequence[LeadHeat] = (),
    joints: Sequence[JointHeat] = (),
    facing_area: float = 0.0,
    winding_to_core: Number,
    winding_to_winding: Number,
    ambient: Number = ROOM,
    convection: Number = 1.0,
    rise: Number = 1.0,
) -> Network:
    """Build the heat network of a machine, or of a block of which masses, resistances and the like are each its own.

    Parameters
    ----------
    primary, secondary
        The windings; no secondary where a ring is that, whose heat is the work's.
    core_mass
        [kg].
    core_surfaces
        See `box_surfaces`.
    leads
        Sections from the winding outwards.
    joints
        At either end of the leads, or on the winding where there are no leads.
    facing_area
        Of the two windings against each other [m^2].
    winding_to_core, winding_to_winding
        Heat through bobbin, insulation and air left between winding and leg, and from winding to winding across
        barrier and jacket [W/(m^2 K)].
    ambient
        Of air, walls and floor [K].
    convection, rise
        As `Network`.

    Returns
    -------
    Network
        Parts "primary", "secondary", "core", "lead 1" ... and the joints by their names. A section of leads with joints
        on it is several lumps, told as one part.

    Raises
    ------
    ValueError
        If a number is out of range.

    Notes
    -----
    C = m c for each lump, G = h A between faces; along the leads see `cable`.
    """
    windings = {"primary": primary} | ({} if secondary is None else {"secondary": secondary})
    carried = (Carries.PRIMARY, Carries.SECONDARY)
    nodes = [_winding(name, carries, part) for carries, (name, part) in zip(carried, windings.items(), strict=False)]
    nodes.append(Node(name="core", capacity=core_mass * IRON_HEAT, core_loss_share=1.0, surfaces=core_surfaces))
    links = [
        Link(first=name, second="core", conductance=winding_to_core * part.core_area)
        for name, part in windings.items()
        if part.core_area > 0
    ]
    if secondary is None:
        return Network(nodes=tuple(nodes), links=tuple(links), ambient=ambient, convection=convection, rise=rise)
    if facing_area > 0:
        links.append(Link(first="primary", second="secondary", conductance=winding_to_winding * facing_area))
    found = cable(leads, joints, secondary.metal.thermal_conductivity * secondary.conductor_area)
    nodes += found.nodes
    links += [Link(first="secondary", second=name, conductance=g) for name, g in found.to_winding.items()]
    links += found.links
    return Network(nodes=tuple(nodes), links=tuple(links), ambient=ambient, convection=convection, rise=rise)


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
