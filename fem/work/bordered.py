"""The matrix of the march: tridiagonal in the nodes, a row and a column more for the spot of each contact of metals."""

import numpy as np
from cvxopt import matrix
from cvxopt.lapack import gtsv
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.work.contacts import AtSpots
from fem.work.state import SpotSlopes, State


def with_spots(
    at: AtSpots,
    faces: NDArray[np.int64],
    square: float,
    per: Floats,
    rise: Floats,
    bend: Floats,
    bands: tuple[Floats, Floats, Floats, Floats],
) -> SpotSlopes:
    """Add to the nodes' derivatives what spots make of them; return the derivatives of and to the superheats.

    Parameters
    ----------
    at
        What the s spots are.
    faces
        (s,) where each lies.
    square
        Of the current [A^2].
    per
        (nodes,) rate of a node by the power into it.
    rise
        (nodes,) temperature to the unknown.
    bend
        (faces,) heat through each over its thermal resistance [W^2/K].
    bands
        Rates of the nodes to the node before, to itself, to the next, and the resistance to the nodes: added to.
    """
    lower, diagonal, upper, resistance = bands
    f = faces
    # What temperatures on either side and superheat make of the heat that goes either way, (s, 3) each.
    led = bend[f, None] * at.conducts
    scale = np.ones((f.size, 4))
    scale[:, 0], scale[:, 1] = rise[f], rise[f + 1]
    one, other = (square * at.left - led) * scale[:, :3], (square * at.right + led) * scale[:, :3]
    ohms = (at.left + at.right) * scale[:, :3]
    diagonal[f] += per[f] * one[:, 0]
    upper[f] += per[f] * one[:, 1]
    lower[f] += per[f + 1] * other[:, 0]
    diagonal[f + 1] += per[f + 1] * other[:, 1]
    resistance[f] += ohms[:, 0]
    resistance[f + 1] += ohms[:, 1]
    return SpotSlopes(
        of_left=per[f] * one[:, 2], of_right=per[f + 1] * other[:, 2], to=at.rate_by * scale, of_resistance=ohms[:, 2]
    )


class Matrix:
    """1 - weight times the derivatives of the rates: tridiagonal in the nodes, a row and a column for each spot."""

    def __init__(self, state: State, weight: float, faces: NDArray[np.int64]) -> None:
        lower, diagonal, upper = -weight * state.lower, 1 - weight * state.diagonal, -weight * state.upper
        self.faces, spots = faces, state.spots
        if faces.size:
            self.own = 1 / (1 - weight * spots.to[:, 2])
            self.from_left, self.from_right = weight * spots.to[:, 0] * self.own, weight * spots.to[:, 1] * self.own
            self.to_left, self.to_right = weight * spots.of_left, weight * spots.of_right
            diagonal[faces] -= self.to_left * self.from_left
            upper[faces] -= self.to_left * self.from_right
            lower[faces] -= self.to_right * self.from_left
            diagonal[faces + 1] -= self.to_right * self.from_right
        self.bands = lower, diagonal, upper

    def solve(self, right: Floats) -> Floats:
        """Return the solution, (n, k), of as many right-hand sides."""
        nodes = self.bands[1].size
        if not self.faces.size:
            return _tridiagonal(self.bands, right)
        outer, own = right[:nodes].copy(order="F"), self.own[:, None] * right[nodes:]
        outer[self.faces] += self.to_left[:, None] * own
        outer[self.faces + 1] += self.to_right[:, None] * own
        outer = _tridiagonal(self.bands, outer)
        own += self.from_left[:, None] * outer[self.faces] + self.from_right[:, None] * outer[self.faces + 1]
        return np.concatenate([outer, own])


def _tridiagonal(bands: tuple[Floats, Floats, Floats], right: Floats) -> Floats:
    """Solve with a tridiagonal matrix given below, on and above its diagonal; ArithmeticError if it is singular."""
    solution = matrix(right)
    gtsv(*map(matrix, bands), solution)
    return np.array(solution)
