"""How many cycles a cold machine takes to settle, counted in jumps."""

from dataclasses import replace

import numpy as np

from fem.arrays import Floats
from fem.heat.cycle import SteadyCycle, cycles
from fem.heat.lumps import Lumps
from fem.heat.march import TOLERANCE
from fem.heat.phases import Course

_NEAR = 1.0
"""How near the peaks must come [K]."""
_JUMPS, _LONGEST = 400, 4096


def count_cycles(lumps: Lumps, course: Course, steady: SteadyCycle, *, tolerance: float = TOLERANCE) -> int:
    """Count the cycles of one network from ambient until all peaks come within 1 K of the steady ones.

    Parameters
    ----------
    lumps, course
        A block of one.
    steady
        What it settles into.
    tolerance
        Error allowed per jump [K].

    Notes
    -----
    With M the map from the beginning of a cycle to its end, N cycles on from T are

        U = T + (1 + M' + ... + M'^(N-1)) (M(T) - T)

    and what is not straight, n = M(U) - M(T) - M' (U - T), going with the square of the way, adds
    sum_k M'^(N-1-k) n (k/N)^2: the step of `Tangent` in whole cycles, of order 3, its last term the error told. A
    longer jump follows a better one as there.
    """
    now = lumps.at_ambient()
    run = cycles(lumps, course, now, tolerance=tolerance)
    done, jump = 0, 1
    for _ in range(_JUMPS):
        short = _short(steady, run.peak)
        if short <= _NEAR:
            return done
        modes = _Modes(run.to_end[0])
        gap = (run.end - now)[0]
        while True:
            ahead = now + modes.summed(gap, jump)
            there = cycles(lumps, course, ahead, tolerance=tolerance)
            bent = (there.end - run.end)[0] - run.to_end[0] @ (ahead - now)[0]
            correction = modes.bent(bent, jump, jump)
            error = float(np.abs(correction).max())
            growth = 0.9 * (tolerance / max(error, 1e-12)) ** (1 / 3)
            if not there.beyond and error <= tolerance:
                break
            jump = max(int(jump * max(growth, 0.05)), 1)
        if _short(steady, there.peak) <= _NEAR:
            low, high = 0, jump
            low_short, high_short = short, _short(steady, there.peak)
            while high - low > 1:
                # what is short falls about as an exponential
                share = np.log(low_short / _NEAR) / np.log(low_short / max(high_short, 1e-9))
                middle = min(max(round(low + share * (high - low)), low + 1), high - 1)
                place = now + modes.summed(gap, middle) + modes.bent(bent, middle, jump)
                between = _short(steady, cycles(lumps, course, place, tolerance=tolerance).peak)
                if between <= _NEAR:
                    high, high_short = middle, between
                else:
                    low, low_short = middle, between
            return done + high
        done += jump
        now = ahead + correction
        run = replace(
            there, end=there.end + there.to_end[0] @ correction, peak=there.peak + there.to_peak[0] @ correction
        )
        jump = min(max(int(jump * min(growth, 5.0)), 1), _LONGEST)
    return done


def _short(steady: SteadyCycle, peak: Floats) -> float:
    return float((steady.peak - peak).max())


class _Modes:
    """How small changes go on from cycle to cycle, by the modes of M'."""

    def __init__(self, to_end: Floats) -> None:
        self._values, self._vectors = np.linalg.eig(to_end)
        self._inverse = np.linalg.inv(self._vectors)

    def summed(self, gap: Floats, count: int) -> Floats:
        """Return (1 + M' + ... + M'^(count - 1)) gap."""
        return self._times((1 - self._values**count) / (1 - self._values), gap)

    def bent(self, bent: Floats, count: int, jump: int) -> Floats:
        """Return the sum over k of M'^(count - 1 - k) bent (k/jump)^2."""
        k = np.arange(count)[:, None]
        return self._times((self._values ** (count - 1 - k) * (k / jump) ** 2).sum(axis=0), bent)

    def _times(self, factors: Floats, vector: Floats) -> Floats:
        return np.asarray((self._vectors @ (factors * (self._inverse @ vector))).real)
