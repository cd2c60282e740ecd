"""The linear equations of a stage: a matrix for each path of each member, tied where paths share jaws and current."""

from collections.abc import Sequence

import numpy as np

from fem.arrays import Floats, Integers
from fem.work.bordered import Matrix
from fem.work.state import State


class Coupled:
    """1 - weight times the derivatives of the rates of all paths, jaws and currents tied.

    Parameters
    ----------
    states, faces, parts
        Of each path: its state, the faces of its spots, its place among all unknowns.
    weight
        (m,) of the rates [s].

    Notes
    -----
    Path k alone has M_k dy_k = r_k + b_k di_k + E q_k: b_k what its current does, q_k what the other paths bring to
    either jaw, E the jaws' unit vectors. What path l itself brings is dT_l - r_jaw - q_l, and

        q_k = sum over l not k of (dT_l - r_jaw - q_l),
        di_k - sum over l of di_k/dR_l (dR_l/dy_l dy_l + dR_l/di_l di_l) = what current k lacks:

    three equations a path, solved last; one for a path alone.
    """

    def __init__(
        self, states: Sequence[State], weight: Floats, faces: Sequence[Integers], parts: Sequence[slice]
    ) -> None:
        self.states, self.weight, self.parts = states, weight, parts
        self.blocks = [Matrix(state, weight, own) for state, own in zip(states, faces, strict=True)]

    def solve(self, right: Floats, lacking: Floats, slopes: Floats, raw: Floats) -> tuple[Floats, Floats, Floats]:
        """Return the changes of the unknowns (m, n) and of the currents (m, paths), and what another right side gives.

        Parameters
        ----------
        right
            (m, n) what the unknowns lack, alike at the jaws of all paths.
        lacking
            (m, paths) what the currents lack [A].
        slopes
            (m, paths, paths) of each current to each resistance [A/ohm].
        raw
            (m, n) other right side, alike at the jaws of all paths, with currents that stay.
        """
        if len(self.blocks) == 1:
            found, by = self._solved(0, right, raw)
            slope = slopes[:, 0, 0]
            current = (lacking[:, 0] + slope * by[0]) / (1 - slope * by[2])
            return found[0] + found[2] * current[:, None], current[:, None], found[1]
        return self._tied(right, lacking, slopes, raw)

    def _tied(self, right: Floats, lacking: Floats, slopes: Floats, raw: Floats) -> tuple[Floats, Floats, Floats]:
        m, count = lacking.shape
        system, known = np.tile(np.eye(3 * count), (m, 1, 1)), np.zeros((m, 3 * count, 2))
        known[:, ::3, 0] = lacking
        solved = []
        for place, part in enumerate(self.parts):
            sides = np.stack([right[:, part], raw[:, part]])
            found, by = self._solved(place, *sides)
            solved.append(found)
            own = slice(3 * place, 3 * place + 3)
            system[:, ::3, own] -= slopes[:, :, place, None] * by[2:].T[:, None, :]
            known[:, ::3, 0] += slopes[:, :, place] * by[0][:, None]
            ends = [0, self.states[place].temperature.shape[1] - 1]
            for other in range(count):
                if other != place:
                    rows = slice(3 * other + 1, 3 * other + 3)
                    system[:, rows, own] = np.eye(2, 3, 1) - found[2:][..., ends].transpose(1, 2, 0)
                    known[:, rows] += (found[:2][..., ends] - sides[..., ends]).transpose(1, 2, 0)
        # the other right side leaves the currents as they are
        alone = system.copy()
        alone[:, ::3] = np.eye(3 * count)[::3]
        ties = [_solve(one, known[..., k]).reshape(m, count, 3, 1) for k, one in enumerate((system, alone))]
        steps = [
            [
                found[k] + (found[2:] * tied[:, place].transpose(1, 0, 2)).sum(axis=0)
                for place, found in enumerate(solved)
            ]
            for k, tied in enumerate(ties)
        ]
        first, second = (np.concatenate(step, axis=1) for step in steps)
        return first, ties[0][:, :, 0, 0], second

    def _solved(self, place: int, right: Floats, raw: Floats) -> tuple[Floats, Floats]:
        """Return a path's changes for both right sides, by its current and, where it is tied, by the jaws, (k, m, n).

        And what each makes of its resistance, its current's own part included, (k, m).
        """
        state, tied = self.states[place], len(self.states) > 1
        columns = np.zeros((5 if tied else 3, *right.shape))
        nodes = state.temperature.shape[1]
        columns[0], columns[1] = right, raw
        columns[2, :, :nodes], columns[2, :, nodes:] = state.rate_by_current, state.spots.to[3]
        columns[2] *= self.weight[:, None]
        if tied:
            columns[3, :, 0] = columns[4, :, nodes - 1] = 1.0
        found = self.blocks[place].solve(columns)
        by = (state.resistance_by_unknown * found[..., :nodes]).sum(axis=-1)
        by += (state.spots.of_resistance * found[..., nodes:]).sum(axis=-1)
        by[2] += state.resistance_by_current
        return found, by


def _solve(systems: Floats, known: Floats) -> Floats:
    """Return the solutions of small systems, (m, n, n) and (m, n); not a number where one is singular."""
    sound = np.flatnonzero(np.isfinite(systems).all(axis=(1, 2)) & np.isfinite(known).all(axis=1))
    sound = sound[np.linalg.det(systems[sound]) != 0]
    found = np.full_like(known, np.nan)
    found[sound] = np.linalg.solve(systems[sound], known[sound][..., None])[..., 0]
    return found
