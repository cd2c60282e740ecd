"""What a run of the work piece gives: histories, profiles, milestones, the energy's whereabouts."""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from fem.arrays import Floats
from fem.cubics import Cubics
from fem.materials.work_metals import colour_temperature
from fem.roots import root

VISIBLE_RED, DULL_RED = colour_temperature("red just visible"), colour_temperature("dull red")
"""What an eye can judge a burst by, in subdued light [K]."""


class Ending(Enum):
    """Why a run ended."""

    DURATION = "its time was up"
    MELTED = "the hottest place was wholly liquid"
    SETTLED = "nothing changed any more"


@dataclass(frozen=True, kw_only=True, slots=True)
class EnergyBalance:
    """Hold where the electric energy of a run went [J].

    Parameters
    ----------
    electric
        From the lead ends.
    stored
        In the bars.
    radiated, convected, through_sides
        To the surroundings.
    into_jaws
        Conducted into both jaws, their half of the contacts' heat included.
    """

    electric: float
    stored: float
    radiated: float
    convected: float
    through_sides: float
    into_jaws: float

    def __add__(self, other: EnergyBalance) -> EnergyBalance:
        """Return what both paths took."""
        names = [part.name for part in fields(self)]
        return EnergyBalance(**{name: getattr(self, name) + getattr(other, name) for name in names})

    @property
    def imbalance(self) -> float:
        """What is not accounted for [J]: to be held against `largest`."""
        return self.electric - (self.stored + self.radiated + self.convected + self.through_sides + self.into_jaws)

    @property
    def largest(self) -> float:
        """Size of the largest of all entries [J]."""
        kept = (self.electric, self.stored, self.radiated, self.convected, self.through_sides, self.into_jaws)
        return max(abs(part) for part in kept)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class HeatingRun:
    """Hold a transient of the work piece.

    Parameters
    ----------
    time, current_rms, voltage_rms, resistance
        (m,) [s], the moment of switching off twice; [A], [V] across all between the lead ends, [ohm].
    own_current_rms
        (m,) through the bars told here: less than all where there is a second path [A].
    hottest_temperature, hottest_position
        (m,) in the work, its contacts and joints included [K], [m] from the left jaw.
    melt_progress
        (m,) where melting is furthest in either path: 0 at its beginning, 1 wholly liquid; straight in enthalpy, so
        negative before [-].
    position
        (n,) middles of the cells [m].
    is_work
        (n,) false in the carbons.
    temperature
        (m, n) [K].
    contact_position
        (k,) from the left jaw's contact over the joints to the right jaw's [m].
    contact_temperature
        (m, k) the hotter side of each [K].
    contact_resistance, spot_temperature
        (m, k) of each [ohm]; inside it, not a number where it is no constriction of metals [K].
    bar_resistance
        (m, bars) [ohm].
    jaw_temperature
        (m, 2) left, right [K].
    energy
        Where the electric energy went, of all paths.
    ending
        Why the run ended.
    beside
        The second path by itself, all its own; or None.
    """

    time: Floats
    current_rms: Floats
    own_current_rms: Floats
    voltage_rms: Floats
    resistance: Floats
    hottest_temperature: Floats
    hottest_position: Floats
    melt_progress: Floats
    position: Floats
    is_work: NDArray[np.bool_]
    temperature: Floats
    contact_position: Floats
    contact_temperature: Floats
    contact_resistance: Floats
    spot_temperature: Floats
    bar_resistance: Floats
    jaw_temperature: Floats
    energy: EnergyBalance
    ending: Ending
    beside: HeatingRun | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class Milestones:
    """Hold when the hottest place of the work first got so far [s], None where it did not.

    Parameters
    ----------
    target
        To the wanted temperature; None also where none was wanted.
    visible_red, dull_red
        525 and 699 degC.
    melting_begins, melted_through
        Solidus reached; the whole latent heat taken up at one place.
    """

    target: float | None
    visible_red: float | None
    dull_red: float | None
    melting_begins: float | None
    melted_through: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Settled:
    """Hold what the work comes to if the current is left on.

    Parameters
    ----------
    temperature
        Of the hottest place for good [K]; None where it melts through first.
    time
        Until nothing changes any more, or until it has melted through [s].
    current_rms
        At the end [A].
    run
        The way there.
    """

    temperature: float | None
    time: float
    current_rms: float
    run: HeatingRun


def time_to(run: HeatingRun, temperature: float) -> float | None:
    """Return when the hottest place of the work first reached a temperature [K], in seconds; None if it did not."""
    return _crossing(run.time, run.hottest_temperature, temperature)


def milestones(run: HeatingRun, target_temperature: float | None = None) -> Milestones:
    """Return when the work reached its target [K], red heat and melting."""
    return Milestones(
        target=None if target_temperature is None else time_to(run, target_temperature),
        visible_red=time_to(run, VISIBLE_RED),
        dull_red=time_to(run, DULL_RED),
        melting_begins=_crossing(run.time, run.melt_progress, 0.0),
        melted_through=_crossing(run.time, run.melt_progress, 1.0),
    )


def _crossing(time: Floats, value: Floats, level: float) -> float | None:
    """Return the first time at a level, by a monotone cubic through the steps."""
    new = np.diff(time, prepend=-1.0) > 0
    time, value = time[new], value[new]
    above = np.flatnonzero(value >= level)
    if above.size == 0:
        return None
    at = int(above[0])
    if at == 0:
        return float(time[0])
    near = slice(max(at - 3, 0), at + 3)
    curve = Cubics.monotone(time[near], value[near])
    # The cubic may miss its own point by a rounding, and with it the change of sign.
    if curve(time[at]) <= level:
        return float(time[at])
    return root(lambda t: float(curve(t)) - level, time[at - 1], time[at], xtol=1e-12 * time[at])
