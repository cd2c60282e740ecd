"""What lies between the lead ends: jaws, carbons, the work, and the contacts and joints that hold them together."""

from collections.abc import Callable
from dataclasses import dataclass
from math import inf, isfinite, pi
from typing import Protocol

from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.heat.convection import free_film
from fem.work.skin import round_ac_factor, strip_ac_factor


def _check(owner: object, *names: str, least: bool = False) -> None:
    """Refuse what is not finite and above 0, or not below 0 where `least` says so."""
    for name in names:
        value = getattr(owner, name)
        if not (isfinite(value) and (value > 0 or (least and value == 0))):
            msg = f"{name} must {'not be negative' if least else 'be above 0'}, got {value!r}"
            raise ValueError(msg)


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


@dataclass(frozen=True, kw_only=True, slots=True)
class RoundSection:
    """Hold the section of a rod or wire.

    Parameters
    ----------
    diameter : float
        [m], > 0.
    """

    diameter: float

    def __post_init__(self) -> None:
        """Refuse a diameter that is not above 0."""
        _check(self, "diameter")

    @property
    def area(self) -> float:
        """Area [m^2]."""
        return pi * self.diameter**2 / 4

    @property
    def perimeter(self) -> float:
        """Perimeter [m]."""
        return pi * self.diameter

    @property
    def half_depth(self) -> float:
        """Depth from the surface to the middle, to compare with the skin depth [m]."""
        return self.diameter / 2

    def ac_factor(self, ratio: ArrayLike) -> Floats:
        """Return the a.c. over d.c. resistance [-] at half depth over skin depth [-]."""
        return round_ac_factor(ratio)


@dataclass(frozen=True, kw_only=True, slots=True)
class StripSection:
    """Hold the section of a strip or tab.

    Parameters
    ----------
    width, thickness : float
        [m], > 0; the width not below the thickness.
    """

    width: float
    thickness: float

    def __post_init__(self) -> None:
        """Refuse sizes that are not above 0 or are swapped."""
        _check(self, "width", "thickness")
        if self.thickness > self.width:
            msg = f"thickness {self.thickness:g} m is above width {self.width:g} m"
            raise ValueError(msg)

    @property
    def area(self) -> float:
        """Area [m^2]."""
        return self.width * self.thickness

    @property
    def perimeter(self) -> float:
        """Perimeter [m]."""
        return 2 * (self.width + self.thickness)

    @property
    def half_depth(self) -> float:
        """Depth from the surface to the middle, to compare with the skin depth [m]."""
        return self.thickness / 2

    def ac_factor(self, ratio: ArrayLike) -> Floats:
        """Return the a.c. over d.c. resistance [-] at half depth over skin depth [-]."""
        return strip_ac_factor(ratio)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Bar:
    """Hold a length of one material and one section, current and heat flowing along it.

    Parameters
    ----------
    material : Properties
    section : RoundSection or StripSection
    length : float
        [m], > 0.
    emissivity : float or callable
        Total [-], or a function of an array of temperatures [K].
    side_conductance_per_m : float
        To the surroundings through whatever else touches it, a firebrick or the rest of the sheet [W/(m K)].
    is_work : bool
        False for a carbon that only heats; the hottest point is sought in the work.
    cells : int
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
        _check(self, "length")
        _check(self, "side_conductance_per_m", least=True)
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
    resistance : float
        [ohm].
    conductance : float
        For heat [W/K], > 0; infinite where both sides have one temperature.
    """

    resistance: float = 0.0
    conductance: float = inf

    def __post_init__(self) -> None:
        """Refuse a negative resistance and a conductance not above 0."""
        _check(self, "resistance", least=True)
        if not self.conductance > 0:
            msg = f"conductance must be above 0, got {self.conductance!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True)
