"""Impedance of the mains up to the primary: given, from the run's length and section, or from a measured dip."""

from dataclasses import dataclass
from enum import Enum
from functools import cache
from math import inf, pi, sqrt

import numpy as np

from fem.arrays import not_negative, positive
from fem.assumptions import assumed
from fem.constants import REFERENCE_TEMPERATURE
from fem.materials.metals import metal
from geometries.described.tables import table_rows

RUN_REACTANCE = assumed("reactance of a cable run").typical
"""Reactance of one core of an installation cable at 50 Hz [ohm/m]: IEC 60364-5-52, annex G."""


class Stranding(Enum):
    """Build of a mains conductor, by its class in IEC 60228."""

    SOLID = "class_1_ohm_per_km"
    STRANDED = "class_2_ohm_per_km"
    FLEXIBLE = "class_5_ohm_per_km"


@dataclass(frozen=True, kw_only=True, slots=True)
class SupplyImpedance:
    """Hold the impedance of a mains loop, line plus neutral, Z = R + j 2 pi f L.

    Parameters
    ----------
    resistance
        (...,) [ohm], >= 0.
    inductance
        (...,) [H], >= 0.

    Raises
    ------
    ValueError
        If a number is negative or not finite.
    """

    resistance: float
    inductance: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no loop can have."""
        not_negative(resistance=self.resistance, inductance=self.inductance)

    def __add__(self, other: "SupplyImpedance") -> "SupplyImpedance":
        """Put two stretches in series."""
        return SupplyImpedance(
            resistance=self.resistance + other.resistance, inductance=self.inductance + other.inductance
        )

    def at(self, frequency: float) -> complex:
        """Return the complex impedance, (...,) [ohm], at a frequency [Hz]."""
        return self.resistance + 1j * (2 * pi * frequency * self.inductance)


@cache
def _conductors() -> dict[float, dict[str, str]]:
    return {float(row["area_mm2"]) * 1e-6: row for row in table_rows(__package__, "mains_conductors.csv")}


def run_impedance(
    length: float,
    area: float,
    *,
    stranding: Stranding = Stranding.SOLID,
    temperature: float = REFERENCE_TEMPERATURE,
) -> SupplyImpedance:
    """Return the impedance of a cord or a stretch of house wiring, there and back.

    Parameters
    ----------
    length
        Of the cable, one way [m], > 0.
    area
        Standard nominal section of one core [m^2], 0.5 to 35 mm2.
    stranding
        FLEXIBLE for cords.
    temperature
        Of the copper [K].

    Raises
    ------
    ValueError
        If the length is not above 0 or the section is no standard one.

    Notes
    -----
    R = 2 l r20 (1 + alpha (T - 20 degC)) with the largest resistance per metre r20 that IEC 60228 admits, and
    L = 2 l x/(2 pi 50 Hz) with the reactance x = 0.08 ohm/km per core of IEC 60364-5-52, annex G.
    """
    positive(length=length)
    nearest = min(_conductors(), key=lambda standard: abs(standard - area))
    if not abs(nearest - area) <= 1e-3 * nearest:
        sections = ", ".join(f"{a * 1e6:g}" for a in _conductors())
        msg = f"area {area * 1e6:g} mm2 is no standard section: {sections}"
        raise ValueError(msg)
    per_metre = 1e-3 * float(_conductors()[nearest][stranding.value])
    warm = 1 + metal("copper").temperature_coefficient * (temperature - REFERENCE_TEMPERATURE)
    return SupplyImpedance(
        resistance=2 * length * per_metre * warm, inductance=2 * length * RUN_REACTANCE / (2 * pi * 50.0)
    )


def impedance_from_dip(
    open_voltage: float, loaded_voltage: float, current: float, frequency: float, *, x_over_r: float = 0.0
) -> SupplyImpedance:
    """Find the impedance of the mains from the dip under a resistive load such as a kettle or a heater.

    Parameters
    ----------
    open_voltage, loaded_voltage
        At the socket without and with the load, r.m.s. [V].
    current
        Of the load, r.m.s. [A], > 0.
    frequency
        [Hz], > 0.
    x_over_r
        Reactance over resistance assumed for the mains [-], >= 0; house wiring is near 0, a resistive load cannot tell.

    Raises
    ------
    ValueError
        If the voltage does not dip or a number is out of range.

    Notes
    -----
    Kirchhoff's voltages round the loop, the load's as reference, |U0|^2 = (U + R I)^2 + (x R I)^2, solved for R.
    """
    positive(loaded_voltage=loaded_voltage, current=current, frequency=frequency)
    not_negative(x_over_r=x_over_r)
    if not loaded_voltage < open_voltage < inf:
        msg = f"open_voltage must lie above the loaded {loaded_voltage:g} V, got {open_voltage!r}"
        raise ValueError(msg)
    squared = 1 + x_over_r**2
    # The root of squared d^2 + 2 loaded d = open^2 - loaded^2 written so that small dips keep their digits.
    gap = (open_voltage - loaded_voltage) * (open_voltage + loaded_voltage)
    drop = gap / (loaded_voltage + sqrt(loaded_voltage**2 + squared * gap))
    resistance = drop / current
    return SupplyImpedance(resistance=resistance, inductance=x_over_r * resistance / (2 * pi * frequency))


def prospective_current(voltage: float, impedance: SupplyImpedance, frequency: float) -> float:
    """Return the r.m.s. current, (...,) [A], of a dead short at the socket, U0/|Z|: voltage over the loop's impedance.

    Raises
    ------
    ValueError
        If the impedance is nothing.
    """
    size = abs(impedance.at(frequency))
    if not np.all(size):
        msg = f"the loop's impedance must be above 0, got {size!r} ohm"
        raise ValueError(msg)
    return voltage / size
