"""The resistance of a work piece's cells to alternating current, hot steel included."""

from collections.abc import Callable, Sequence
from math import pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.work.bodies import Bar
from fem.work.properties import FACTOR_POINTS, FACTOR_STEP, Columns, factors
from fem.work.rows import Rowwise, spread
from fem.work.sections import RoundSection
from fem.work.skin import effective_permeability


class Alternating(Rowwise):
    """The a.c. resistance of all cells of m members.

    Parameters
    ----------
    bars
        (m, bars) of each member.
    counts
        (bars,) of cells.
    per_ohm_metre
        (m, cells) length over section [1/m].
    frequency
        (m,) [Hz]; 0 leaves the skin effect out.

    Notes
    -----
    R = rho w/S F(a/delta), delta = sqrt(2 rho/(omega mu0 mu)), F of `fem.work.skin` by table; in steel mu follows
    the peak field at the surface, sqrt(2) i/p.
    """

    ROWS = ("per_ohm_metre", "_half", "_field", "_depth", "_table")

    def __init__(
        self, bars: Sequence[Sequence[Bar]], counts: Sequence[int], per_ohm_metre: Floats, frequency: Floats
    ) -> None:
        def each(number: Callable[[Bar], float]) -> Floats:
            return spread([[number(bar) for bar in chain] for chain in bars], counts)

        self.per_ohm_metre = per_ohm_metre
        half = each(lambda bar: bar.material.half_polarisation_field)
        self._magnetic = bool((half > 0).any())
        self._half = np.where(half > 0, half, 1.0)  # which asks nothing of a metal without polarisation
        self._field = each(lambda bar: sqrt(2) / bar.section.perimeter)
        self._depth = each(lambda bar: bar.section.half_depth) * np.sqrt(pi * frequency * MU0)[:, None]
        strips = each(lambda bar: not isinstance(bar.section, RoundSection))
        self._table = (FACTOR_POINTS * strips).astype(np.int64)

    def at(self, now: Columns, slope: Columns, current: Floats) -> tuple[Floats, Floats, Floats]:
        """Return each cell's resistance [ohm] and its slopes to its enthalpy and to the current, (m, cells) each.

        Parameters
        ----------
        now, slope
            What is looked up for the cells.
        current
            (m,) r.m.s. [A].
        """
        ohms = now.resistivity * self.per_ohm_metre
        relative = slope.resistivity / now.resistivity
        mu: Floats | float = 1.0
        by_field: Floats | float = 0.0
        if self._magnetic:
            # The excess over 1 goes with the polarisation, whose share alone differs from cell to cell.
            per_tesla, bend_per_tesla = effective_permeability(current[:, None] * self._field, 1.0, self._half)
            polarisation = np.maximum(now.polarisation, 0.0)
            mu = 1 + (per_tesla - 1) * polarisation
            by_mu = (per_tesla - 1) * slope.polarisation / mu
            by_field = bend_per_tesla * polarisation / mu
            away = relative - by_mu
        else:
            away = relative
        ratio = self._depth * np.sqrt(mu / now.resistivity)
        at = np.minimum((ratio / FACTOR_STEP).astype(np.int64), FACTOR_POINTS - 2)
        found = factors().take(at + self._table, axis=0)
        bend = found[..., 1]
        factor = found[..., 0] + bend * (ratio - FACTOR_STEP * at)
        # The ratio goes with the root of permeability over resistivity.
        half_bend = 0.5 * ohms * bend * ratio
        whole = ohms * factor
        return whole, whole * relative - half_bend * away, half_bend * by_field * self._field
