"""Conductor metals: resistance with temperature, density and heat."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from geometries.described.faults import not_known
from geometries.described.tables import table_rows

REFERENCE_TEMPERATURE = 293.15
"""Temperature [K] of the tabulated resistivity: 20 degC."""


class UnknownMetal(ValueError):
    """There is no conductor metal of that name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Metal:
    """Hold what is known of a conductor metal.

    Parameters
    ----------
    name
        What it is called.
    resistivity_20
        Resistivity at 20 degC [ohm m].
    temperature_coefficient
        Relative rise of the resistivity per kelvin, referred to 20 degC [1/K].
    density
        [kg/m^3].
    specific_heat
        Near room temperature [J/(kg K)]; it rises with temperature, so constant it errs to the hot side.
    thermal_conductivity
        Near room temperature [W/(m K)].
    source
        Where the figures come from.
    """

    name: str
    resistivity_20: float
    temperature_coefficient: float
    density: float
    specific_heat: float
    thermal_conductivity: float
    source: str

    def __post_init__(self) -> None:
        for quantity in (
            "resistivity_20",
            "temperature_coefficient",
            "density",
            "specific_heat",
            "thermal_conductivity",
        ):
            value = getattr(self, quantity)
            if not value > 0:
                msg = f"{self.name}: {quantity} {value:g} must be positive"
                raise ValueError(msg)

    def resistivity(self, temperature: ArrayLike) -> NDArray[np.float64]:
        """Return the resistivity [ohm m] at a temperature [K], any shape.

        Raises
        ------
        ValueError
            If the straight line has no positive value there: not a temperature at which windings work.

        Notes
        -----
        rho = rho_20 (1 + alpha (T - 293.15 K)), the linear law of IEC 60028. It is meant for windings, some -50 to
        250 degC; near the melting point the true resistivity is higher.
        """
        temperature = np.asarray(temperature, dtype=np.float64)
        factor = 1 + self.temperature_coefficient * (temperature - REFERENCE_TEMPERATURE)
        if not np.all(factor > 0):
            lowest = REFERENCE_TEMPERATURE - 1 / self.temperature_coefficient
            msg = (
                f"{self.name}: {np.min(temperature):g} K; the linear law of resistivity needs more than {lowest:.0f} K"
            )
            raise ValueError(msg)
        return np.asarray(self.resistivity_20 * factor)


def metal_names() -> tuple[str, ...]:
    """Return the names of the conductor metals."""
    return tuple(_metals())


def metal(name: str) -> Metal:
    """Return a conductor metal by its name.

    Raises
    ------
    UnknownMetal
        If there is none of that name; the message lists the names and the nearest.
    """
    metals = _metals()
    if name not in metals:
        raise UnknownMetal(not_known(name, metals, "metal"))
    return metals[name]


@cache
def _metals() -> dict[str, Metal]:
    return {
        row["metal"]: Metal(
            name=row["metal"],
            resistivity_20=float(row["resistivity_20_ohm_m"]),
            temperature_coefficient=float(row["temperature_coefficient_per_K"]),
            density=float(row["density_kg_per_m3"]),
            specific_heat=float(row["specific_heat_J_per_kg_K"]),
            thermal_conductivity=float(row["thermal_conductivity_W_per_m_K"]),
            source=row["source"],
        )
        for row in table_rows(__package__, "metals.csv")
    }
