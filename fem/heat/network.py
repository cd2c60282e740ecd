"""The machine as a network of lumps of metal: heat that currents make, heat that goes from lump to lump and away."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import inf

import numpy as np

from fem.arrays import Floats, not_negative, positive
from fem.constants import REFERENCE_TEMPERATURE, ROOM
from fem.cubics import Cubics
from fem.heat.phases import Carries, Phase
from fem.heat.surface import Surface, heat_flow
from fem.materials.insulation import Insulation

CEILING = 900.0
"""Temperature [K] above which nothing is computed: insulation is gone and resistance no straight line any more."""

_CELL = 2.0
_RISES = _CELL * np.arange(-50.0, 336.0)
"""Where cooling is tabulated, over ambient [K]: 0 is a point, so that nothing flows there."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Node:
    """Describe one lump of the machine.

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
    capacity: float
    carries: Carries = Carries.NOTHING
    resistance: float = 0.0
    reference_temperature: float = REFERENCE_TEMPERATURE
    temperature_coefficient: float = 0.0
    ac_factor: float = 1.0
    conductor_area: float | None = None
    core_loss_share: float = 0.0
    surfaces: tuple[Surface, ...] = ()
    to_ambient: float = 0.0
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
        if not 1 <= self.ac_factor < inf:
            msg = f"{self.name}: ac_factor must be at least 1, got {self.ac_factor!r}"
            raise ValueError(msg)
        if self.conductor_area is not None:
            positive(conductor_area=self.conductor_area)


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """Join two nodes, by name, with a heat conductance [W/K], > 0."""

    first: str
    second: str
    conductance: float

    def __post_init__(self) -> None:
        """Refuse a conductance that is none."""
        positive(conductance=self.conductance)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Network:
    """Hold the lumps, what joins them, and the air about them.

    Parameters
    ----------
    nodes
        Names differ.
    links
        Between nodes of these names.
    ambient
        Temperature of air, walls and floor [K], within 230 and 340.

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
    ambient: float = ROOM
    _capacity: Floats = field(init=False, repr=False)
    _laplacian: Floats = field(init=False, repr=False)
    _cooling: Floats = field(init=False, repr=False)
    _copper: Floats = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the names and prepare matrices and cooling curves."""
        names = self.names
        if not names or len(set(names)) != len(names):
            msg = f"nodes need names that differ, got {', '.join(names) or 'none'}"
            raise ValueError(msg)
        if not 230 <= self.ambient <= 340:
            msg = f"ambient must lie within 230 and 340 K, got {self.ambient!r}"
            raise ValueError(msg)
        laplacian = np.zeros((len(names), len(names)))
        for link in self.links:
            for name in (link.first, link.second):
                if name not in names:
                    msg = f"a link names {name!r}; there are {', '.join(names)}"
                    raise ValueError(msg)
            i, j = names.index(link.first), names.index(link.second)
            laplacian[[i, j], [i, j]] += link.conductance
            laplacian[[i, j], [j, i]] -= link.conductance
        curves = []
        for node in self.nodes:
            heat = node.to_ambient * _RISES
            for surface in node.surfaces:
                heat = heat + surface.area * _per_area(
                    replace(surface, area=1.0, coat=float(surface.coat)), self.ambient
                )
            curves.append(Cubics.monotone(_RISES, heat).c)
        copper = [
            [n.resistance * (n.carries is Carries.PRIMARY) for n in self.nodes],
            [n.resistance * (n.carries is Carries.SECONDARY) for n in self.nodes],
            [n.temperature_coefficient for n in self.nodes],
            [n.reference_temperature for n in self.nodes],
            [n.ac_factor - 1 for n in self.nodes],
            [n.core_loss_share for n in self.nodes],
        ]
        object.__setattr__(self, "_capacity", np.array([n.capacity for n in self.nodes]))
        object.__setattr__(self, "_laplacian", laplacian)
        object.__setattr__(self, "_cooling", np.ascontiguousarray(np.stack(curves)))
        object.__setattr__(self, "_copper", np.array(copper))

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
        """Heat capacities, (nodes,) [J/K]."""
        return self._capacity

    @property
    def laplacian(self) -> Floats:
        """Matrix of the links, (nodes, nodes) [W/K]: times the temperatures, the heat that leaves each node by them."""
        return self._laplacian

    def at_ambient(self) -> Floats:
        """Return all nodes at ambient temperature, (nodes,) [K]."""
        return np.full(len(self.nodes), self.ambient)

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
        primary, secondary, alpha, reference, extra, share = self._copper
        cold = primary * phase.primary_current**2 + secondary * phase.secondary_current**2
        factor = np.maximum(1 + alpha * (temperatures - reference), 0.1)
        return cold * (factor + extra / factor) + share * phase.core_loss, cold * alpha * (1 - extra / factor**2)

    def cooling(self, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat that leaves each node for the surroundings and its slope, Q and dQ/dT: (..., nodes) each.

        Parameters
        ----------
        temperatures
            (..., nodes) [K]; beyond the table's ends, 100 K below and 670 K above ambient, it goes straight on.
        """
        rise = temperatures - self.ambient
        inside = np.clip(rise, _RISES[0], _RISES[-1])
        cell = np.minimum(((inside - _RISES[0]) / _CELL).astype(int), len(_RISES) - 2)
        a, b, c, d = np.moveaxis(self._cooling[np.arange(len(self.nodes)), :, cell], -1, 0)
        x = inside - _RISES[cell]
        slope = (3 * a * x + 2 * b) * x + c
        return ((a * x + b) * x + c) * x + d + slope * (rise - inside), slope


@lru_cache(maxsize=64)
def _per_area(surface: Surface, ambient: float) -> Floats:
    """Return what leaves a square metre at each rise of the table [W]; sections of one cable share it."""
    return heat_flow(surface, ambient + _RISES, ambient)


def current_densities(network: Network, phase: Phase) -> dict[str, float]:
    """Return the r.m.s. current density in each part that has a conductor [A/m^2]."""
    current = {Carries.PRIMARY: phase.primary_current, Carries.SECONDARY: phase.secondary_current}
    return {
        n.part or n.name: current[n.carries] / n.conductor_area
        for n in network.nodes
        if n.conductor_area is not None and n.carries is not Carries.NOTHING
    }
