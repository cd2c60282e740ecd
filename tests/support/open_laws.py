"""Iron, and layers that stand for thin joints, as laws between field strength and flux density, read both ways."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fem.materials.mixture import STEP, TABLE_END, Reluctivity

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Law:
    """H(b) in cubics on equal intervals, straight beyond them.

    Parameters
    ----------
    step
        Width of an interval [T].
    coefficients
        H [A/m] in powers of the position in the interval, (4, n + 1).
    """

    step: float
    coefficients: Floats

    @classmethod
    def of(cls, law: Reluctivity) -> "Law":
        """Return a law on the intervals of all others."""
        if law.is_linear:
            b = STEP * np.arange(round(TABLE_END / STEP) + 1)
            ones = np.ones_like(b)
            return cls(step=STEP, coefficients=law.nu_initial * np.array([b, STEP * ones, 0 * b, 0 * b]))
        return cls(step=law.step, coefficients=law.coefficients)

    def beside(self, other: "Law", share: float) -> "Law":
        """Return this law over 1 - share of a layer's height in series with another over the rest."""
        n = min(self.coefficients.shape[1], other.coefficients.shape[1])
        a, b = self.coefficients[:, :n], other.coefficients[:, :n]
        return Law(step=self.step, coefficients=(1 - share) * a + share * b)

    def field(self, b: Floats) -> tuple[Floats, Floats]:
        """Return H [A/m] and dH/db at b >= 0 [T]."""
        i = np.minimum(b / self.step, self.coefficients.shape[1] - 1).astype(np.intp)
        t = b / self.step - i
        a0, a1, a2, a3 = self.coefficients[:, i]
        return ((a3 * t + a2) * t + a1) * t + a0, ((3 * a3 * t + 2 * a2) * t + a1) / self.step

    def flux(self, H: Floats) -> tuple[Floats, Floats]:
        """Return b [T] and db/dH at H >= 0 [A/m]."""
        nodes = self.coefficients[0]
        i = np.searchsorted(nodes, H, side="right") - 1
        a0, a1, a2, a3 = self.coefficients[:, i]
        t = np.where(i < nodes.size - 1, (H - a0) / (a1 + a2 + a3), (H - a0) / a1)
        for _ in range(8):
            t -= (((a3 * t + a2) * t + a1) * t + a0 - H) / ((3 * a3 * t + 2 * a2) * t + a1)
        return self.step * (i + t), self.step / ((3 * a3 * t + 2 * a2) * t + a1)

    def energy(self, b: Floats) -> Floats:
        """Return the integral of H from 0 to b >= 0 [J/m3]."""
        a0, a1, a2, a3 = self.coefficients
        whole = np.concatenate([[0.0], np.cumsum(self.step * (a0 + a1 / 2 + a2 / 3 + a3 / 4))[:-1]])
        i = np.minimum(b / self.step, self.coefficients.shape[1] - 1).astype(np.intp)
        t = b / self.step - i
        return whole[i] + self.step * t * (((a3[i] / 4 * t + a2[i] / 3) * t + a1[i] / 2) * t + a0[i])


AIR = Law.of(Reluctivity.linear(1.0))