class Jaw:
    """Hold a clamp at one end, of one temperature throughout.

    Parameters
    ----------
    temperature : float
        At the start, and for good where the heat capacity is infinite [K].
    contact : Joint
        Between the jaw and what it holds.
    heat_capacity : float
        [J/K], > 0; infinite for a jaw that stays as cold as it is.
    sink_conductance : float
        To a sink at the starting temperature: cable, stand, cooling water [W/K].
    """

    temperature: float
    contact: Joint = Joint()
    heat_capacity: float = inf
    sink_conductance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no jaw can have."""
        _check(self, "temperature")
        _check(self, "sink_conductance", least=True)
        if not self.heat_capacity > 0:
            msg = f"heat_capacity must be above 0, got {self.heat_capacity!r}"
            raise ValueError(msg)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Surroundings:
    """Hold the air and the walls round the work.

    Parameters
    ----------
    temperature : float
        Of air and walls [K].
    film : callable or None
        Film coefficient [W/(m^2 K)] from an array of surface temperatures [K], the temperature of the air [K] and the
        diameter, or perimeter over pi [m]; None for no convection.
    """

    temperature: float
    film: Callable[[Floats, float, float], Floats] | None = free_film

    def __post_init__(self) -> None:
        """Refuse a temperature that is not above 0."""
        _check(self, "temperature")


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class WorkPiece:
    """Hold everything between the lead ends in the order in which the current meets it.

    Parameters
    ----------
    left, right : Jaw
    bars : tuple of Bar
        At least one of them work.
    joints : tuple of Joint
        Between one bar and the next, one fewer than bars.
    surroundings : Surroundings
    """

    left: Jaw
    right: Jaw
    bars: tuple[Bar, ...]
    joints: tuple[Joint, ...] = ()
    surroundings: Surroundings

    def __post_init__(self) -> None:
        """Refuse a chain without work or with a joint too many or too few."""
        if not any(bar.is_work for bar in self.bars):
            msg = f"none of {len(self.bars)} bars is work"
            raise ValueError(msg)
        if len(self.joints) != len(self.bars) - 1:
            msg = f"{len(self.bars)} bars need {len(self.bars) - 1} joints, got {len(self.joints)}"
            raise ValueError(msg)

    @property
    def contacts(self) -> tuple[Joint, ...]:
        """All contacts from the left jaw to the right."""
        return (self.left.contact, *self.joints, self.right.contact)


def clamped(bar: Bar, jaw: Jaw, surroundings: Surroundings, *, brazed: Joint | None = None) -> WorkPiece:
    """Clamp a bar between two equal jaws, with a joint in its middle if one is given.

    Parameters
    ----------
    bar : Bar
        Its length is that between the jaws; the cells are shared by the halves.
    jaw : Jaw
    surroundings : Surroundings
    brazed : Joint, optional
        In the middle, as the lap of a blade being brazed.

    Returns
    -------
    WorkPiece
    """
    if brazed is None:
        return WorkPiece(left=jaw, right=jaw, bars=(bar,), surroundings=surroundings)
    half = _shortened(bar)
    return WorkPiece(left=jaw, right=jaw, bars=(half, half), joints=(brazed,), surroundings=surroundings)


def between_carbons(work: Bar, carbon: Bar, contact: Joint, holder: Jaw, surroundings: Surroundings) -> WorkPiece:
    """Press a piece of work between two equal carbons in their holders.

    Parameters
    ----------
    work : Bar
        Along the current: as long as the carbons are apart.
    carbon : Bar
        One of the two, from holder to tip; not work.
    contact : Joint
        Between a carbon and the work.
    holder : Jaw
    surroundings : Surroundings

    Returns
    -------
    WorkPiece

    Raises
    ------
    ValueError
        If the carbon is said to be work.

    Notes
    -----
    Where only the resistance of the carbons is known, make it the contact resistance of the jaws of `clamped`: half of
    its heat then goes into the work.
    """
    if carbon.is_work:
        msg = "is_work of the carbon must be False: the hottest point is sought in the work"
        raise ValueError(msg)
    return WorkPiece(
        left=holder,
        right=holder,
        bars=(carbon, work, carbon),
        joints=(contact, contact),
        surroundings=surroundings,
    )


def _shortened(bar: Bar) -> Bar:
    """Return half the bar."""
    return Bar(
        material=bar.material,
        section=bar.section,
        length=bar.length / 2,
        emissivity=bar.emissivity,
        side_conductance_per_m=bar.side_conductance_per_m,
        is_work=bar.is_work,
        cells=max(bar.cells // 2, 4),
    )
