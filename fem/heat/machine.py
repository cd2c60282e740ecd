"""The heat network of a shell-type transformer with its leads, from masses, areas and resistances."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import pi

from numpy.typing import ArrayLike

from fem.circuit.equivalent import Circuit
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded
from fem.constants import REFERENCE_TEMPERATURE
from fem.heat.network import Carries, Link, Network, Node, Phase
from fem.heat.surface import Lie, Surface, jacket_coat, pieces_surface
from fem.materials.insulation import Insulation, insulation
from fem.materials.metals import Metal, metal

IRON_HEAT = 460.0
"""Specific heat of steel [J/(kg K)]: EN 1993-1-2:2005, clause 3.4.1.2, at 50 degC."""
WINDING_TO_CORE = 40.0
"""Heat through bobbin, insulation and air left between winding and leg [W/(m^2 K)]. Common practice, no source."""
WINDING_TO_CORE_BAND = (15.0, 100.0)
"""From a loose bobbin to a winding soaked in varnish [W/(m^2 K)]. Common practice, no source."""
WINDING_TO_WINDING = 15.0
"""Heat from winding to winding across barrier and cable jacket [W/(m^2 K)]. Common practice, no source."""
WINDING_TO_WINDING_BAND = (5.0, 50.0)
"""[W/(m^2 K)]. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class WindingHeat:
    """Describe what the heat network needs of one winding.

    Parameters
    ----------
    mass : float
        Of the metal [kg]; insulation left out, which errs to the hot side.
    resistance : float
        D.c., at `reference_temperature` [ohm].
    conductor_area : float
        All wires in hand [m^2].
    surfaces : tuple of Surface
        What the air sees: end turns outside the window, mostly.
    core_area : float
        That faces leg and yokes [m^2], >= 0.
    reference_temperature : float
        [K].
    ac_factor : float
        At `reference_temperature` [-].
    metal : Metal
    insulation : Insulation
    """

    mass: float
    metal: Metal
    resistance: float
    conductor_area: float
    surfaces: tuple[Surface, ...]
    core_area: float
    reference_temperature: float = 293.15
    ac_factor: float = 1.0
    insulation: Insulation = insulation()  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class LeadHeat:
    """Describe one section of leads, go and return together.

    Parameters
    ----------
    length : float
        Of conductor, go plus return [m].
    metal : Metal
    conductor_area : float
        [m^2].
    bare_diameter, outside_diameter : float
        Over the strands, over the jacket [m].
    resistance : float
        D.c., at 20 degC [ohm].
    insulation : Insulation
        Of the jacket.
    """

    length: float
    metal: Metal
    conductor_area: float
    bare_diameter: float
    outside_diameter: float
    resistance: float
    insulation: Insulation = insulation("EPR welding cable")  # noqa: RUF009


@dataclass(frozen=True, kw_only=True, slots=True)
class JointHeat:
    """Describe lugs, bolts and jaws as one lump: resistance [ohm], constant, and mass of copper [kg]."""

    resistance: float
    mass: float
    surfaces: tuple[Surface, ...] = ()
    """As `pieces_surface` where left out."""


def box_surfaces(width: float, height: float, depth: float, *, emissivity: float = 0.9) -> tuple[Surface, ...]:
    """Return the free faces of a standing block such as the core: four sides and the top; the foot stands on a bench.

    Parameters
    ----------
    width, height, depth : float
        [m].
    emissivity : float
        [-].

    Returns
    -------
    tuple of Surface
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
    winding_to_core: float = WINDING_TO_CORE,
    winding_to_winding: float = WINDING_TO_WINDING,
    ambient: float = 298.15,
) -> Network:
    """Build the heat network of a machine.

    Parameters
    ----------
    primary, secondary : WindingHeat
    core_mass : float
        [kg].
    core_surfaces : tuple of Surface
        See `box_surfaces`.
    leads : sequence of LeadHeat
        Sections from the winding outwards.
    joints : JointHeat, optional
        At the leads' far end, or the winding's where there are no leads.
    facing_area : float
        Of the two windings against each other [m^2].
    winding_to_core, winding_to_winding : float
        [W/(m^2 K)]; see the bands given beside the defaults.
    ambient : float
        [K].

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
    Lead sections and joints are chained by conduction along both conductors, from middle to middle.
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
        # Go and return are two paths side by side, each half as long.
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
                surfaces=joints.surfaces or (pieces_surface(joints.mass / metal("copper").density),),
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
        coat=jacket_coat(lead.bare_diameter, lead.outside_diameter),
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


def phase_loaded(state: Loaded, duration: float) -> Phase:
    """Return a phase with the currents and core loss of a loaded or shorted state, for a time [s]."""
    return Phase(
        duration=duration,
        primary_current=state.primary_current_rms,
        secondary_current=state.secondary_current_rms,
        core_loss=state.core_loss,
    )


def phase_idle(state: Idle, duration: float) -> Phase:
    """Return a phase plugged in with the secondary open, for a time [s]."""
    return Phase(duration=duration, primary_current=state.current_rms, core_loss=state.core_loss)


def circuit_at(circuit: Circuit, network: Network, temperatures: ArrayLike, now: float) -> Circuit:
    """Return the circuit with windings and leads at the network's temperatures.

    Parameters
    ----------
    circuit : Circuit
        Resistances at one temperature.
    network : Network
        As `machine_network`; resistance held in nodes fixes how leads and joints share.
    temperatures : (nodes,) array
        [K].
    now : float
        Temperature of the circuit's resistances [K].

    Returns
    -------
    Circuit

    Notes
    -----
    Resistance as the straight line of IEC 60028; the a.c. part is scaled along with it, which overstates it a little.
    Currents of a cold circuit are the highest: use them for a bound, these for the state a hot machine works in.
    """
    hot = dict(zip(network.names, map(float, temperatures), strict=True))  # type: ignore[arg-type]

    def ratio(node: Node) -> float:
        a, t0 = node.temperature_coefficient, node.reference_temperature
        return (1 + a * (hot[node.name] - t0)) / (1 + a * (now - t0))

    by_name = {n.name: n for n in network.nodes}
    outside = [n for n in network.nodes if n.carries is Carries.SECONDARY and n.name != "secondary"]
    cold = sum(n.resistance * (1 + n.temperature_coefficient * (now - n.reference_temperature)) for n in outside)
    warm = sum(
        n.resistance * (1 + n.temperature_coefficient * (hot[n.name] - n.reference_temperature)) for n in outside
    )
    return replace(
        circuit,
        primary_resistance=circuit.primary_resistance * ratio(by_name["primary"]),
        secondary_resistance=circuit.secondary_resistance * ratio(by_name["secondary"]),
        lead_resistance=circuit.lead_resistance * (warm / cold if cold > 0 else 1.0),
    )
