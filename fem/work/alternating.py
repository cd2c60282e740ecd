"""The resistance of a work piece's cells to alternating current, hot steel included."""

from math import pi, sqrt

import numpy as np

from fem.arrays import Floats
from fem.constants import MU0
from fem.work.properties import FACTOR_POINTS, FACTOR_STEP, Columns, Stretch
from fem.work.skin import effective_permeability


def ac_resistance(
    stretches: list[Stretch], per_ohm_metre: Floats, now: Columns, slope: Columns, current: float, frequency: float
) -> tuple[Floats, Floats, Floats]:
    """Return each cell's a.c. resistance [ohm] and its slopes to its enthalpy and to the current, (cells,) each.

    Parameters
    ----------
    stretches
        The cells by what they are made of.
    per_ohm_metre
        (cells,) length over section [1/m].
    now, slope
        What is looked up for the cells.
    current
        R.m.s. [A].
    frequency
        [Hz]; 0 leaves the skin effect out.

    Notes
    -----
    R = rho w/S F(a/delta), delta = sqrt(2 rho/(omega mu0 mu)), F of `fem.work.skin` by table; in steel mu follows
    the peak field at the surface, sqrt(2) i/p.
    """
    ohms, ohms_slope = now.resistivity * per_ohm_metre, slope.resistivity * per_ohm_metre
    by_current = np.zeros_like(ohms)
    if frequency == 0:
        return ohms, ohms_slope, by_current
    for stretch in stretches:
        bar, part, table = stretch.bar, stretch.part, stretch.factor
        rho, rho_slope = now.resistivity[part], slope.resistivity[part]
        relative_slope = rho_slope / rho
        mu: Floats | float = 1.0
        by_field: Floats | float = 0.0
        if bar.material.half_polarisation_field > 0:
            # The excess over 1 goes with the polarisation, whose share alone differs from cell to cell.
            field = sqrt(2) * current / bar.section.perimeter
            per_tesla, bend_per_tesla = effective_permeability(field, 1.0, bar.material.half_polarisation_field)
            polarisation = np.maximum(now.polarisation[part], 0.0)
            mu = 1 + (per_tesla - 1) * polarisation
            relative_slope = relative_slope - (per_tesla - 1) * slope.polarisation[part] / mu
            by_field = bend_per_tesla * polarisation / mu
        ratio = bar.section.half_depth * np.sqrt(pi * frequency * MU0 * mu / rho)
        at = np.minimum((ratio / FACTOR_STEP).astype(np.int64), FACTOR_POINTS - 2)
        start, bend = table.take(at, axis=1)
        factor = start + bend * (ratio - FACTOR_STEP * at)
        # The ratio goes with the root of permeability over resistivity.
        half_bend = 0.5 * ohms[part] * bend * ratio
        by_current[part] = half_bend * by_field * (sqrt(2) / bar.section.perimeter)
        ohms_slope[part] = ohms_slope[part] * factor - half_bend * relative_slope
        ohms[part] *= factor
    return ohms, ohms_slope, by_current
