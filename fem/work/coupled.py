"""The linear equations of a stage: a matrix for each path, tied where paths share the jaws and the current."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.work.bordered import Matrix
from fem.work.state import State


class Coupled:
    """1 - weight times the derivatives of the rates of all paths, jaws and currents tied.

    Parameters
    ----------
    states, faces, parts
        Of each path: its state, the faces of its spots, its place among all unknowns.
    weight
        Of the rates [s].

    Notes
    -----
    Path k alone has M_k dy_k = r_k + b_k di_k + E q_k: b_k what its current does, q_k what the other paths bring to
    either jaw, E the jaws' unit vectors. What path l itself brings is dT_l - r_jaw - q_l, and

        q_k = sum over l not k of (dT_l - r_jaw - q_l),
        di_k - sum over l of di_k/dR_l (dR_l/dy_l dy_l + dR_l/di_l di_l) = what current k lacks:

    three equations a path, solved last; one for a path alone.
    """

    def __init__(
        self, states: Sequence[State], weight: float, faces: Sequence[NDArray[np.int64]], parts: Sequence[slice]
    ) -> None:
        self.states, self.weight, self.parts = states, weight, parts
        self.blocks = [Matrix(state, weight, own) for state, own in zip(states, faces, strict=True)]

    def solve(self, right: Floats, lacking: Floats, slopes: Floats) -> tuple[Floats, Floats]:
        """Return the changes of the unknowns (n,) and of the currents (paths,).

        Parameters
        ----------
        right
            (n,) what the unknowns lack, alike at the jaws of all paths.
        lacking
            (paths,) what the currents lack [A].
        slopes
            (paths, paths) of each current to each resistance [A/ohm]; with zeros the currents change by `lacking`.
        """
        if len(self.blocks) == 1:
            found, by = self._solved(0, right)
            current = (lacking[0] + slopes[0, 0] * by[0]) / (1 - slopes[0, 0] * by[1])
            return found[:, 0] + found[:, 1] * current, np.array([current])
        return self._tied(right, lacking, slopes)

    def _tied(self, right: Floats, lacking: Floats, slopes: Floats) -> tuple[Floats, Floats]:
        count = len(self.blocks)
        system, known = np.eye(3 * count), np.zeros(3 * count)
        known[::3] = lacking
        solved = []
        for place, part in enumerate(self.parts):
            found, by = self._solved(place, right[part])
            solved.append(found)
            own = slice(3 * place, 3 * place + 3)
            system[::3, own] -= np.outer(slopes[:, place], by[1:])
            known[::3] += slopes[:, place] * by[0]
            ends = [0, self.states[place].temperature.size - 1]
            for other in range(count):
                if other != place:
                    rows = slice(3 * other + 1, 3 * other + 3)
                    system[rows, own] = np.eye(2, 3, 1) - found[ends, 1:]
                    known[rows] += found[ends, 0] - right[part][ends]
        tied = np.linalg.solve(system, known).reshape(count, 3)
        steps = [found[:, 0] + found[:, 1:] @ ties for found, ties in zip(solved, tied, strict=True)]
        return np.concatenate(steps), np.ascontiguousarray(tied[:, 0])

    def _solved(self, place: int, right: Floats) -> tuple[Floats, Floats]:
        """Return a path's changes for what it lacks, by its current and, where it is tied, by the jaws.

        And what each makes of its resistance, its current's own part included.
        """
        state, tied = self.states[place], len(self.states) > 1
        columns = np.zeros((right.size, 4 if tied else 2), order="F")
        nodes = state.temperature.size
        columns[:, 0] = right
        columns[:nodes, 1], columns[nodes:, 1] = state.rate_by_current, state.spots.to[:, 3]
        columns[:, 1] *= self.weight
        if tied:
            columns[0, 2] = columns[nodes - 1, 3] = 1.0
        found = self.blocks[place].solve(columns)
        by = state.resistance_by_unknown @ found[:nodes] + state.spots.of_resistance @ found[nodes:]
        by[1] += state.resistance_by_current
        return found, by
