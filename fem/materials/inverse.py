"""Flux density for a field strength: laws of stacked sheet turned round, alone or in series with gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.materials.mixture import STEP, Reluctivity

_NEWTON_STEPS = 3
"""Within an interval of the table, where H is nearly straight: exact to rounding but at corners of a coarse table."""
_LEAST = 1e-9
"""Field strength [A/m] below which b/H is constant, so that 0/0 never arises."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Permeability:
    """The inverse of H(b) = sum_k s_k H_k(b): layers in series, each a share s_k of the length, with one flux density.

    Parameters
    ----------
    coefficients
        H [A/m] in powers of the position in an interval of `STEP`, lowest first, as `Reluctivity` has them (4, n + 1).
    """

    coefficients: Floats

    @classmethod
    def in_series(cls, shares: Sequence[tuple[float, Reluctivity | None]]) -> Permeability:
        """Return the law of layers in series.

        Parameters
        ----------
        shares
            Of the length [-], and each layer's law; None for air.
        """
        most = max(4, *(law.coefficients.shape[1] for _, law in shares if law is not None))
        return cls(coefficients=sum((s * _on_steps(law, most) for s, law in shares if s), np.zeros((4, most))))

    def mu_slope(self, field_strength: Floats) -> tuple[Floats, Floats]:
        """Return b/H and db/dH [H/m] at field strength >= 0 [A/m], any shape."""
        h = np.maximum(field_strength.ravel(), _LEAST)
        i = self.coefficients[0].searchsorted(h, side="right") - 1
        a0, a1, a2, a3 = self.coefficients.take(i, axis=1)
        wanted = h - a0
        t = wanted / (a1 + a2 + a3)
        for _ in range(_NEWTON_STEPS):
            t -= (((a3 * t + a2) * t + a1) * t - wanted) / ((3 * a3 * t + 2 * a2) * t + a1)
        slope = STEP / ((3 * a3 * t + 2 * a2) * t + a1)
        return (STEP * (i + t) / h).reshape(field_strength.shape), slope.reshape(field_strength.shape)


def _on_steps(law: Reluctivity | None, size: int) -> Floats:
    """Return a law's cubics on intervals of `STEP`, straight lines after its own table's end (4, size)."""
    found = np.zeros((4, size))
    known = 0
    if law is not None and not law.is_linear:
        known = law.coefficients.shape[1]
        found[:, :known] = law.coefficients
    slope = STEP / MU0 if law is None else float(law.coefficients[1, -1] / law.step * STEP)
    start = found[0, known - 1] - slope * (known - 1) if known else 0.0
    found[0, known:] = start + slope * np.arange(known, size)
    found[1, known:] = slope
    return found
