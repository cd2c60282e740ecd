"""Where temperatures settle under one state for good."""

from math import inf

import numpy as np

from fem.arrays import Floats
from fem.errors import NotConverged, TooHot
from fem.heat.lumps import Lumps
from fem.heat.network import CEILING

_ITERATIONS = 60
WIDEST = 150.0
"""Longest step of Newton's method [K]."""


def check_ways_out(lumps: Lumps) -> None:
    """Refuse networks some part of which can never lose its heat."""
    slopes = lumps.cooling(lumps.at_ambient() + 10.0)[1]
    least = np.linalg.eigvalsh(_conducting(lumps, slopes))[..., 0]
    bad = least <= 1e-12 * np.abs(lumps.laplacian).max(axis=(-1, -2), initial=1.0)
    if bad.any():
        msg = f"some node has no surface and no link to one: least conductance {float(np.min(least)):.3g} W/K"
        raise ValueError(msg)


def _conducting(lumps: Lumps, slopes: Floats) -> Floats:
    """Return the matrix of the links with slopes (..., nodes) on its diagonal, (..., nodes, nodes) [W/K]."""
    return np.asarray(lumps.laplacian + slopes[..., None] * np.eye(slopes.shape[-1]))


def settle(lumps: Lumps, flow: Floats) -> tuple[Floats, dict[int, TooHot]]:
    """Find the temperatures at which a state of each member settles, (m, nodes) [K], and which settle beyond the data.

    Parameters
    ----------
    lumps
        With a leading axis; every node must have a way for its heat to leave.
    flow
        (3, m, 1), or of all (3, 1, 1), as `Phase.flow`.

    Raises
    ------
    NotConverged
        If Newton's method fails.
    ValueError
        If a node has no way for its heat to leave.

    Notes
    -----
    P(T) - Q(T) - L T = 0 in the symbols of `Network`, by Newton's method with steps of 150 K at most; where
    L + Q' - P' is not positive definite, resistance rising faster than cooling, L + Q' takes its place.
    """
    check_ways_out(lumps)
    flow = np.broadcast_to(flow, (3, lumps.members, 1))
    found = lumps.at_ambient()
    beyond: dict[int, TooHot] = {}
    on = np.arange(len(found))
    worst = np.full(len(found), inf)
    for _ in range(_ITERATIONS):
        some, now = lumps.take(on), found[on]
        made, made_slope = some.losses(flow[:, on], now)
        lost, lost_slope = some.cooling(now)
        tangent = _conducting(some, lost_slope - made_slope)
        rising = np.linalg.eigvalsh(tangent)[:, 0] <= 0
        tangent = np.where(rising[:, None, None], _conducting(some, lost_slope), tangent)
        step = np.linalg.solve(tangent, (made - lost - some.through(now))[..., None])[..., 0]
        worst[on] = np.abs(step).max(axis=-1)
        found[on] = now + step * np.minimum(1.0, WIDEST / np.maximum(worst[on], 1e-30))[:, None]
        on = on[(worst[on] >= 1e-9 * CEILING) & (found[on].max(axis=-1) <= 2 * CEILING)]
        if not on.size:
            break
    for member in np.flatnonzero((worst >= 1e-9 * CEILING) & (found.max(axis=-1) > CEILING)).tolist():
        beyond[member] = TooHot(lumps.parts[int(np.argmax(found[member]))], CEILING, None, found[member])
    astray = [member for member in on.tolist() if member not in beyond]
    if astray:
        what, tried = "steady temperatures", f"{_ITERATIONS} Newton steps"
        raise NotConverged(what, residual=float(worst[astray].max()) / CEILING, tolerance=1e-9, tried=tried)
    return found, beyond
