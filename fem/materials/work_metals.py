"""Metals and carbons of work pieces from room temperature into the melt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, partial
from math import inf, isfinite

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.constants import REFERENCE_TEMPERATURE, ZERO_CELSIUS
from fem.materials.metals import metal
from geometries.described.faults import not_known
from geometries.described.tables import table_rows

_rows = partial(table_rows, __package__)

_LOWEST = 250.0
_STEP = 2.0
_FINE = 0.05


class UnknownWorkMetal(ValueError):
    """There is no work-piece metal of that name."""


class UnknownSurface(ValueError):
    """There is no such surface of that metal."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class WorkMetal:
    """Hold a metal's properties along its temperature, all arrays at the same points.

    Parameters
    ----------
    name, source
        What it is called, and where its own figures come from; those against temperature have theirs in the tables.
    density
        At 20 degC [kg/m^3]; the cold size goes with it at every temperature.
    solidus, liquidus
        [K], infinite where it does not melt; equal for a pure metal.
    half_polarisation_field
        Field at which half the saturation polarisation is reached [A/m]; 0 where not magnetic.
    temperature
        (n,) [K], not falling: the two ends of an isothermal melting are points of the same temperature.
    enthalpy
        (n,) from 20 degC, rising [J/m^3].
    resistivity, thermal_conductivity
        (n,) [ohm m], [W/(m K)].
    polarisation
        (n,) saturation polarisation [T], 0 where not magnetic.

    Notes
    -----
    h(T) = density (integral of c from 20 degC to T + latent heat times x), x the share molten, even between solidus and
    liquidus. The last temperature is where the data end, and so must a run.
    """

    name: str
    source: str
    density: float
    solidus: float
    liquidus: float
    half_polarisation_field: float
    temperature: Floats
    enthalpy: Floats
    resistivity: Floats
    thermal_conductivity: Floats
    polarisation: Floats

    def __post_init__(self) -> None:
        """Refuse points that are not finite, fall or are not positive; freeze the arrays."""
        for name in ("temperature", "enthalpy", "resistivity", "thermal_conductivity", "polarisation"):
            values = getattr(self, name)
            if not np.isfinite(values).all():
                msg = f"{self.name}: {name} is not finite at point {int(np.argmin(np.isfinite(values)))}"
                raise ValueError(msg)
            values.setflags(write=False)
        for name in ("resistivity", "thermal_conductivity"):
            if getattr(self, name).min() <= 0:
                msg = f"{self.name}: {name} must be above 0, got {getattr(self, name).min():g}"
                raise ValueError(msg)
        if np.diff(self.enthalpy).min() <= 0 or np.diff(self.temperature).min() < 0:
            msg = f"{self.name}: enthalpy must rise with temperature"
            raise ValueError(msg)

    def resistivity_at(self, temperature: ArrayLike) -> Floats:
        """Return the resistivity [ohm m] at a temperature [K], any shape; refuse one outside the table."""
        return np.interp(self._within(temperature), self.temperature, self.resistivity)

    def enthalpy_at(self, temperature: ArrayLike) -> Floats:
        """Return the enthalpy from 20 degC [J/kg] at a temperature [K], any shape; solid at a pure metal's melting."""
        within = self._within(temperature)
        # Up to the first point at the solidus: on a pure metal the second, molten one is as hot.
        solid = slice(int(np.searchsorted(self.temperature, self.solidus, side="left")) + 1)
        below = np.interp(within, self.temperature[solid], self.enthalpy[solid])
        above = np.interp(within, self.temperature, self.enthalpy)
        return np.where(within <= self.solidus, below, above) / self.density

    def _within(self, temperature: ArrayLike) -> Floats:
        given = np.asarray(temperature, dtype=np.float64)
        low, high = float(self.temperature[0]), float(self.temperature[-1])
        if not np.all((given >= low) & (given <= high)):
            worst = float(np.max(given)) if np.max(given) > high else float(np.min(given))
            msg = f"{self.name}: known from {low:.0f} to {high:.0f} K, not at {worst:g} K"
            raise ValueError(msg)
        return given


