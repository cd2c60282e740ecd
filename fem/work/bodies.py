"""The bodies between the lead ends, one by one: bars of work or carbon, jaws, contacts and joints, the room."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf
from typing import Protocol

from fem.arrays import Floats, not_negative, positive
from fem.heat.convection import free_film
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


@dataclass(frozen=True, kw_only=True, slots=True)
class Joint:
    """Hold what two bodies in contact put in the way of current and heat; half its heat arises on either side.

    Parameters
    ----------
    resistance
        [ohm].
    conductance
        For heat [W/K], > 0; infinite where both sides have one temperature.
    """

    resistance: float = 0.0
    conductance: float = inf

    def __post_init__(self) -> None:
        """Refuse a negative resistance and a conductance not above 0."""
        not_negative(resistance=self.resistance)
        if not self.conductance > 0:
            msg = f"conductance must be above 0, got {self.conductance!r}"
            raise ValueError(msg)


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
