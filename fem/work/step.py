"""March work pieces through time side by side, the current solved along with the heat."""

from __future__ import annotations

from collections.abc import Sequence
from math import inf, sqrt

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats, Integers
from fem.work import course
from fem.work.coupled import Coupled
from fem.work.course import Course, Failed, Log, Plan
from fem.work.line import Lines
from fem.work.paths import Joined, Paths
from fem.work.rows import Rowwise

_GAMMA = 2 - sqrt(2)
_D = _GAMMA / 2
_W = sqrt(2) / 4
_ERROR_WEIGHTS = ((4 * _W - 1) / 3, -1 / 3, 2 * _D / 3)
_NEWTON_STEPS = 12
_GREATEST_RISE = 20.0
_COARSE = 0.1
_LOOK, _CURRENT, _MIDDLE, _END = range(4)


class March(Rowwise):
    """A block of m work pieces that are followed side by side, each in steps of its own.

    Parameters
    ----------
    paths
        The work pieces as finite volumes.
    lines
        What drives the currents.
    start
        (m, n) unknowns.
    plans
        (m,).
    sources
        (m,) which of the lines drives each.

    Notes
    -----
    dy/dt = f(y, i) beside the algebraic i = I(R(y, i)), the load line at the piece's resistance (of two paths both
    currents, `Paths.drawn`), by the trapezoidal rule and the two-step backward difference after it,
    gamma = 2 - sqrt(2), d = gamma/2, w = sqrt(2)/4:

        y_g = y_n + d h (f_n + f_g),     y_(n+1) = y_n + h (w f_n + w f_g + d f_(n+1)).

    Second order, and stiff parts die out at once (L-stable): R. E. Bank et al., IEEE Trans. Electron Devices 32 (1985)
    1992. The error is the difference to the third-order formula of the same stages,
    h ((4 w - 1)/3 f_n - f_g/3 + 2 d/3 f_(n+1)), divided by 1 - d h df/dy: M. E. Hosea and L. F. Shampine, Appl. Numer.
    Math. 20 (1996) 21. The next step is 0.9 h (tolerance/error)^(1/3), at most 3 h and 20 K.

    Each stage is Newton's method on (y, i) together,

        | 1 - d h df/dy      -d h df/di   | |dy|   | known + d h f - y |
        | -I' dR/dy          1 - I' dR/di | |di| = | I(R) - i          |,

    whose first block is tridiagonal once the superheats of the spots, which their neighbours alone feel, are gone: two
    right-hand sides, then i eliminated last; a third is the error's, with f_(n+1) as it was before the correction. How
    far spots have grown is taken over with each accepted step. Energies are summed with the weights of y_(n+1), and the
    unknown is enthalpy: the balance closes as far as Newton's method does, at melting too.

    In a round each member does one step of Newton's method of its own stage: one evaluation, one elimination for all.
    With a weight of nothing such a step finds the currents of a start. What is over leaves the block.
    """

    # fmt: off
    ROWS = (
        "paths", "ids", "sources", "exact", "time", "end", "h", "longest", "tolerance", "span", "on", "tries",
        "fastest", "y", "rate", "currents", "grown", "powers", "energies", "first", "stage", "attempt",
        "known", "z", "amperes", "weight", "at_time", "last", "rate_2", "powers_2",
    )
    # fmt: on

    def __init__(
        self, paths: Paths, lines: Lines, start: Floats, plans: Sequence[Plan], sources: Sequence[int]
    ) -> None:
        self.paths, self.lines, self.plans = paths, lines, list(plans)
        self.sources = np.array(sources)
        m, count = len(plans), len(paths.parts)
        self.ids = np.arange(m)
        self.time, self.h, self.fastest = np.zeros((3, m))
        self.end = np.array([plan.on for plan in plans])
        self.span, self.longest = self.end.copy(), np.array([plan.longest for plan in plans])
        self.tolerance = np.array([plan.tolerance for plan in plans])
        self.exact = (self.tolerance < _COARSE) & (paths.spot_count > 0)
        self.on, self.last = np.ones(m, dtype=bool), np.zeros(m, dtype=bool)
        self.y, self.first = start.copy(), start
        self.rate, self.rate_2 = np.zeros((2, *start.shape))
        self.currents, self.amperes = np.zeros((2, m, count))
        self.grown = np.ones((m, paths.spot_count))
        self.powers, self.powers_2, self.energies = np.zeros((3, m, count, 6))
        self.known, self.z = start.copy(), start.copy()
        self.at_time, self.weight = np.zeros((2, m))
        self.stage, self.attempt, self.tries = np.zeros((3, m), dtype=np.int64)
        self.log = Log(paths)
        self.watched = any(plan.until[0] < inf for plan in plans)
        self.ended: list[Course | Failed | None] = [None] * m
        self._begin(self.ids)

    def run(self) -> list[Course | Failed]:
        """Return the course of each member, or what it failed by."""
        while self.ids.size:
            self._round()
        return self.log.told([one for one in self.ended if one is not None])

    def _round(self) -> None:
        """Do one step of Newton's method for each member."""
        state = self.paths.evaluate(self.z, self.amperes, self.grown)
        current, slope, fits = self._driven(state.resistance)
        self.drawn = current
        drawn, slopes = self.paths.drawn(state, current, slope)
        weight, (a, b, c) = self.weight[:, None], _ERROR_WEIGHTS
        raw = self.h[:, None] * (a * self.rate + b * self.rate_2) + c / _D * (self.z - self.known)
        matrix = Coupled(state.paths, self.weight, self.paths.faces, self.paths.parts)
        # Every node feels the current and every node moves it: eliminated last.
        step, change, error = matrix.solve(self.known + weight * state.rate - self.z, drawn - self.amperes, slopes, raw)
        before, self.z, self.amperes = self.amperes, self.z + step, self.amperes + change
        self.attempt += 1
        leaving = ~fits
        for row in np.flatnonzero(leaving).tolist():
            self.ended[self.ids[row]] = self.lines.outside(int(self.sources[row]), float(state.resistance[row]))
        if not (newton := self.stage >= _MIDDLE).all():
            leaving |= self._started(state, drawn, before, np.abs(change) <= 1e-10 * np.abs(before), ~leaving)
        moved = np.abs(step * self.paths.kelvin).max(axis=1)
        newton &= ~leaving & (self.stage >= _MIDDLE)
        bad = ~(moved < 1e6) | (self.amperes < 0).any(axis=1)
        # Energies are those of the state before this correction: a guess, and a spot that has only just met its new
        # neighbours, would leave a part of them unaccounted for. Where steps are coarse nobody looks for it.
        settled = self.attempt > 1 + self.exact
        close = (np.abs(change) <= 1e-6 * np.abs(self.amperes)).all(axis=1)
        done = newton & ~bad & settled & (moved < 0.01 * self.tolerance) & close
        failed = np.flatnonzero(newton & ~done & (bad | (self.attempt >= _NEWTON_STEPS)))
        if failed.size:
            self.h[failed] *= 0.25
            leaving |= self._begin_step(failed)
        if done.any():
            middle, end = np.flatnonzero(done & (self.stage == _MIDDLE)), np.flatnonzero(done & (self.stage == _END))
            if middle.size:
                self._second_half(middle, state)
            if end.size:
                leaving |= self._judged(end, np.abs(error[end] * self.paths.kelvin[end]).max(axis=1), state)
        if leaving.any():
            kept = self.take(np.flatnonzero(~leaving))
            self.__dict__.update(kept.__dict__)

    def _driven(self, resistance: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        current, slope, fits = self.lines.at(self.sources, resistance, self.at_time)
        return np.where(self.on, current, 0.0), np.where(self.on, slope, 0.0), fits | ~self.on

    def _begin(self, rows: Integers) -> None:
        """Let some begin at their unknowns: the currents have to be found first."""
        # A drop that carbon keeps, and cold steel in a weak field, are a large resistance to a small current, which may
        # be a state too, or lead astray: begin from a large one.
        self.at_time[rows] = self.time[rows]
        largest, _, fits = self._driven(np.zeros(self.ids.size))
        self.amperes[rows] = np.where(fits, largest, 0.0)[rows, None]
        self.stage[rows], self.attempt[rows], self.weight[rows], self.tries[rows] = _LOOK, 0, 0.0, 0
        self.known[rows] = self.z[rows] = self.y[rows]
        self.h[rows] = 0.0
        self.rate_2[rows] = self.rate[rows]

    def _started(
        self, state: Joined, drawn: Floats, before: Floats, close: NDArray[np.bool_], here: NDArray[np.bool_]
    ) -> NDArray[np.bool_]:
        """Go on with those that seek the currents of their start."""
        leaving = np.zeros(self.ids.size, dtype=bool)
        look, seek = here & (self.stage == _LOOK), here & (self.stage == _CURRENT)
        self.amperes[look] = drawn[look]
        found = np.flatnonzero(seek & close.all(axis=1))
        self.stage[look] = _CURRENT
        for row in np.flatnonzero(seek & ~close.all(axis=1) & (self.attempt > course.FIRST_STEPS)).tolist():
            self.ended[self.ids[row]] = course.no_start(self.amperes[row] / before[row] - 1)
            leaving[row] = True
        if found.size:
            self.z[found], self.amperes[found] = self.y[found], before[found]
            self.rate[found], self.powers[found] = state.rate[found], self.paths.powers(state)[found]
            leaving |= self._taken(found, state, first=True)
        return leaving

    def _begin_step(self, rows: Integers) -> NDArray[np.bool_]:
        """Begin a step from where some are."""
        leaving = np.zeros(self.ids.size, dtype=bool)
        time, wanted = self.time[rows], self.h[rows]
        self.tries[rows] += 1
        stuck = (wanted < course.SMALLEST * np.maximum(time, 1e-3)) | (self.tries[rows] > course.MOST_STEPS)
        for row in rows[stuck].tolist():
            self.ended[self.ids[row]] = course.stuck(float(self.time[row]), float(self.h[row]))
            leaving[row] = True
        # However straight the course, points are wanted along it, and a corner must not hide between two.
        h = np.minimum(np.minimum(wanted, _GREATEST_RISE / np.maximum(self.fastest[rows], 1e-300)), self.span[rows])
        h = np.minimum(h, self.longest[rows])
        end = self.end[rows]
        last = time + h >= end * (1 - 1e-14)
        h = np.where(last, end - time, h)
        y, rate, wide = self.y[rows], self.rate[rows], h[:, None]
        self.h[rows], self.last[rows], self.weight[rows] = h, last, _D * h
        self.at_time[rows] = time + _GAMMA * h
        self.known[rows], self.z[rows] = y + _D * wide * rate, y + _GAMMA * wide * rate
        self.amperes[rows] = self.currents[rows]
        self.stage[rows], self.attempt[rows] = _MIDDLE, 0
        return leaving

    def _second_half(self, rows: Integers, state: Joined) -> None:
        """Go on from the first stage to the second."""
        h, rate = self.h[rows, None], self.rate[rows]
        second = (self.z[rows] - self.known[rows]) / self.weight[rows, None]
        self.rate_2[rows], self.powers_2[rows] = second, self.paths.powers(state)[rows]
        known = self.y[rows] + _W * h * (rate + second)
        self.known[rows], self.z[rows] = known, known + _D * h * (rate + (second - rate) / _GAMMA)
        self.at_time[rows] = self.time[rows] + self.h[rows]
        self.stage[rows], self.attempt[rows] = _END, 0

    def _judged(self, rows: Integers, error: Floats, state: Joined) -> NDArray[np.bool_]:
        """Accept a step or take it again, by its error [K]."""
        leaving = np.zeros(self.ids.size, dtype=bool)
        factor = 0.9 * (self.tolerance[rows] / np.maximum(error, 1e-30)) ** (1 / 3)
        good = error <= self.tolerance[rows]
        if (again := rows[~good]).size:
            self.h[again] *= np.maximum(0.2, factor[~good])
            leaving |= self._begin_step(again)
        if (taken := rows[good]).size:
            h = self.h[taken, None, None]
            powers = self.paths.powers(state)[taken]
            self.energies[taken] += h * (_W * self.powers[taken] + _W * self.powers_2[taken] + _D * powers)
            self.powers[taken], self.y[taken] = powers, self.z[taken]
            self.rate[taken] = (self.z[taken] - self.known[taken]) / self.weight[taken, None]
            self.grown[taken] = np.maximum(self.grown[taken], state.growth[taken])
            self.time[taken] = np.where(self.last[taken], self.end[taken], self.time[taken] + self.h[taken])
            self.h[taken] *= np.minimum(3.0, factor[good])
            leaving |= self._taken(taken, state)
        return leaving

    def _taken(self, rows: Integers, state: Joined, *, first: bool = False) -> NDArray[np.bool_]:
        """Take over instants of some, and see which of them go on."""
        leaving = np.zeros(self.ids.size, dtype=bool)
        self.currents[rows] = self.amperes[rows]
        self.fastest[rows] = np.abs(self.rate[rows] * self.paths.kelvin[rows]).max(axis=1)
        if first:
            begun = self.fastest[rows]
            self.h[rows] = np.where(begun > 0, 0.5 / np.maximum(begun, 1e-300), self.span[rows])
        hottest = self.paths.hottest(self.y)
        whole = self.time, self.paths.whole(self.currents, state), state.resistance, state.impedance
        self.log.take(self.ids[rows], rows, whole, self.currents, hottest, state)
        leaving |= self._fail_beyond(rows, hottest)
        followed = rows[self.on[rows] & ~leaving[rows]]
        if followed.size:
            self.lines.follow(
                self.sources[followed], self.time[followed], state.resistance[followed], self.drawn[followed]
            )
        melted = self.paths.melt_progress(hottest) >= 1
        warm = self.paths.work_temperature(state) if self.watched else self.time
        going = []
        for row in rows[~leaving[rows]].tolist():
            plan, time = self.plans[int(self.ids[row])], float(self.time[row])
            quiet = plan.settles and time > 0 and time * self.fastest[row] < course.SETTLED
            enough = self.on[row] and time > plan.until[0] and warm[row] > plan.until[1]
            if not (melted[row] or quiet or enough or time >= self.end[row]):
                going.append(row)
            elif self.on[row] and time >= plan.on and plan.on < plan.duration:
                self._switch_off(row, plan)
            elif plan.settles and not (melted[row] or quiet):
                self.ended[self.ids[row]] = course.unsettled(float(self.fastest[row]) * time, time)
                leaving[row] = True
            else:
                self.ended[self.ids[row]] = Course(
                    energies=self.energies[row].copy(),
                    gained=self.y[row] - self.first[row],
                    melted=bool(melted[row]),
                    settled=quiet,
                )
                leaving[row] = True
        if going:
            leaving |= self._begin_step(np.array(going))
        return leaving

    def _switch_off(self, row: int, plan: Plan) -> None:
        """Let one go on without current."""
        self.on[row], self.longest[row] = False, inf
        self.span[row] = plan.duration - plan.on
        self.time[row], self.end[row] = plan.on, plan.on + self.span[row]
        self._begin(np.array([row]))

    def _fail_beyond(self, rows: Integers, hottest: Sequence[Floats]) -> NDArray[np.bool_]:
        """Let go those beyond a material's table: only what does not melt first gets there."""
        leaving = np.zeros(self.ids.size, dtype=bool)
        for system, one in zip(self.paths.systems, hottest, strict=True):
            beyond = system.beyond(one)
            if not beyond.any():
                continue
            for row in rows[beyond[rows].any(axis=1) & ~leaving[rows]].tolist():
                bar = system.pieces[row].bars[int(beyond[row].argmax())]
                self.ended[self.ids[row]] = course.past_table(bar, float(self.time[row]))
                leaving[row] = True
        return leaving