def steel_heat_capacity(temperature: ArrayLike) -> Floats:
    """Return the heat capacity of carbon steel, the peak of its transformation included.

    Parameters
    ----------
    temperature
        [K], any shape; level below 20 degC and above 1200 degC.

    Returns
    -------
    [J/(kg K)], same shape.

    Notes
    -----
    425 + 0.773 t - 1.69e-3 t^2 + 2.22e-6 t^3 to 600 degC, 666 + 13002/(738 - t) to 735, 545 + 17820/(t - 731) to 900,
    then 650: EN 1993-1-2:2005, cl. 3.4.1.2, stated for 20 to 1200 degC and the heating rates of fires. In fast heating
    the peak at 735 degC moves up by tens of kelvin; its heat stays.
    """
    t = np.clip(np.asarray(temperature, dtype=np.float64) - ZERO_CELSIUS, 20.0, 1200.0)
    cubic = 425 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3
    # The branches are poles away from their own range: keep the other branches' points off the poles.
    rising = 666 + 13002 / (738 - np.minimum(t, 735.0))
    falling = 545 + 17820 / (np.maximum(t, 735.0) - 731)
    return np.select([t < 600, t < 735, t < 900], [cubic, rising, falling], 650.0)


def reduced_polarisation(temperature: ArrayLike, curie_temperature: float, shape: float, power: float) -> Floats:
    """Return the saturation polarisation over that at 0 K.

    Parameters
    ----------
    temperature
        T [K], any shape.
    curie_temperature
        [K].
    shape, power
        s and p [-]; 0.35 and 4 for iron, 0.15 and 5/2 for nickel.

    Returns
    -------
    [-], same shape, 0 from the Curie temperature on.

    Notes
    -----
    (1 - s t^(3/2) - (1 - s) t^p)^(1/3), t = T / T_Curie: M. D. Kuz'min, Phys. Rev. Lett. 94 (2005) 107204, from memory.
    """
    t = np.minimum(np.asarray(temperature, dtype=np.float64) / curie_temperature, 1.0)
    return np.asarray(np.cbrt(np.maximum(1 - shape * t**1.5 - (1 - shape) * t**power, 0.0)))


def work_metal_names() -> tuple[str, ...]:
    """Return the names of the work-piece metals, carbons last."""
    return tuple(_metals())


@cache
def work_metal(name: str) -> WorkMetal:
    """Return a work-piece metal by its name.

    Raises
    ------
    UnknownWorkMetal
        If there is none of that name; the message lists the names and the nearest.
    """
    rows = _metals()
    if name not in rows:
        raise UnknownWorkMetal(not_known(name, rows, "work-piece metal"))
    row = rows[name]
    density = float(row["density_kg_per_m3"]) if row["density_kg_per_m3"] else metal(name).density
    melts = bool(row["solidus_degC"])
    solidus = float(row["solidus_degC"]) + ZERO_CELSIUS if melts else inf
    liquidus = float(row["liquidus_degC"]) + ZERO_CELSIUS if melts else inf
    latent = float(row["latent_heat_J_per_kg"]) if melts else 0.0
    temperature = _points(solidus, liquidus, float(row["highest_degC"]) + ZERO_CELSIUS)
    sensible = density * _integrate(_heat_capacity(name, row["heat_capacity"]), temperature)
    resistivity = _column("work_metals_resistivity.csv", name, "resistivity_ohm_m")(temperature)
    conductivity = _column("work_metals_conductivity.csv", name, "conductivity_W_per_mK")(temperature)
    if melts:
        # The latent heat lies evenly between solidus and liquidus; on a pure metal the second of two equal points.
        start = int(np.searchsorted(temperature, solidus))
        width = liquidus - solidus
        melted = np.clip((temperature - solidus) / width, 0, 1) if width > 0 else np.arange(temperature.size) > start
        sensible = sensible + density * latent * melted
    curie = float(row["curie_degC"]) + ZERO_CELSIUS if row["curie_degC"] else None
    polarisation = np.zeros_like(temperature)
    if curie is not None:
        reduced = reduced_polarisation(temperature, curie, float(row["shape"]), float(row["power"]))
        polarisation = float(row["saturation_polarisation_T"]) * reduced
    return WorkMetal(
        name=name,
        source=row["source"],
        density=density,
        solidus=solidus,
        liquidus=liquidus,
        half_polarisation_field=float(row["half_field_A_per_m"]) if curie is not None else 0.0,
        temperature=temperature,
        enthalpy=sensible,
        resistivity=resistivity,
        thermal_conductivity=conductivity,
        polarisation=polarisation,
    )


