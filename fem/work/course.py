"""What is kept of work pieces that are followed side by side: their instants, each member's put together in the end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf

import numpy as np

from fem.arrays import Floats, Integers
from fem.constants import ZERO_CELSIUS
from fem.digits import brief
from fem.errors import NotConverged, OutOfRange
from fem.work.bodies import Bar
from fem.work.paths import Joined, Paths
from fem.work.state import Kept

Failed = ArithmeticError | ValueError
"""What a burst may fail by: `OutOfRange` where a carbon gets hotter than its table, or the resistance leaves the load
line; `NotConverged` where the steps shrink to nothing, or after 1e7 s something still changes; a start that is none."""
SETTLED = 0.05
SMALLEST, MOST_STEPS, FIRST_STEPS = 1e-12, 20000, 50


TOLERANCE = 0.05
"""Estimated error of one time step [K]; whole runs then stay within 0.5 K of ten times finer ones (see the tests)."""


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Plan:
    """Say how long a member is followed.

    Parameters
    ----------
    duration
        Of the whole run [s], > 0. It ends sooner once a place of the work has melted through.
    switch_off
        Time after which no current flows [s], > 0; left out, it flows to the end.
    tolerance
        Estimated error of one step [K].
    longest
        Step with current on [s].
    until
        Time [s] and temperature of the work [K] past both of which the run may end.
    settles
        Whether the run ends once nothing changes any more: t max |dT/dt| < 0.05 K, so that at its present rate no place
        would change by that in as long again.
    """

    duration: float
    switch_off: float | None = None
    tolerance: float = TOLERANCE
    longest: float = inf
    until: tuple[float, float] = (inf, inf)
    settles: bool = False

    @property
    def on(self) -> float:
        """How long current flows [s]."""
        return self.duration if self.switch_off is None else min(self.switch_off, self.duration)


@dataclass(kw_only=True, slots=True, eq=False)
class Course:
    """Hold the way of one member over k instants.

    Parameters
    ----------
    energies
        (paths, 6) integrals of `System.powers` [J].
    gained
        (n,) by which the unknowns changed.
    melted, settled
        Whether it ended because a place was wholly liquid, or nothing changed any more.
    whole
        Of all paths together, each (k,): time [s], current [A], resistance, impedance [ohm].
    paths
        By path, each (k, ...): current [A], resistance [ohm], temperature (k, nodes) [K], temperatures of both sides of
        contacts (k, contacts, 2) [K], their resistance [ohm] and hottest place [K], (k, contacts), resistance of the
        bars (k, bars) [ohm], progress of melting [-].
    """

    energies: Floats
    gained: Floats
    melted: bool
    settled: bool
    whole: dict[str, Floats] = field(default_factory=dict)
    paths: list[dict[str, Floats]] = field(default_factory=list)


def no_start(change: Floats) -> NotConverged:
    """Return that the currents of a start are not found, by their last relative changes (paths,)."""
    what, tried = "current at the start", f"{FIRST_STEPS} Newton steps"
    return NotConverged(what, residual=float(np.abs(change).max()), tolerance=1e-10, tried=tried)


def stuck(time: float, h: float) -> NotConverged:
    """Return that steps shrink to nothing, or do not end."""
    what = f"temperatures of the work piece {brief(time, 4)} s after switching on"
    tried = f"{MOST_STEPS} steps or a step of {h:.3g} s"
    return NotConverged(what, residual=h, tolerance=SMALLEST, tried=tried)


def unsettled(change: float, time: float) -> NotConverged:
    """Return that in all that time [s] nothing has settled, by the change in as long again [K]."""
    what = "lasting temperature of the work piece"
    return NotConverged(what, residual=change, tolerance=SETTLED, tried=f"{time:g} s")


def past_table(bar: Bar, time: float) -> OutOfRange:
    """Return that a bar got hotter than its material's data at a time [s]: only what does not melt first gets there."""
    kind, end = "work" if bar.is_work else "carbon", bar.material.temperature[-1] - ZERO_CELSIUS
    return OutOfRange(f"the {kind} passes {end:.0f} degC after {brief(time)} s: no data beyond")


class Log:
    """Instants of all members in the order in which they came."""

    def __init__(self, paths: Paths) -> None:
        self._paths = paths
        self._ids: list[Integers] = []
        self._whole: list[tuple[Floats, ...]] = []
        self._kept: list[list[tuple[Kept, Floats, Floats]]] = [[] for _ in paths.systems]

    def take(
        self,
        ids: Integers,
        rows: Integers,
        whole: Sequence[Floats],
        currents: Floats,
        hottest: Sequence[Floats],
        state: Joined,
    ) -> None:
        """Keep an instant of some rows (k,) of a block: their numbers, then what all rows of it are."""
        self._ids.append(ids)
        self._whole.append(tuple(values[rows] for values in whole))
        for place, (kept, one) in enumerate(zip(self._kept, state.paths, strict=True)):
            kept.append((Kept.of(one, rows), currents[rows, place], hottest[place][rows]))

    def told(self, ended: Sequence[Course | Failed]) -> list[Course | Failed]:
        """Give each course its instants."""
        if not self._ids:
            return list(ended)
        ids = np.concatenate(self._ids)
        order = np.argsort(ids, kind="stable")
        ids = ids[order]
        ends = np.searchsorted(ids, np.arange(1, len(ended)))

        def parted(values: Floats) -> list[Floats]:
            return np.split(values, ends)

        names = ("time", "current", "resistance", "impedance")
        whole = {
            name: parted(np.concatenate(column)[order])
            for name, column in zip(names, zip(*self._whole, strict=True), strict=True)
        }
        by_path = []
        for system, kept in zip(self._paths.systems, self._kept, strict=True):
            states, currents, hottest = zip(*kept, strict=True)
            one = Kept(*(np.concatenate(column)[order] for column in zip(*states, strict=True)))
            found = {
                "current": np.concatenate(currents)[order],
                "resistance": one.resistance,
                "temperature": one.temperature,
                "sides": system.contact_temperature(one),
                "contacts": (one.left + one.right)[:, system.contact_faces],
                "spots": system.spot_temperature(one),
                "bars": np.stack([one.ohms[:, cells].sum(axis=1) for cells in system.slices], axis=1),
                "melting": system.melt_progress(np.concatenate(hottest)[order], ids),
            }
            by_path.append({name: parted(values) for name, values in found.items()})
        for place, course in enumerate(ended):
            if isinstance(course, Course):
                course.whole = {name: values[place] for name, values in whole.items()}
                course.paths = [{name: values[place] for name, values in one.items()} for one in by_path]
        return list(ended)
