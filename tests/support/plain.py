"""An invented material of work pieces, for which there are closed forms."""

from dataclasses import dataclass, field
from math import inf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Plain:
    """An invented material with constant or straight properties, melting at one temperature if at all."""

    heat_capacity: float = 4e6
    rho: float = 1e-6
    coefficient: float = 0.0
    conductivity: float = 40.0
    melting: float = inf
    latent: float = 0.0
    half_polarisation_field: float = 0.0
    cold: float = 300.0
    temperature: Floats = field(init=False)
    enthalpy: Floats = field(init=False)

    def __post_init__(self) -> None:
        even = np.arange(1.0, 3001.0)
        melts = np.isfinite(self.melting)
        temperature = np.sort(np.r_[even[even != self.melting], [self.melting] * 2]) if melts else even
        enthalpy = self.heat_capacity * temperature
        if melts:
            second = np.searchsorted(temperature, self.melting) + 1
            enthalpy = enthalpy + self.latent * (np.arange(temperature.size) >= second)
        object.__setattr__(self, "temperature", temperature)
        object.__setattr__(self, "enthalpy", enthalpy)

    @property
    def resistivity(self) -> Floats:
        return self.rho * (1 + self.coefficient * (self.temperature - self.cold))

    @property
    def thermal_conductivity(self) -> Floats:
        return np.full_like(self.temperature, self.conductivity)

    @property
    def polarisation(self) -> Floats:
        return np.zeros_like(self.temperature)

    @property
    def solidus(self) -> float:
        return self.melting

    @property
    def liquidus(self) -> float:
        return self.melting
