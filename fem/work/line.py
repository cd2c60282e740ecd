"""The current that the transformer drives through a resistance, tabulated: a transient asks for it very often."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fem.arrays import Floats, Integers, not_negative, positive, rising
from fem.cubics import Cubics
from fem.errors import OutOfRange


class Source(Protocol):
    """What drives a current through the work: a machine that has more resistance when it is warm."""

    @property
    def line(self) -> LoadLine:
        """Its current against the resistance beyond that of the coldest machine."""

    @property
    def course(self) -> tuple[float, float, float]:
        """From a time [s] on, how much more resistance it has [ohm], and how fast that rises [ohm/s]."""


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
    cubics: Floats = field(init=False, repr=False)

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
        object.__setattr__(self, "cubics", np.ascontiguousarray(Cubics.smooth(resistance, current**-2.0).c.T))

    @property
    def line(self) -> LoadLine:
        """Itself."""
        return self

    @property
    def course(self) -> tuple[float, float, float]:
        """Of a machine that stays as it is."""
        return 0.0, 0.0, 0.0

    def at(self, resistance: ArrayLike) -> tuple[Floats, Floats]:
        """Return the currents [A] and their slopes [A/ohm] at resistances (...,) [ohm].

        Raises
        ------
        OutOfRange
            If a resistance lies outside the table.
        """
        ohms = np.asarray(resistance, dtype=np.float64)
        lines = Lines([self] * ohms.size)
        current, slope, fits = lines.at(np.arange(ohms.size), ohms.ravel(), np.zeros(ohms.size))
        if not fits.all():
            raise lines.outside(0, float(ohms.ravel()[int(np.argmin(fits))]))
        return current.reshape(ohms.shape), slope.reshape(ohms.shape)


class Lines:
    """The load lines of m sources side by side.

    Parameters
    ----------
    sources
        (m,).
    """

    def __init__(self, sources: Sequence[Source]) -> None:
        lines = [source.line for source in sources]
        most = max(line.resistance.size for line in lines)
        self._nodes = np.full((len(lines), most), np.inf)
        self._cubics = np.zeros((len(lines), most - 1, 4))
        for row, line in enumerate(lines):
            self._nodes[row, : line.resistance.size] = line.resistance
            self._cubics[row, : len(line.cubics)] = line.cubics
        self._pieces = np.array([len(line.cubics) for line in lines])
        self._last = np.array([float(line.resistance[-1]) for line in lines])
        self.course = np.array([source.course for source in sources])

    def at(self, rows: Integers, resistance: Floats, time: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return what some of them drive.

        Parameters
        ----------
        rows
            (k,) which.
        resistance
            (k,) between the lead ends [ohm].
        time
            (k,) of the burst [s].

        Returns
        -------
        current, slope, fits
            (k,) [A], [A/ohm], and whether the resistance lies within the table.
        """
        ohms = self.loop(rows, resistance, time)
        nodes = self._nodes[rows]
        fits = (nodes[:, 0] <= ohms) & (ohms <= self._last[rows])
        piece = np.minimum(np.maximum((nodes <= ohms[:, None]).sum(axis=1) - 1, 0), self._pieces[rows] - 1)
        a, b, c, d = self._cubics[rows, piece].T
        x = ohms - nodes[np.arange(rows.size), piece]
        current = 1 / np.sqrt(np.where(fits, ((a * x + b) * x + c) * x + d, 1.0))
        return current, -0.5 * current**3 * ((3 * a * x + 2 * b) * x + c), fits

    def loop(self, rows: Integers, resistance: Floats, time: Floats) -> Floats:
        """Return the resistances beyond the coldest machines', (k,) [ohm]: those of the warm machines included."""
        since, risen, slope = self.course[rows].T
        rises: Floats = np.maximum(risen + slope * (time - since), 0.0)
        return resistance + rises

    def outside(self, row: int, resistance: float) -> OutOfRange:
        """Return what is wrong with a resistance [ohm]."""
        first, last = float(self._nodes[row, 0]), self._last[row]
        msg = f"load resistance {resistance:g} ohm lies outside {first:g} to {last:g} ohm of the load line"
        return OutOfRange(msg)

    def follow(self, rows: Integers, time: Floats, resistance: Floats, current: Floats) -> None:
        """Be told of moments (k,) [s] that some have got to, resistance between the lead ends [ohm] and current [A]."""
