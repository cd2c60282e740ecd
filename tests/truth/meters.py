"""What meters on a bench show of waves: errors and digits.

A meter of alternating current does not see direct current. It averages (rectified mean, scaled for a sine) or is true
r.m.s. Accuracies are those of data sheets of hand-held meters (from memory): a share of the reading, steps of a display
of 2000, a floor.
"""

from math import ceil, floor, log10, pi, sqrt

import numpy as np

from tests.truth.sheet import Floats
from tests.truth.stepped import mean_square

ACCURACIES = {
    "voltmeter": (0.01, 5, 0.0),
    "averaging ammeter": (0.02, 5, 0.0),
    "true r.m.s. ammeter": (0.015, 5, 0.0),
    "clamp": (0.03, 5, 0.0),
    "wattmeter": (0.02, 10, 0.0),
    "ohmmeter": (0.01, 3, 0.0),
    "direct voltmeter": (0.005, 3, 0.0),
    "direct ammeter": (0.015, 5, 0.0),
}
"""Share, steps, floor [SI]."""


def seen(meter: str, wave: Floats) -> float:
    """Return what a meter without an error shows of a wave."""
    wave = wave - wave.mean()
    return sqrt(mean_square(wave)) if meter == "true r.m.s." else pi / (2 * sqrt(2)) * float(np.abs(wave).mean())


def range_of(value: float) -> float:
    """Return the least of the ranges 2, 20, 200 ... that holds a value."""
    return float(2.0 * 10.0 ** ceil(log10(abs(value) / 2.0) - 1e-9))


class Meters:
    """The meters of one bench: each with an error of its own that all of its readings share, or drawn anew each time.

    Parameters
    ----------
    better
        Their limits over those of `ACCURACIES`.
    shared
        Whether readings of one meter share the error that is in proportion.
    told
        Whether readings are told with their limits.
    """

    def __init__(self, rng: np.random.Generator, *, better: float, shared: bool, told: bool) -> None:
        self.rng, self.better, self.shared, self.told = rng, better, shared, told
        self.gains: dict[str, float] = {}

    def read(self, value: float, instrument: str, unit: str, full: float | None = None) -> str:
        """Return what a meter shows of a true value [SI] as a shop would write it down."""
        share, steps, least = ACCURACIES[instrument]
        share, full = share * self.better, full or range_of(value)
        fixed = steps * self.better * full / 2000 + least
        gain = self.rng.uniform(-share, share)
        gain = self.gains.setdefault(instrument, gain) if self.shared else gain
        shown = value * (1 + gain) + self.rng.uniform(-fixed, fixed)
        step = full / 2000
        shown = max(round(shown / step), 1) * step
        text = f"{shown:.{max(0, -floor(log10(step) + 1e-9))}f} {unit}"
        return f"{text} +- {share * shown + fixed:.2g} {unit}" if self.told else text
