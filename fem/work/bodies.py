"""The bodies between the lead ends, one by one: bars of work or carbon, jaws, contacts and joints, the room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import inf
from typing import Protocol

from fem.arrays import Floats, not_negative, positive
from fem.heat.convection import free_film
from fem.materials.contact import LORENZ
from fem.work.sections import RoundSection, StripSection


class Properties(Protocol):
    """A material along its temperature, every array (n,) at the same points.

    `temperature` [K] does not fall, `enthalpy` [J/m^3] rises, `resistivity` [ohm m], `thermal_conductivity` [W/(m K)],
    `polarisation` [T] the saturation polarisation, 0 where not magnetic; `half_polarisation_field` [A/m] the field of
    half of it; `solidus`, `liquidus` [K], infinite where it does not melt.
    """

    @property
    def temperature(self) -> Floats: ...  # noqa: D102
    @property
    def enthalpy(self) -> Floats: ...  # noqa: D102
    @property
    def resistivity(self) -> Floats: ...  # noqa: D102
    @property
    def thermal_conductivity(self) -> Floats: ...  # noqa: D102
    @property
    def polarisation(self) -> Floats: ...  # noqa: D102
    @property
    def half_polarisation_field(self) -> float: ...  # noqa: D102
    @property
    def solidus(self) -> float: ...  # noqa: D102
    @property
    def liquidus(self) -> float: ...  # noqa: D102


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Bar:
    """Hold a length of one material and one section, current and heat flowing along it.

    Parameters
    ----------
    material
        Its properties up to where its data end.
    section
        Across the current.
    length
        [m], > 0.
    emissivity
        Total [-], or a function of an array of temperatures [K].
    side_conductance_per_m
        To the surroundings through whatever else touches it, a firebrick or the rest of the sheet [W/(m K)].
    is_work
        False for a carbon that only heats; the hottest point is sought in the work.
    cells
        Finite volumes along it [-], at least 4; 60 leave some 1e-3 of the temperature rise as error.
    """

    material: Properties
    section: RoundSection | StripSection
    length: float
    emissivity: float | Callable[[Floats], Floats]
    side_conductance_per_m: float = 0.0
    is_work: bool = True
    cells: int = 60

    def __post_init__(self) -> None:
        """Refuse numbers that no bar can have."""
        positive(length=self.length)
        not_negative(side_conductance_per_m=self.side_conductance_per_m)
        if self.cells < 4:
            msg = f"cells must be at least 4, got {self.cells}"
            raise ValueError(msg)
        if not callable(self.emissivity) and not 0 <= self.emissivity <= 1:
            msg = f"emissivity must lie from 0 to 1, got {self.emissivity!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SpotMetal:
    """Hold what a metal does in the spot where it touches another.

    Parameters
    ----------
    temperature, resistivity_ratio
        (n,) [K], not falling, and its resistivity over that of the cold metal [-].
    softening, melting
        Where its hardness begins to fall, where nothing is left of it [K].
    lorenz
        Conductivity for heat times resistivity over temperature [V^2/K^2], as steady as Wiedemann and Franz have it.
    """

    temperature: Floats
    resistivity_ratio: Floats
    softening: float
    melting: float
    lorenz: float = LORENZ

    def __post_init__(self) -> None:
        """Refuse a metal that melts before it softens."""
        positive(softening=self.softening, lorenz=self.lorenz)
        if not self.melting > self.softening:
            msg = f"melting must be above softening, {self.softening:g} K, got {self.melting!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Constriction:
    """Hold the narrow way through the spots of a metal contact.

    Parameters
    ----------
    resistance
        Cold, both sides together [ohm], > 0.
    share
        Of it in the near metal [-].
    near, far
        The jaw's metal and the work's; in a joint the one that the current meets first, and the next.
    insulates
        What the film in it is in the way of heat [K/W]; 0 where it is thin.
    flows
        Temperature of the bodies at which a filler has filled all the gap between them [K]; infinite without one.
    """

    resistance: float
    share: float
    near: SpotMetal
    far: SpotMetal
    insulates: float = 0.0
    flows: float = inf

    def __post_init__(self) -> None:
        """Refuse a resistance not above 0 and a share outside 0 to 1."""
        positive(resistance=self.resistance)
        not_negative(insulates=self.insulates)
        if not 0 <= self.share <= 1:
            msg = f"share must lie from 0 to 1, got {self.share!r}"
            raise ValueError(msg)

    @property
    def turned(self) -> Constriction:
        """The same met from its other side."""
        return replace(self, share=1 - self.share, near=self.far, far=self.near)


@dataclass(frozen=True, kw_only=True, slots=True)
class Joint:
    """Hold what two bodies in contact put in the way of current and heat.

    Parameters
    ----------
    resistance
        Of a film, or of whatever keeps its resistance [ohm]. Without a constriction half its heat arises on either
        side; in the spot of one it goes where the constriction lets it.
    conductance
        For heat, beside what the constriction carries [W/K], >= 0, above 0 without one; infinite where both sides have
        one temperature.
    constriction
        Of metal on metal, or None.
    drop, drop_from
        Voltage that a contact of carbon has nearly whatever the current [V], and the current by which it has come to
        half of that [A].
    """

    resistance: float = 0.0
    conductance: float = inf
    constriction: Constriction | None = None
    drop: float = 0.0
    drop_from: float = 1.0

    def __post_init__(self) -> None:
        """Refuse negative numbers, and a contact that nothing leads heat through."""
        not_negative(resistance=self.resistance, drop=self.drop)
        positive(drop_from=self.drop_from)
        if not (self.conductance > 0 or (self.conductance == 0 and self.constriction is not None)):
            msg = f"conductance must be above 0, got {self.conductance!r}"
            raise ValueError(msg)

    def part(self, share: float) -> Joint:
        """Return the part of it that has a share of its faces and of its spots, above 0 [-]."""
        way = self.constriction
        return replace(
            self,
            resistance=self.resistance / share,
            conductance=self.conductance * share,
            constriction=None
            if way is None
            else replace(way, resistance=way.resistance / share, insulates=way.insulates / share),
            drop_from=self.drop_from * share,
        )

    @property
    def highest_resistance(self) -> float:
        """What it never passes [ohm]."""
        narrow = 0.0
        if (way := self.constriction) is not None:
            narrow = way.resistance * max(float(metal.resistivity_ratio.max()) for metal in (way.near, way.far))
        return self.resistance + narrow + self.drop / self.drop_from


@dataclass(frozen=True, kw_only=True, slots=True)
class Jaw:
    """Hold a clamp at one end, of one temperature throughout.

    Parameters
    ----------
    temperature
        At the start, and for good where the heat capacity is infinite [K].
    contact
        Between the jaw and what it holds.
    heat_capacity
        [J/K], > 0; infinite for a jaw that stays as cold as it is.
    sink_conductance
        To a sink at the starting temperature: cable, stand, cooling water [W/K].
    """

    temperature: float
    contact: Joint = Joint()
    heat_capacity: float = inf
    sink_conductance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no jaw can have."""
        positive(temperature=self.temperature)
        not_negative(sink_conductance=self.sink_conductance)
        if not self.heat_capacity > 0:
            msg = f"heat_capacity must be above 0, got {self.heat_capacity!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Surroundings:
    """Hold the air and the walls round the work.

    Parameters
    ----------
    temperature
        Of air and walls [K].
    film
        Film coefficient [W/(m^2 K)] from an array of surface temperatures [K], the temperature of the air [K] and the
        diameter, or perimeter over pi [m]; None for no convection.
    """

    temperature: float
    film: Callable[[Floats, float, float], Floats] | None = free_film

    def __post_init__(self) -> None:
        """Refuse a temperature that is not above 0."""
        positive(temperature=self.temperature)
