"""The matrix of the march: tridiagonal in the nodes, a row and a column more for the spot of each contact of metals."""

from math import nan

import numpy as np
from cvxopt import matrix
from cvxopt.lapack import gtsv

from fem.arrays import Floats, Integers
from fem.work.contacts import AtSpots
from fem.work.state import SpotSlopes, State


def with_spots(
    at: AtSpots,
    faces: Integers,
    square: Floats,
    per: Floats,
    rise: Floats,
    bend: Floats,
    bands: tuple[Floats, Floats, Floats, Floats],
) -> SpotSlopes:
    """Add to the nodes' derivatives what spots make of them; return the derivatives of and to the superheats.

    Parameters
    ----------
    at
        What the s spots of each of m members are.
    faces
        (s,) where each lies.
    square
        (m,) of the current [A^2].
    per
        (m, nodes) rate of a node by the power into it.
    rise
        (m, nodes) temperature to the unknown.
    bend
        (m, faces) heat through each over its thermal resistance [W^2/K].
    bands
        (m, nodes) rates of the nodes to the node before, to itself, to the next, and the resistance to the nodes: added
        to.
    """
    lower, diagonal, upper, resistance = bands
    f, g = faces, faces + 1
    # What temperatures on either side and superheat make of the heat that goes either way, (3, m, s) each.
    led = bend[:, f] * at.conducts
    scale = np.ones((4, *led.shape[1:]))
    scale[0], scale[1] = rise[:, f], rise[:, g]
    square = square[:, None]
    one, other = (square * at.left - led) * scale[:3], (square * at.right + led) * scale[:3]
    ohms = (at.left + at.right) * scale[:3]
    before, after = per[:, f], per[:, g]
    diagonal[:, f] += before * one[0]
    upper[:, f] += before * one[1]
    lower[:, g] += after * other[0]
    diagonal[:, g] += after * other[1]
    resistance[:, f] += ohms[0]
    resistance[:, g] += ohms[1]
    return SpotSlopes(of_left=before * one[2], of_right=after * other[2], to=at.rate_by * scale, of_resistance=ohms[2])


class Matrix:
    """1 - weight times the derivatives of the rates: tridiagonal in the nodes, a row and a column for each spot.

    Members are solved in one elimination, the last node of one and the first of the next uncoupled: what the one gets
    does not hang on the others.

    Parameters
    ----------
    state
        Of m members.
    weight
        (m,) [s].
    faces
        (s,) where each spot lies.
    """

    def __init__(self, state: State, weight: Floats, faces: Integers) -> None:
        weight = weight[:, None]
        lower, diagonal, upper = -weight * state.lower, 1 - weight * state.diagonal, -weight * state.upper
        self.faces, spots = faces, state.spots
        if faces.size:
            f, g = faces, faces + 1
            self.own = 1 / (1 - weight * spots.to[2])
            self.from_left, self.from_right = weight * spots.to[0] * self.own, weight * spots.to[1] * self.own
            self.to_left, self.to_right = weight * spots.of_left, weight * spots.of_right
            diagonal[:, f] -= self.to_left * self.from_left
            upper[:, f] -= self.to_left * self.from_right
            lower[:, g] -= self.to_right * self.from_left
            diagonal[:, g] -= self.to_right * self.from_right
        self.bands = lower, diagonal, upper

    def solve(self, right: Floats) -> Floats:
        """Return the solution of as many right-hand sides, (k, m, n) each; not a number for a member without one."""
        nodes = self.bands[1].shape[1]
        if not self.faces.size:
            return _tridiagonal(self.bands, right)
        outer, own = right[..., :nodes].copy(), self.own * right[..., nodes:]
        outer[..., self.faces] += self.to_left * own
        outer[..., self.faces + 1] += self.to_right * own
        outer = _tridiagonal(self.bands, outer)
        own += self.from_left * outer[..., self.faces] + self.from_right * outer[..., self.faces + 1]
        return np.concatenate([outer, own], axis=-1)


def _tridiagonal(bands: tuple[Floats, Floats, Floats], right: Floats) -> Floats:
    """Solve with tridiagonal matrices (m, n), one after the other; not a number where one is singular or not finite."""
    lower, diagonal, upper = bands
    sound = np.isfinite(diagonal.sum(axis=1) + right.sum(axis=(0, 2)))
    if not sound.all():
        # what a member comes to must not reach the others
        lower, diagonal, upper = (
            np.where(sound[:, None], band, alone) for band, alone in zip(bands, (0.0, 1.0, 0.0), strict=True)
        )
        right = np.where(sound[:, None], right, 0.0)
    k, m, n = right.shape
    solution = matrix(right.reshape(k, m * n).T)
    try:
        gtsv(matrix(lower.ravel()[1:]), matrix(diagonal.ravel()), matrix(upper.ravel()[:-1]), solution)
    except ArithmeticError:
        if m == 1:
            return np.full_like(right, nan)
        a, b, c = bands
        alone = [_tridiagonal((a[[row]], b[[row]], c[[row]]), right[:, [row]]) for row in range(m)]
        return np.concatenate(alone, axis=1)
    found: Floats = np.asarray(solution).T.reshape(k, m, n)
    if not sound.all():
        found = np.where(sound[:, None], found, nan)
    return found
