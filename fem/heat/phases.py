"""Stretches of time over which currents stay the same: bursts, pauses, trains of pulses."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum, auto
from math import sqrt

from fem.arrays import not_negative, positive
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded


class Carries(Enum):
    """Whose current flows through a node."""

    NOTHING = auto()
    PRIMARY = auto()
    SECONDARY = auto()


@dataclass(frozen=True, kw_only=True, slots=True)
class Phase:
    """Describe a stretch of time over which currents and core loss stay the same.

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

    duration: float
    primary_current: float = 0.0
    secondary_current: float = 0.0
    core_loss: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers that no phase can have."""
        if not self.duration > 0:
            msg = f"duration must be above 0, got {self.duration!r}"
            raise ValueError(msg)
        not_negative(
            primary_current=self.primary_current, secondary_current=self.secondary_current, core_loss=self.core_loss
        )

    def lasting(self, duration: float) -> "Phase":
        """Return the same currents for another time [s]."""
        return replace(self, duration=duration)


def rms_current(phases: Sequence[Phase], carries: Carries) -> float:
    """Return the r.m.s. over several phases of the primary's or the secondary's current, sqrt(sum I^2 t/sum t) [A]."""
    currents = [p.primary_current if carries is Carries.PRIMARY else p.secondary_current for p in phases]
    durations = [p.duration for p in phases]
    squares = sum(i**2 * t for i, t in zip(currents, durations, strict=True))
    return sqrt(squares / sum(durations))


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
    """Return a phase plugged in with the secondary open, for a time [s]."""
    return Phase(duration=duration, primary_current=state.current_rms, core_loss=state.core_loss)
