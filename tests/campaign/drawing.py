"""Random quantities as texts with units, as people write them."""

from __future__ import annotations

from collections.abc import Sequence
from math import exp, log
from typing import TypeVar

import numpy as np

T = TypeVar("T")


class Draw:
    """One random sequence, from any whole numbers; the same numbers give the same draws."""

    def __init__(self, *seed: int) -> None:
        self._rng = np.random.default_rng(seed)

    def chance(self, probability: float) -> bool:
        return bool(self._rng.random() < probability)

    def even(self, low: float, high: float) -> float:
        return float(self._rng.uniform(low, high))

    def ratio(self, low: float, high: float) -> float:
        """Draw evenly in the logarithm."""
        return exp(self.even(log(low), log(high)))

    def whole(self, low: int, high: int) -> int:
        return int(self._rng.integers(low, high, endpoint=True))

    def of(self, choices: Sequence[T]) -> T:
        return choices[int(self._rng.integers(len(choices)))]

    def weighted(self, choices: dict[T, float]) -> T:
        names, weights = list(choices), np.array(list(choices.values()))
        return names[int(self._rng.choice(len(names), p=weights / weights.sum()))]

    def some(self, choices: Sequence[T], count: int) -> list[T]:
        """Draw different ones, in random order."""
        places = self._rng.permutation(len(choices))[:count]
        return [choices[int(place)] for place in places]

    def length(self, metres: float) -> str:
        """Write a length: mostly in millimetres, to five digits at most."""
        unit, factor = self.weighted({("mm", 1e3): 8.0, ("cm", 1e2): 1.0, ("m", 1.0): 0.5, ("in", 1 / 0.0254): 0.5})
        return quantity(metres * factor, unit, 5)

    def resistance(self, ohms: float) -> str:
        if ohms == 0:
            return "0 mohm"
        unit, factor = self.of([("mohm", 1e3), ("ohm", 1.0)])
        return quantity(ohms * factor, unit)

    def celsius(self, low: float, high: float) -> str:
        return f"{self.even(low, high):.0f} degC"


def quantity(value: float, unit: str, digits: int = 3) -> str:
    return f"{value:.{digits}g} {unit}"
