"""The machine as a network of lumps of metal: heat that currents make, heat that goes from lump to lump and away."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import Enum, auto
from math import isfinite, sqrt

import numpy as np
from scipy.interpolate import PchipInterpolator

from fem.arrays import Floats
from fem.heat.surface import Surface, heat_flow
from fem.materials.insulation import Insulation

CEILING = 900.0
"""Temperature [K] above which nothing is computed: insulation is gone and resistance no straight line any more."""

_CELL = 2.0
_RISES = _CELL * np.arange(-50, 336)
"""Where cooling is tabulated, over ambient [K]: 0 is a point, so that nothing flows there."""


class Carries(Enum):
    """Whose current flows through a node."""

    NOTHING = auto()
    PRIMARY = auto()
    SECONDARY = auto()


@dataclass(frozen=True, kw_only=True, slots=True)
class Node:
    """Describe one lump of the machine.

    Parameters
    ----------
    name : str
    capacity : float
        [J/K], > 0.
    carries : Carries
    resistance : float
        D.c., at `reference_temperature` [ohm], >= 0.
    reference_temperature : float
        [K].
    temperature_coefficient : float
        Relative rise of resistance per kelvin, referred to `reference_temperature` [1/K]; constant where left out.
    ac_factor : float
        A.c. over d.c. resistance at `reference_temperature` [-], >= 1.
    conductor_area : float or None
        Of all wires in hand, for the current density [m^2].
    core_loss_share : float
        Share of the core loss that heats this node [-].
    surfaces : tuple of Surface
    to_ambient : float
        Conductance to a floor or clamp at ambient temperature [W/K].
    insulation : Insulation or None
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
    reference_temperature: float = 293.15
    temperature_coefficient: float = 0.0
    ac_factor: float = 1.0
    conductor_area: float | None = None
    core_loss_share: float = 0.0
    surfaces: tuple[Surface, ...] = ()
    to_ambient: float = 0.0
    insulation: Insulation | None = None

    def __post_init__(self) -> None:
        """Refuse numbers that no lump can have."""
        least = {"resistance": 0.0, "temperature_coefficient": 0.0, "ac_factor": 1.0, "core_loss_share": 0.0}
        for name, low in {**least, "to_ambient": 0.0}.items():
            value = getattr(self, name)
            if not (isfinite(value) and value >= low):
                msg = f"{self.name}: {name} must be at least {low:g}, got {value!r}"
                raise ValueError(msg)
        for name in ("capacity", "reference_temperature"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                msg = f"{self.name}: {name} must be above 0, got {value!r}"
                raise ValueError(msg)
        if self.conductor_area is not None and not self.conductor_area > 0:
            msg = f"{self.name}: conductor_area must be above 0, got {self.conductor_area!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """Join two nodes, by name, with a heat conductance [W/K], > 0."""

    first: str
    second: str
    conductance: float

    def __post_init__(self) -> None:
        """Refuse a conductance that is none."""
        if not (isfinite(self.conductance) and self.conductance > 0):
            msg = f"{self.first} to {self.second}: conductance must be above 0, got {self.conductance!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True)
class Phase:
    """Describe a stretch of time over which currents and core loss stay the same.

    Parameters
    ----------
    duration : float
        [s], > 0; infinite only where a function says so.
    primary_current, secondary_current : float
        R.m.s. [A], >= 0.
    core_loss : float
        [W], >= 0.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    duration: float
    primary_current: float = 0.0
    secondary_current: float = 0.0
    core_loss: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no phase can have."""
        if not self.duration > 0:
            msg = f"duration must be above 0, got {self.duration!r}"
            raise ValueError(msg)
        for name in ("primary_current", "secondary_current", "core_loss"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                msg = f"{name} must be finite and not negative, got {value!r}"
                raise ValueError(msg)

    def lasting(self, duration: float) -> "Phase":
        """Return the same currents for another time [s]."""
        return replace(self, duration=duration)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Network:
    """Hold the lumps, what joins them, and the air about them.

    Parameters
    ----------
    nodes : tuple of Node
        Names differ.
    links : tuple of Link
    ambient : float
        Temperature of air, walls and floor [K], within 230 and 340.

    Raises
    ------
    ValueError
        If a name is missing or double, or the ambient temperature no place to work.

    Notes
    -----
    C dT/dt = losses - what surfaces give off - what links carry. Copper loss is I^2 R (1 + alpha (T - T0)) for direct
    current; what alternating current adds falls as resistance rises, being due to eddies: IEEE C57.110, from memory.
    """

    nodes: tuple[Node, ...]
    links: tuple[Link, ...] = ()
    ambient: float = 298.15
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
                heat = heat + heat_flow(surface, self.ambient + _RISES, self.ambient)
            curves.append(PchipInterpolator(_RISES, heat).c)
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
        """Return the heat made in each node and its slope.

        Parameters
        ----------
        phase : Phase
        temperatures : (nodes,) array
            [K].

        Returns
        -------
        heat, slope : (nodes,) array
            [W], [W/K].
        """
        primary, secondary, alpha, reference, extra, share = self._copper
        cold = primary * phase.primary_current**2 + secondary * phase.secondary_current**2
        factor = np.maximum(1 + alpha * (temperatures - reference), 0.1)
        return cold * (factor + extra / factor) + share * phase.core_loss, cold * alpha * (1 - extra / factor**2)

    def cooling(self, temperatures: Floats) -> tuple[Floats, Floats]:
        """Return the heat that leaves each node for the surroundings and its slope.

        Parameters
        ----------
        temperatures : (nodes,) array
            [K].

        Returns
        -------
        heat, slope : (nodes,) array
            [W], [W/K]; a monotone cubic through `heat_flow` every 2 K, straight on beyond the table's ends, 100 K
            below and 670 K above ambient.
        """
        rise = temperatures - self.ambient
        inside = np.clip(rise, _RISES[0], _RISES[-1])
        cell = np.minimum(((inside - _RISES[0]) / _CELL).astype(int), len(_RISES) - 2)
        a, b, c, d = self._cooling[np.arange(len(self.nodes)), :, cell].T
        x = inside - _RISES[cell]
        slope = (3 * a * x + 2 * b) * x + c
        return ((a * x + b) * x + c) * x + d + slope * (rise - inside), slope


def current_densities(network: Network, phase: Phase) -> dict[str, float]:
    """Return the r.m.s. current density in each node that has a conductor [A/m^2].

    Parameters
    ----------
    network : Network
    phase : Phase

    Returns
    -------
    dict of str to float
        Node name to density.
    """
    current = {Carries.PRIMARY: phase.primary_current, Carries.SECONDARY: phase.secondary_current}
    return {
        n.name: current[n.carries] / n.conductor_area
        for n in network.nodes
        if n.conductor_area is not None and n.carries is not Carries.NOTHING
    }


def rms_current(phases: Sequence[Phase], carries: Carries) -> float:
    """Return the r.m.s. over several phases of the primary's or the secondary's current [A].

    Parameters
    ----------
    phases : sequence of Phase
    carries : Carries
        PRIMARY or SECONDARY.

    Returns
    -------
    float
        sqrt(sum I^2 t / sum t) [A].
    """
    currents = [p.primary_current if carries is Carries.PRIMARY else p.secondary_current for p in phases]
    durations = [p.duration for p in phases]
    squares = sum(i**2 * t for i, t in zip(currents, durations, strict=True))
    return sqrt(squares / sum(durations))
