"""Conductor metals: resistance with temperature, density, heat, and what a short current does."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.constants import REFERENCE_TEMPERATURE
from geometries.described.faults import not_known
from geometries.described.tables import table_rows


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
        alpha, relative rise of the resistivity per kelvin, referred to 20 degC [1/K].
    density
        At 20 degC [kg/m^3].
    specific_heat
        Near room temperature [J/(kg K)]; it rises with temperature, so constant it errs to the hot side.
    thermal_conductivity
        Near room temperature [W/(m K)].
    short_time_constant
        K of `fem.heat.adiabatic` [A s^0.5/m^2].
    beta
        Reciprocal of the temperature coefficient at 0 degC, as printed with K [K].
    source
        Where each figure comes from.

    Raises
    ------
    ValueError
        If a figure is not above 0.
    """

    name: str
    resistivity_20: float
    temperature_coefficient: float
    density: float
    specific_heat: float
    thermal_conductivity: float
    short_time_constant: float
    beta: float
    source: str

    def __post_init__(self) -> None:
        for quantity in _FIGURES.values():
            value = getattr(self, quantity)
            if not value > 0:
                msg = f"{self.name}: {quantity} {value:g} must be positive"
                raise ValueError(msg)

    def resistivity(self, temperature: ArrayLike) -> Floats:
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


_FIGURES = {
    "resistivity_20_ohm_m": "resistivity_20",
    "temperature_coefficient_per_K": "temperature_coefficient",
    "density_kg_per_m3": "density",
    "specific_heat_J_per_kg_K": "specific_heat",
    "thermal_conductivity_W_per_m_K": "thermal_conductivity",
    "short_time_constant_A_s05_per_m2": "short_time_constant",
    "beta_K": "beta",
}
"""Column of the table: field of `Metal`."""


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
            source=_sources(row),
            **{field: float(row[column]) for column, field in _FIGURES.items()},
        )
        for row in table_rows(__package__, "metals.csv")
    }


def _sources(row: dict[str, str]) -> str:
    """Return the sources of a row in one line, figures of one source together."""
    figures: dict[str, list[str]] = {}
    for column, source in row.items():
        if column.endswith("_source"):
            figures.setdefault(source, []).append(column.removesuffix("_source").replace("_", " "))
    return "; ".join(f"{', '.join(names)}: {source}" for source, names in figures.items())
