"""Two places between which a result crosses what is wanted of it, and where to look next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fem.sweeps.axes import Point
from fem.sweeps.rows.store import Row

SERVES = 0.1
"""Of the least that is known: how near a polynomial has to come to be followed again at once."""
FAILURES = 3
"""In a row, after which polynomials are left, as where a result jumps."""
NEAREST = 4
"""Known points that a polynomial goes through."""


@dataclass(frozen=True, slots=True)
class Known:
    """How far off the target the result is at a share of the way, and how fast it goes there, if that is known."""

    share: float
    off: float
    slope: float | None


@dataclass(slots=True)
class Bracket:
    """Two shares of the way between which the result crosses the target, and what is known of it."""

    point: Point
    known: list[Known]
    low: float = field(init=False)
    high: float = field(init=False)
    at_low: float = field(init=False)
    at_high: float = field(init=False)
    moved: int = 0
    failed: int = field(init=False)
    curved: bool = field(init=False)
    halved: bool = field(init=False)
    row: Row | None = None

    def __post_init__(self) -> None:
        low, high = self.known
        self.low, self.high, self.at_low, self.at_high = low.share, high.share, low.off, high.off
        self.curved = low.slope is not None or high.slope is not None
        self.halved, self.failed = not self.curved, 0 if self.curved else FAILURES

    def next_share(self) -> float:
        """Return where a polynomial through what is known crosses, or where that did not serve a straight line.

        s = s0 + (s1 - s0) f0/(f0 - f1) for the line; the first time in its place the middle of the first two points,
        which a search without derivatives has too. All are kept off the ends.
        """
        middle = (self.known[0].share + self.known[1].share) / 2
        if not (self.curved or self.halved):
            self.halved = True
            if self.low < middle < self.high:
                return middle
        share = self.low + (self.high - self.low) * self.at_low / (self.at_low - self.at_high)
        margin = 0.01 * (self.high - self.low)
        if self.curved:
            nearest = sorted(self.known, key=lambda item: max(self.low - item.share, item.share - self.high))[:NEAREST]
            share, margin = _crossing(nearest, self.low, self.high, share), 0.01 * margin
        return min(max(share, self.low + margin), self.high - margin)

    def take(self, share: float, off: float) -> None:
        """Shrink to where the sign changes; an end that stays twice counts half on a line, so that it moves next.

        Notes
        -----
        The Illinois variant of regula falsi, of order 3^(1/3) = 1.44 at a simple root: M. Dowell, P. Jarratt, "A
        modified regula falsi method", BIT 11 (1971) 168.
        """
        serves = abs(off) < SERVES * min(abs(known.off) for known in self.known)
        if self.curved:
            self.failed = 0 if serves else self.failed + 1
        self.curved = self.failed < FAILURES and (serves or not self.curved)
        self.known.append(Known(share, off, None))
        if (off > 0) == (self.at_low > 0):
            self.low, self.at_low = share, off
            self.at_high /= 2 if self.moved < 0 and not self.curved else 1
            self.moved = -1
        else:
            self.high, self.at_high = share, off
            self.at_low /= 2 if self.moved > 0 and not self.curved else 1
            self.moved = 1


def _crossing(known: Sequence[Known], low: float, high: float, near: float) -> float:
    """Return where, between two shares, the polynomial of all values and slopes crosses: nearest to `near`, or that.

    Hermite's interpolation: with values and slopes at both ends it is off by h^4/384 of the fourth derivative at most.
    """
    first, last = (bound(item.share for item in known) for bound in (min, max))
    half = (last - first) / 2  # shares of the bracket from -1 to 1, where powers are well told apart
    t = [((item.share - first) / half - 1, item) for item in known]
    powers = np.arange(sum(1 + (item.slope is not None) for item in known))
    rows = [x**powers for x, _ in t]
    rows += [powers * x ** np.maximum(powers - 1, 0) for x, item in t if item.slope is not None]
    right = [item.off for item in known] + [half * item.slope for item in known if item.slope is not None]
    coefficients = np.linalg.solve(np.array(rows), np.array(right))[::-1]
    roots = np.roots(np.where(np.abs(coefficients) > 1e-14 * np.abs(coefficients).max(), coefficients, 0.0))
    shares = first + half * (1 + roots[np.abs(roots.imag) < 1e-9].real)
    within = shares[(shares > low) & (shares < high)]
    return float(within[np.argmin(np.abs(within - near))]) if within.size else near
