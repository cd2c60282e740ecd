"""The magnetic field diffusing into a bar of steel that saturates, marched in time: no formula of the package in it."""

from math import pi

import numpy as np
import pytest
from scipy.linalg import solve_banded

from fem.arrays import Floats
from fem.constants import MU0
from fem.work.sections import RoundSection, StripSection


def marched_field(
    peak: float,
    section: RoundSection | StripSection,
    rho: float,
    js: float,
    half: float,
    *,
    cells: int,
    steps: int,
    periods: int,
    residual: float,
) -> Floats:
    """Return the electric field [V/m] in even cells from the middle outwards at each step, (periods * steps, cells).

    Parameters
    ----------
    peak
        Of the sinusoidal field at the surface [A/m], 50 Hz.
    section, rho
        Of the bar, a strip thin beside its width; its resistivity [ohm m].
    js, half
        Its steel, B = mu0 H + Js H/(H + half) [T], [A/m].
    cells, steps, periods
        From the middle to the surface; to a period; how many of these from no field at all.
    residual
        Relative, at which a step is solved [-].
    """
    dt = 1 / (50.0 * steps)
    edge = np.linspace(0.0, section.half_depth, cells + 1)
    dx, middle = edge[1], 0.5 * (edge[1:] + edge[:-1])
    is_round = isinstance(section, RoundSection)
    inner, outer = (edge[:-1] / middle, edge[1:] / middle) if is_round else (np.ones(cells), np.ones(cells))
    field, found = np.zeros(cells + 1), np.empty((periods * steps, cells))
    for k in range(periods * steps):
        new = field.copy()
        new[-1] = peak * np.sin(2 * pi * (k + 1) / steps)
        for trial in range(60):
            e = rho * (outer * new[1:] - inner * new[:-1]) / dx
            b_new, b_old = (MU0 * h + js * h / (np.abs(h) + half) for h in (new[1:-1], field[1:-1]))
            wrong = (b_new - b_old) / dt - np.diff(e) / dx
            if np.abs(wrong).max() < residual * js / dt:
                break
            bands = np.zeros((3, cells - 1))
            bands[1] = (MU0 + js * half / (np.abs(new[1:-1]) + half) ** 2) / dt + rho * (inner[1:] + outer[:-1]) / dx**2
            bands[0, 1:] = -rho * outer[1:-1] / dx**2
            bands[2, :-1] = -rho * inner[1:-1] / dx**2
            new[1:-1] -= solve_banded((1, 1), bands, wrong) * (1.0 if trial < 15 else 0.5)
        else:
            pytest.fail("the march did not converge")
        field, found[k] = new, e
    return found
