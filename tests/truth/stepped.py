"""Waves of tests on a bench, by the circuits of `tests.truth.electric` stepped until they repeat."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi, sqrt

import numpy as np

from tests.truth.electric import HALF, OMEGA, STEPS, Loop, Many
from tests.truth.sheet import Floats

BATCH = 120
"""Circuits that are stepped side by side."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Waves:
    """One test, over a period from the voltage's rise through zero: (n,) each, SI.

    `power` is what passes the terminals [W], `lost` what all resistances and the core lose behind them [W].
    """

    volts: Floats
    flux: Floats
    other: Floats
    first: Floats
    second: Floats
    power: float
    lost: float


def waves_of(loops: Sequence[Loop], loads: Sequence[float], steps: int = STEPS) -> list[Waves]:
    """Return the periodic states of circuits with loads."""
    found: list[Waves | None] = [None] * len(loops)
    for whole in (False, True):
        places = [k for k, p in enumerate(loops) if bool(p.direct) is whole]
        # batches of like tests: those that need many rounds do not hold up the others
        places.sort(key=lambda k: (loads[k], loops[k].volts))
        for start in range(0, len(places), BATCH):
            batch = places[start : start + BATCH]
            many = Many([loops[k] for k in batch], [loads[k] for k in batch], steps)
            run, G = many.periodic(whole=whole)
            if not whole:
                run = np.concatenate([run, -run[1:]])
            psi, i1, i2 = np.moveaxis(run[:-1], 1, 0)
            other, _ = many.read(many.g, psi, np.arange(len(batch)))
            for n, k in enumerate(batch):
                found[k] = _waves(loops[k], loads[k], (psi[:, n], other[:, n], i1[:, n], i2[:, n]), float(G[n]))
    return [each for each in found if each is not None]


def _waves(loop: Loop, load: float, run: tuple[Floats, ...], G: float) -> Waves:
    psi, other, i1, i2 = run
    n, (R, inductance) = len(psi), loop.source
    emf = sqrt(2) * loop.volts * np.sin(2 * pi * np.arange(n) / n) + loop.direct
    volts = emf - R * i1 - inductance * slope(i1)
    lost = loop.primary * mean_square(i1) + (loop.secondary + load) * mean_square(i2) + G * mean_square(slope(psi))
    return Waves(
        volts=volts,
        flux=psi,
        other=other,
        first=i1,
        second=i2,
        power=float(np.mean(emf * i1)) - R * mean_square(i1),
        lost=lost,
    )


def slope(values: Floats) -> Floats:
    """Return the rates of change of a period's samples (n,), by differences across two steps."""
    return np.asarray((np.roll(values, -1) - np.roll(values, 1)) * len(values) / (4 * HALF))


def mean_square(values: Floats) -> float:
    """Return the mean of squares."""
    return float(np.mean(values**2))


def joined_volts(loop: Loop, current: float) -> float:
    """Return about the volts that drive so much through the primary with the lead ends joined [A]."""
    ratio = (loop.turns[0] / loop.turns[1]) ** 2
    inductance = loop.turns[0] ** 2 * loop.iron.leakage + ratio * loop.lead_inductance
    return float(current * np.hypot(loop.primary + ratio * loop.secondary, OMEGA * inductance))
