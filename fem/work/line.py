"""The current that the transformer drives through a resistance, tabulated: a transient asks for it very often."""

from bisect import bisect_right
from dataclasses import dataclass, field
from math import sqrt
from typing import Protocol

import numpy as np

from fem.arrays import Floats, not_negative, positive, rising
from fem.cubics import Cubics
from fem.errors import OutOfRange


class Source(Protocol):
    """What drives a current through the work."""

    def at(self, resistance: float, time: float = 0.0) -> tuple[float, float]:
        """Return the current [A] and its slope [A/ohm] at a resistance [ohm] and a time of the burst [s]."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class LoadLine:
    """Interpolate the r.m.s. current against the resistance between the lead ends.

    Parameters
    ----------
    resistance
        (n,) [ohm], rising from 0 or above, at least 4 points.
    current
        (n,) r.m.s. [A], > 0.

    Raises
    ------
    ValueError
        If the arrays differ in length, resistance does not rise or a current is not above 0.

    Notes
    -----
    A linear network of e.m.f. E and impedance Rs + j X drives I(R), 1/I^2 = ((R + Rs)^2 + X^2)/E^2, a quadratic: 1/I^2
    is interpolated by a cubic spline, which is left with the bend of the magnetising branch only.
    """

    resistance: Floats
    current: Floats
    _nodes: list[float] = field(init=False, repr=False)
    _cubics: list[list[float]] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        """Check the points and prepare the cubics."""
        resistance = rising("resistance", self.resistance, least=4)
        not_negative(resistance=float(resistance[0]))
        current = np.array(self.current, dtype=np.float64)
        if resistance.shape != current.shape:
            msg = f"{resistance.size} resistances need as many currents, got shape {current.shape}"
            raise ValueError(msg)
        positive(current=float(current.min()))
        current.setflags(write=False)
        object.__setattr__(self, "resistance", resistance)
        object.__setattr__(self, "current", current)
        object.__setattr__(self, "_nodes", resistance.tolist())
        object.__setattr__(self, "_cubics", Cubics.smooth(resistance, current**-2.0).c.T.tolist())

    def at(self, resistance: float, time: float = 0.0) -> tuple[float, float]:
        """Return the current [A] and its slope [A/ohm] at a resistance [ohm], the same at every time.

        Raises
        ------
        OutOfRange
            If the resistance lies outside the table.
        """
        del time
        nodes = self._nodes
        if not nodes[0] <= resistance <= nodes[-1]:
            msg = f"load resistance {resistance:g} ohm lies outside {nodes[0]:g} to {nodes[-1]:g} ohm of the load line"
            raise OutOfRange(msg)
        piece = min(bisect_right(nodes, resistance) - 1, len(nodes) - 2)
        a, b, c, d = self._cubics[piece]
        x = resistance - nodes[piece]
        inverse_square = ((a * x + b) * x + c) * x + d
        current = 1 / sqrt(inverse_square)
        return current, -0.5 * current**3 * ((3 * a * x + 2 * b) * x + c)
