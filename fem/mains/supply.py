"""Impedance of the mains up to the primary: given, from the run's length and section, or from a measured dip."""

from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import hypot, isfinite, pi, sqrt

from fem.digits import brief
from geometries.described.tables import table_rows

RUN_REACTANCE = 0.08e-3
"""Reactance of one core of an installation cable at 50 Hz [ohm/m]: IEC 60364-5-52, annex G (from memory)."""
COPPER_COEFFICIENT = 0.00393
"""Relative rise of copper's resistance per kelvin, referred to 20 degC [1/K]: IEC 60028."""


class Stranding(Enum):
    """Build of a mains conductor, by its class in IEC 60228."""

    SOLID = "class_1_ohm_per_km"
    STRANDED = "class_2_ohm_per_km"
    FLEXIBLE = "class_5_ohm_per_km"


@dataclass(frozen=True, kw_only=True, slots=True)
class SupplyImpedance:
    """Hold the impedance of a mains loop, line plus neutral.

    Parameters
    ----------
    resistance : float
        [ohm], >= 0.
    inductance : float
        [H], >= 0.

    Raises
    ------
    ValueError
        If a number is negative or not finite.
    """

    resistance: float
    inductance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no loop can have."""
        for name in ("resistance", "inductance"):
            value = getattr(self, name)
            if not (isfinite(value) and value >= 0):
                msg = f"{name} must not be negative, got {value!r}"
                raise ValueError(msg)

    def __add__(self, other: "SupplyImpedance") -> "SupplyImpedance":
        """Put two stretches in series."""
        return SupplyImpedance(
            resistance=self.resistance + other.resistance, inductance=self.inductance + other.inductance
        )

    def at(self, frequency: float) -> complex:
        """Return the complex impedance [ohm] at a frequency [Hz]."""
        return complex(self.resistance, 2 * pi * frequency * self.inductance)


@cache
def _conductors() -> dict[float, dict[str, str]]:
    return {float(row["area_mm2"]) * 1e-6: row for row in table_rows(__package__, "mains_conductors.csv")}


def run_impedance(
    length: float, area: float, *, stranding: Stranding = Stranding.SOLID, temperature: float = 293.15
) -> SupplyImpedance:
    """Return the impedance of a cord or a stretch of house wiring, there and back.

    Parameters
    ----------
    length : float
        Of the cable, one way [m], > 0.
    area : float
        Standard nominal section of one core [m^2], 0.5 to 35 mm2.
    stranding : Stranding
        FLEXIBLE for cords.
    temperature : float
        Of the copper [K].

    Returns
    -------
    SupplyImpedance

    Raises
    ------
    ValueError
        If the length is not above 0 or the section is no standard one.

    Notes
    -----
    Largest resistance that IEC 60228 admits at 20 degC, carried to the temperature; reactance 0.08 ohm/km per core at
    50 Hz, as IEC 60364-5-52, annex G, puts it.
    """
    if not (isfinite(length) and length > 0):
        msg = f"length must be above 0, got {length!r}"
        raise ValueError(msg)
    nearest = min(_conductors(), key=lambda standard: abs(standard - area))
    if not abs(nearest - area) <= 1e-3 * nearest:
        sections = ", ".join(f"{a * 1e6:g}" for a in _conductors())
        msg = f"area {area * 1e6:g} mm2 is no standard section: {sections}"
        raise ValueError(msg)
    per_metre = 1e-3 * float(_conductors()[nearest][stranding.value])
    warm = 1 + COPPER_COEFFICIENT * (temperature - 293.15)
    return SupplyImpedance(
        resistance=2 * length * per_metre * warm, inductance=2 * length * RUN_REACTANCE / (2 * pi * 50.0)
    )


def impedance_from_dip(
    open_voltage: float, loaded_voltage: float, current: float, frequency: float, *, x_over_r: float = 0.0
) -> SupplyImpedance:
    """Find the impedance of the mains from the dip under a resistive load such as a kettle or a heater.

    Parameters
    ----------
    open_voltage, loaded_voltage : float
        At the socket without and with the load, r.m.s. [V].
    current : float
        Of the load, r.m.s. [A], > 0.
    frequency : float
        [Hz], > 0.
    x_over_r : float
        Reactance over resistance assumed for the mains [-], >= 0; house wiring is near 0, a resistive load cannot tell.

    Returns
    -------
    SupplyImpedance

    Raises
    ------
    ValueError
        If the voltage does not dip or a number is out of range.

    Notes
    -----
    open^2 = (loaded + R I)^2 + (x R I)^2, solved for R.
    """
    numbers = {"loaded_voltage": loaded_voltage, "current": current, "frequency": frequency}
    for name, value in numbers.items():
        if not (isfinite(value) and value > 0):
            msg = f"{name} must be above 0, got {value!r}"
            raise ValueError(msg)
    if not (isfinite(open_voltage) and open_voltage > loaded_voltage):
        msg = f"open_voltage must lie above the loaded {loaded_voltage:g} V, got {open_voltage!r}"
        raise ValueError(msg)
    if not (isfinite(x_over_r) and x_over_r >= 0):
        msg = f"x_over_r must not be negative, got {x_over_r!r}"
        raise ValueError(msg)
    squared = 1 + x_over_r**2
    # The root of squared d^2 + 2 loaded d = open^2 - loaded^2 written so that small dips keep their digits.
    gap = (open_voltage - loaded_voltage) * (open_voltage + loaded_voltage)
    drop = gap / (loaded_voltage + sqrt(loaded_voltage**2 + squared * gap))
    resistance = drop / current
    return SupplyImpedance(resistance=resistance, inductance=x_over_r * resistance / (2 * pi * frequency))


@dataclass(frozen=True, kw_only=True, slots=True)
class VoltageDip:
    """Hold what one current does to the voltage at the socket.

    Parameters
    ----------
    voltage : float
        Left at the socket, r.m.s. [V].
    dip : float
        Share of the voltage without load that is lost [-].
    """

    voltage: float
    dip: float


def voltage_dip(
    voltage: float, impedance: SupplyImpedance, frequency: float, current: float, power_factor: float = 1.0
) -> VoltageDip:
    """Return the voltage left at the socket under a lagging current.

    Parameters
    ----------
    voltage : float
        Without load, r.m.s. [V], > 0.
    impedance : SupplyImpedance
    frequency : float
        [Hz].
    current : float
        R.m.s. [A], >= 0.
    power_factor : float
        Of the load at the socket, lagging [-], 0 to 1.

    Returns
    -------
    VoltageDip

    Raises
    ------
    ValueError
        If a number is out of range, or no voltage at the socket could drive that current.

    Notes
    -----
    With the socket's voltage U as reference, open^2 = (U + R I cos + X I sin)^2 + (X I cos - R I sin)^2.
    """
    if not (isfinite(voltage) and voltage > 0):
        msg = f"voltage must be above 0, got {voltage!r}"
        raise ValueError(msg)
    if not (isfinite(current) and current >= 0):
        msg = f"current must not be negative, got {current!r}"
        raise ValueError(msg)
    if not 0 <= power_factor <= 1:
        msg = f"power_factor must lie within 0 and 1, got {power_factor!r}"
        raise ValueError(msg)
    z = impedance.at(frequency)
    reactive = sqrt(1 - power_factor**2)
    along = current * (z.real * power_factor + z.imag * reactive)
    across = current * (z.imag * power_factor - z.real * reactive)
    if hypot(along, across) > voltage:
        msg = (
            f"{current:g} A cannot flow: the mains deliver at most {brief(voltage / abs(z), 4)} A into a short circuit"
        )
        raise ValueError(msg)
    left = sqrt(voltage**2 - across**2) - along
    return VoltageDip(voltage=left, dip=1 - left / voltage)


def prospective_current(voltage: float, impedance: SupplyImpedance, frequency: float) -> float:
    """Return the r.m.s. current [A] of a dead short at the socket: voltage [V] over the loop's impedance.

    Raises
    ------
    ValueError
        If the impedance is nothing.
    """
    size = abs(impedance.at(frequency))
    if size == 0:
        msg = f"the loop's impedance must be above 0, got {size!r} ohm"
        raise ValueError(msg)
    return voltage / size
