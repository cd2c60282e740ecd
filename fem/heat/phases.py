"""Stretches of time over which currents stay the same: bursts, pauses, trains of pulses."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from math import sqrt
from typing import Any, Self

import numpy as np

from fem.arrays import Floats, Number, not_negative, positive
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded


class Carries(Enum):
    """Whose current flows through a node."""

    NOTHING = auto()
    PRIMARY = auto()
    SECONDARY = auto()


@dataclass(frozen=True, kw_only=True, slots=True)
class Phase:
    """Describe a stretch of time over which currents and core loss stay the same; numbers, or those of a block (m,).

    Parameters
    ----------
    duration
        [s], > 0; infinite only where a function says so.
    primary_current, secondary_current
        R.m.s. [A], >= 0.
    core_loss
        [W], >= 0.

    Raises
    ------
    ValueError
        If a number is out of range.
    """

    duration: Number
    primary_current: Number = 0.0
    secondary_current: Number = 0.0
    core_loss: Number = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no phase can have."""
        if not np.all(np.asarray(self.duration) > 0):
            msg = f"duration must be above 0, got {self.duration!r}"
            raise ValueError(msg)
        not_negative(
            primary_current=self.primary_current, secondary_current=self.secondary_current, core_loss=self.core_loss
        )

    @property
    def flow(self) -> Floats:
        """Squares of both currents [A^2] and core loss [W], (3, ..., 1)."""
        rows = np.broadcast_arrays(self.primary_current, self.secondary_current, self.core_loss)
        flow = np.stack(rows).astype(np.float64)[..., None]
        flow[:2] **= 2
        return flow

    def member(self, place: int) -> "Phase":
        """Return what flows in one of a block."""
        names = ("duration", "primary_current", "secondary_current", "core_loss")
        columns = {name: np.asarray(getattr(self, name)) for name in names}
        return Phase(**{name: float(c[place] if c.ndim else c) for name, c in columns.items()})

    def lasting(self, duration: Number) -> "Phase":
        """Return the same currents for another time [s]."""
        return replace(self, duration=duration)


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class Course:
    """Hold phases one after the other for a block of m members.

    Parameters
    ----------
    durations
        (phases, m) [s].
    flows
        (phases, 3, m) squares of both currents [A^2], core loss [W].
    """

    durations: Floats
    flows: Floats

    @classmethod
    def of(cls, phases: Sequence[Phase], members: int) -> Self:
        """Return the course of phases whose numbers are those of all members, or of each.

        Raises
        ------
        ValueError
            If a duration is not finite.
        """
        durations = np.empty((len(phases), members))
        flows = np.empty((len(phases), 3, members))
        for place, phase in enumerate(phases):
            if not np.isfinite(phase.duration).all():
                msg = f"phase {place} needs a finite duration, got {phase.duration!r}"
                raise ValueError(msg)
            durations[place] = phase.duration
            flows[place, 0], flows[place, 1], flows[place, 2] = (
                phase.primary_current,
                phase.secondary_current,
                phase.core_loss,
            )
        flows[:, :2] **= 2
        return cls(durations=durations, flows=flows)

    def take(self, members: Any) -> Self:
        """Return the course of some members, by their places or by a mask."""
        return replace(self, durations=self.durations[:, members], flows=self.flows[:, :, members])


def rms_current(phases: Sequence[Phase], carries: Carries) -> float:
    """Return the r.m.s. over several phases of the primary's or the secondary's current, sqrt(sum I^2 t/sum t) [A]."""
    currents = [p.primary_current if carries is Carries.PRIMARY else p.secondary_current for p in phases]
    durations = [p.duration for p in phases]
    squares = sum(i**2 * t for i, t in zip(currents, durations, strict=True))
    return sqrt(squares / sum(durations))


def joined(phases: Sequence[Phase], *, within: float) -> tuple[Phase, ...]:
    """Return phases with neighbours of nearly the same secondary current made one, of the same mean squares.

    Parameters
    ----------
    phases
        One after the other.
    within
        How much currents of those made one may differ, relative [-].
    """
    rows = np.array([(p.duration, p.primary_current**2, p.secondary_current**2, p.core_loss) for p in phases])
    begins, lowest, highest = [0], rows[0, 2], rows[0, 2]
    for place, square in enumerate(rows[:, 2].tolist()):
        lowest, highest = min(lowest, square), max(highest, square)
        if highest > lowest * (1 + within) ** 2:
            begins.append(place)
            lowest = highest = square
    durations = np.add.reduceat(rows[:, 0], begins)
    means = np.add.reduceat(rows[:, 1:] * rows[:, :1], begins) / durations[:, None]
    return tuple(
        Phase(duration=t, primary_current=sqrt(i1), secondary_current=sqrt(i2), core_loss=core)
        for t, (i1, i2, core) in zip(durations.tolist(), means.tolist(), strict=True)
    )


def pulses(
    on: Phase, off: Phase, *, cycles_on: int, cycles_off: int, count: int, frequency: float
) -> tuple[Phase, ...]:
    """Return a train of pulses counted in mains cycles: weld, pause, weld.

    Parameters
    ----------
    on, off
        Currents and core loss; their durations are replaced.
    cycles_on, cycles_off
        Mains cycles of each pulse, and of each pause between two pulses [-], >= 1.
    count
        Pulses [-], >= 1.
    frequency
        [Hz], > 0.

    Returns
    -------
    tuple of Phase
        2 count - 1 phases, or one.

    Raises
    ------
    ValueError
        If a number is out of range.
    """
    for name, value in (("cycles_on", cycles_on), ("cycles_off", cycles_off), ("count", count)):
        if value < 1 or value != int(value):
            msg = f"{name} must be a whole number of at least 1, got {value!r}"
            raise ValueError(msg)
    positive(frequency=frequency)
    weld, pause = on.lasting(cycles_on / frequency), off.lasting(cycles_off / frequency)
    return (weld, *((pause, weld) * (count - 1)))


def phase_loaded(state: Loaded, duration: float) -> Phase:
    """Return a phase with the currents and core loss of a loaded or shorted state, for a time [s]."""
    return Phase(
        duration=duration,
        primary_current=state.primary_current_rms,
        secondary_current=state.secondary_current_rms,
        core_loss=state.core_loss,
    )


def phase_idle(state: Idle, duration: float) -> Phase:
    """Return a phase plugged in with the secondary open, for a time [s]; members without a state take the mean."""
    flows = (np.where(np.isnan(x), np.nanmean(x), x) if np.ndim(x) else x for x in (state.current_rms, state.core_loss))
    primary, core = flows
    return Phase(duration=duration, primary_current=primary, core_loss=core)