def surface_names(metal: str) -> tuple[str, ...]:
    """Return the surfaces of a metal whose emissivity is known; none for an unknown metal."""
    return tuple(dict.fromkeys(r["surface"] for r in _rows("work_metals_emissivity.csv") if r["metal"] == metal))


def emissivity(metal: str, surface: str) -> Callable[[ArrayLike], Floats]:
    """Return the total emissivity of a metal's surface as a function of temperature [K].

    Raises
    ------
    UnknownSurface
        If there is no such surface; the message lists those there are.
    """
    if surface not in surface_names(metal):
        raise UnknownSurface(not_known(surface, surface_names(metal), f"surface of {metal}"))
    return _column("work_metals_emissivity.csv", metal, "emissivity", surface)


def colour_temperature(colour: str) -> float:
    """Return the temperature [K] at which a colour of glowing iron begins; refuse a colour that is not listed."""
    rows = {row["colour"]: float(row["from_degC"]) + ZERO_CELSIUS for row in _rows("work_metals_heat_colours.csv")}
    if colour not in rows:
        raise ValueError(not_known(colour, rows, "heat colour"))
    return rows[colour]


@cache
def _metals() -> dict[str, dict[str, str]]:
    return {row["metal"]: row for row in _rows("work_metals.csv")}


def _column(file: str, metal: str, column: str, surface: str | None = None) -> Callable[[ArrayLike], Floats]:
    """Return one tabulated property against temperature [K]: straight, level beyond both ends (cold and melt)."""
    rows = [r for r in _rows(file) if r["metal"] == metal and (surface is None or r["surface"] == surface)]
    temperature = np.array([float(row["temperature_degC"]) + ZERO_CELSIUS for row in rows])
    values = np.array([float(row[column]) for row in rows])

    def at(wanted: ArrayLike) -> Floats:
        return np.asarray(np.interp(np.asarray(wanted, dtype=np.float64), temperature, values), dtype=np.float64)

    return at


def _heat_capacity(name: str, kind: str) -> Callable[[ArrayLike], Floats]:
    if kind == "EN 1993-1-2":
        return steel_heat_capacity
    return _column("work_metals_heat_capacity.csv", name, "heat_capacity_J_per_kgK")


def _points(solidus: float, liquidus: float, highest: float) -> Floats:
    """Return even steps of temperature with solidus and liquidus put among them, both also where they coincide."""
    even = np.arange(_LOWEST, highest + _STEP, _STEP)
    if not isfinite(solidus):
        return even
    inside = np.r_[even[(np.abs(even - solidus) > 0.1) & (np.abs(even - liquidus) > 0.1)], solidus, liquidus]
    return np.asarray(np.sort(inside))


def _integrate(heat_capacity: Callable[[ArrayLike], Floats], temperature: Floats) -> Floats:
    """Return the heat per kilogram from 20 degC to each temperature, the sharp peak of steel resolved."""
    fine = np.arange(_LOWEST, temperature[-1] + _FINE, _FINE)
    middle = heat_capacity(0.5 * (fine[1:] + fine[:-1]))
    heat = np.r_[0.0, np.cumsum(middle * np.diff(fine))]
    return np.asarray(np.interp(temperature, fine, heat) - np.interp(REFERENCE_TEMPERATURE, fine, heat))
