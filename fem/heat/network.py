"""The machine as a network of lumps of metal: heat that currents make, heat that goes from lump to lump and away."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import inf
from typing import Any

import numpy as np

from fem.arrays import Floats, Number, not_negative, positive
from fem.constants import REFERENCE_TEMPERATURE, ROOM
from fem.heat.lumps import RISES, Lumps, rows, table
from fem.heat.phases import Carries, Phase
from fem.heat.surface import Surface, heat_flow
from fem.materials.insulation import Insulation

CEILING = 900.0
"""Temperature [K] above which nothing is computed: insulation is gone and resistance no straight line any more."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Node:
    """Describe one lump of the machine, or that of each of many machines: numbers, or arrays (m,) of an entry each.

    Parameters
    ----------
    name
        What it is.
    part
        What of the machine it is told as; several lumps may be one part. Its own name where left out.
    capacity
        [J/K], > 0.
    carries
        Whose current.
    resistance
        D.c., at `reference_temperature` [ohm], >= 0.
    reference_temperature
        [K].
    temperature_coefficient
        Relative rise of resistance per kelvin, referred to `reference_temperature` [1/K]; constant where left out.
    ac_factor
        A.c. over d.c. resistance at `reference_temperature` [-], >= 1.
    conductor_area
        Of all wires in hand, for the current density [m^2].
    core_loss_share
        Share of the core loss that heats this node [-].
    surfaces
        What gives heat off to air and walls.
    to_ambient
        Conductance to a floor or clamp at ambient temperature [W/K].
    insulation
        What limits its temperature; None for bare iron or metal.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    name: str
    capacity: Number
    carries: Carries = Carries.NOTHING
    resistance: Number = 0.0
    reference_temperature: float = REFERENCE_TEMPERATURE
    temperature_coefficient: float = 0.0
    ac_factor: Number = 1.0
    conductor_area: float | None = None
    core_loss_share: float = 0.0
    surfaces: tuple[Surface, ...] = ()
    to_ambient: Number = 0.0
    insulation: Insulation | None = None
    part: str = ""

    def __post_init__(self) -> None:
        """Refuse numbers that no lump can have."""
        positive(capacity=self.capacity, reference_temperature=self.reference_temperature)
        not_negative(
            resistance=self.resistance,
            temperature_coefficient=self.temperature_coefficient,
            core_loss_share=self.core_loss_share,
            to_ambient=self.to_ambient,
        )
        if not np.all((np.asarray(self.ac_factor) >= 1) & (np.asarray(self.ac_factor) < inf)):
            msg = f"{self.name}: ac_factor must be at least 1, got {self.ac_factor!r}"
            raise ValueError(msg)
        if self.conductor_area is not None:
            positive(conductor_area=self.conductor_area)


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """Join two nodes, by name, with a heat conductance, or one of each of many machines (m,) [W/K], > 0."""

    first: str
    second: str
    conductance: Number

    def __post_init__(self) -> None:
        """Refuse a conductance that is none."""
        positive(conductance=self.conductance)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Network:
    """Hold the lumps, what joins them, and the air about them; of one machine, or of a block of like ones.

    Parameters
    ----------
    nodes
        Names differ.
    links
        Between nodes of these names.
    ambient
        Temperature of air, walls and floor, or that of each (m,) [K], within 230 and 340.
    convection, rise
        Free convection over that of each surface, and heat made over that of the losses, which is what temperatures
        rise over what these would make them [-]: what the laws and the lumps are off by.

    Raises
    ------
    ValueError
        If a name is missing or double, or the ambient temperature no place to work.

    Notes
    -----
    Lumps of one temperature each, heat capacities C, conductances G between them:

        C_k dT_k/dt = P_k(T_k) - Q_k(T_k) - sum_j G_kj (T_k - T_j),

    losses P, what surfaces give off Q, links summed into a symmetric Laplacian L whose rows sum to 0. With the metal's
    straight line f = 1 + alpha (T - T0) and F the a.c. factor at T0,

        P_k = I^2 R (f + (F - 1)/f) + share_k P_core:

    what alternating current adds falls as resistance rises, being due to eddies, as IEEE C57.12.90 corrects it. Q is
    `heat_flow` of all surfaces and to_ambient (T - Ta), every 2 K of rise, a monotone cubic between.
    """

    nodes: tuple[Node, ...]
    links: tuple[Link, ...] = ()
    ambient: Number = ROOM
    convection: Number = 1.0
    rise: Number = 1.0
    lumps: Lumps = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the names and prepare matrices and cooling curves."""
        names = self.names
        if not names or len(set(names)) != len(names):
            msg = f"nodes need names that differ, got {', '.join(names) or 'none'}"
            raise ValueError(msg)
        air = np.asarray(self.ambient, dtype=np.float64)
        if not np.all((air >= 230) & (air <= 340)):
            msg = f"ambient must lie within 230 and 340 K, got {self.ambient!r}"
            raise ValueError(msg)
        copper = [
            [self.rise * n.resistance * (n.carries is Carries.PRIMARY) for n in self.nodes],
            [self.rise * n.resistance * (n.carries is Carries.SECONDARY) for n in self.nodes],
            [n.temperature_coefficient for n in self.nodes],
            [n.reference_temperature for n in self.nodes],
            [n.ac_factor - 1 for n in self.nodes],
            [self.rise * n.core_loss_share for n in self.nodes],
        ]
        curves, conductances = _curves(self.nodes, air, self.convection), [link.conductance for link in self.links]
        capacities = [n.capacity for n in self.nodes]
        members = np.broadcast_shapes(
            air.shape,
            *(np.shape(v) for v in (*capacities, *conductances, *sum(copper, []))),  # noqa: RUF017
            *(curve.shape[1:] for curve in curves if curve.shape[1] > 1),
        )
        laplacian = np.zeros((*members, len(names), len(names)))
        for link in self.links:
            for name in (link.first, link.second):
                if name not in names:
                    msg = f"a link names {name!r}; there are {', '.join(names)}"
                    raise ValueError(msg)
            i, j = names.index(link.first), names.index(link.second)
            for row, column in ((i, i), (j, j)):
                laplacian[..., row, column] += link.conductance
            for row, column in ((i, j), (j, i)):
                laplacian[..., row, column] -= link.conductance
        cubics, place = table(curves, members)
        capacity = rows(capacities, members)
        root = np.sqrt(capacity)
        kinds = [n.insulation for n in self.nodes]
        lumps = Lumps(
            parts=self.parts,
            limits=np.array([inf if kind is None else kind.mean_limit for kind in kinds]),
            once=np.array([inf if kind is None else kind.once_temperature for kind in kinds]),
            ambient=np.broadcast_to(air, members)[..., None],
            capacity=capacity,
            laplacian=laplacian,
            root=root,
            joined=-laplacian / (root[..., :, None] * root[..., None, :]),
            copper=np.stack([rows(row, members) for row in copper]),
            table=cubics,
            place=place,
        )
        object.__setattr__(self, "lumps", lumps)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the nodes, in order."""
        return tuple(n.name for n in self.nodes)

    @property
    def parts(self) -> tuple[str, ...]:
        """What each node is told as, in order."""
        return tuple(n.part or n.name for n in self.nodes)

    def by_part(self, values: Iterable[float], together: Callable[[Iterable[float]], float] = max) -> dict[str, float]:
        """Return (nodes,) values by part: the highest temperature of its lumps, or the sum of their heat."""
        found: dict[str, list[float]] = {}
        for part, value in zip(self.parts, values, strict=True):
            found.setdefault(part, []).append(float(value))
        return {part: together(lumps) for part, lumps in found.items()}

    @property
    def capacity(self) -> Floats:
        """Heat capacities, (..., nodes) [J/K]."""
        return self.lumps.capacity

    @property
    def laplacian(self) -> Floats:
        """Matrix of the links, (..., nodes, nodes) [W/K]: times the temperatures, the heat that leaves by them."""
        return self.lumps.laplacian

    def at_ambient(self) -> Floats:
        """Return all nodes at ambient temperature, (..., nodes) [K]."""
        return self.lumps.at_ambient()

    def index(self, name: str) -> int:
        """Return the place of a node."""
        return self.names.index(name)

    def losses(self, phase: Phase, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat made in each node and its slope, P and dP/dT: (..., nodes) each [W], [W/K].

        Parameters
        ----------
        phase
            What flows.
        temperatures
            (..., nodes) [K].
        """
        return self.lumps.losses(phase.flow, temperatures)

    def cooling(self, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat that leaves each node for the surroundings and its slope, Q and dQ/dT: (..., nodes) each.

        Parameters
        ----------
        temperatures
            (..., nodes) [K]; beyond the table's ends, 100 K below and 670 K above ambient, it goes straight on.
        """
        return self.lumps.cooling(temperatures)


def _curves(nodes: tuple[Node, ...], ambient: Floats, convection: Number) -> list[Floats]:
    """Return what leaves each node at each rise of the table, (rises, 1) or (rises, m) [W]; like surfaces share it."""
    known: dict[Any, Floats] = {}
    curves = []
    for node in nodes:
        heat = RISES[:, None] * np.atleast_1d(node.to_ambient)
        for surface in node.surfaces:
            free = surface.convection * convection
            each = [np.asarray(v, dtype=np.float64) for v in (surface.length, surface.emissivity, surface.coat, free)]
            key = surface.lie, *(v.tobytes() for v in each)
            if key not in known:
                one = replace(surface, area=1.0, convection=free)
                if all(v.ndim == 0 for v in (*each, ambient)):
                    known[key] = _lone(replace(one, coat=float(surface.coat)), float(ambient))[:, None]
                else:
                    known[key] = heat_flow(one, ambient + RISES[:, None], ambient)
            heat = heat + surface.area * known[key]
        curves.append(heat)
    return curves


@lru_cache(maxsize=64)
def _lone(surface: Surface, ambient: float) -> Floats:
    """Return what leaves a square metre at each rise of the table [W]; sections of one cable share it."""
    return heat_flow(surface, ambient + RISES, ambient)


def current_densities(network: Network, phase: Phase) -> dict[str, float]:
    """Return the r.m.s. current density in each part that has a conductor [A/m^2]."""
    current = {Carries.PRIMARY: phase.primary_current, Carries.SECONDARY: phase.secondary_current}
    return {
        n.part or n.name: current[n.carries] / n.conductor_area
        for n in network.nodes
        if n.conductor_area is not None and n.carries is not Carries.NOTHING
    }
