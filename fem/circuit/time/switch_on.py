"""What follows a switching-on over the cycles: r.m.s. over windows, what a breaker integrates, the decay."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats, Number, of_each
from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import highest_rms
from fem.circuit.time.connection import OPEN, Connection
from fem.circuit.time.first_peaks import CLOSE, Fineness, first_peaks
from fem.circuit.time.waveforms import Transient, transient


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ByCycle:
    """What each mains period after closing brings, of one design or of each of a block; k periods.

    Parameters
    ----------
    primary_peak
        (..., k) largest size of the current [A].
    primary_rms, secondary_rms
        (..., k) over that period [A].
    primary_mean
        (..., k) direct component over that period [A].
    peak_flux_per_turn
        (..., k) largest size [Wb].
    """

    primary_peak: Floats
    primary_rms: Floats
    secondary_rms: Floats
    primary_mean: Floats
    peak_flux_per_turn: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SwitchOn:
    """A switching-on as meter and breaker see it, of one design or of each of a block.

    Parameters
    ----------
    first_peak
        (...,) highest primary current of the first period [A].
    rms_10_ms, rms_100_ms
        (...,) largest of the primary current over any such window [A]: clamp meters begin theirs when the current
        comes, which with remanence is some milliseconds after closing.
    joule_integral
        (...,) of the primary current squared over the first half period [A^2 s], the time of a breaker's magnetic
        release.
    transient
        The waveforms.
    """

    first_peak: Number
    rms_10_ms: Number
    rms_100_ms: Number
    joule_integral: Number
    by_cycle: ByCycle
    transient: Transient


def switch_on(
    circuit: Circuit,
    connection: Connection = OPEN,
    *,
    closing_angle: Number | None = None,
    remanence: Number = 0.0,
    cycles: int = 10,
    fineness: Fineness = CLOSE,
) -> SwitchOn:
    """Follow a switching-on over several cycles and sum it up.

    Parameters
    ----------
    circuit
        Of one design or of a block (n,).
    closing_angle
        (...,) phase of the mains e.m.f. at closing, from its rising zero [rad]; left out, the one with the highest
        primary peak.
    remanence
        (...,) flux per turn at closing, either sign [Wb].
    cycles
        Mains periods to follow, enough for 100 ms [-].
    fineness
        Of steps and closing angles.

    Raises
    ------
    NotConverged
        If a time step fails.
    ValueError
        If a number is out of range or the cycles do not last 100 ms.

    Notes
    -----
    `transient` at one closing angle; r.m.s. over windows as `highest_rms`, which meters' readings take as well.
    """
    if not cycles / circuit.frequency >= 0.1:
        msg = f"cycles must last 100 ms, got {cycles} at {circuit.frequency:g} Hz"
        raise ValueError(msg)
    angle = closing_angle
    if angle is None:
        angle = first_peaks(circuit, connection, remanence=remanence, fineness=fineness).primary.closing_angle
    state = transient(
        circuit, connection, closing_angle=angle, remanence=remanence, cycles=cycles, steps=fineness.steps
    )
    cycle = by_cycle(state)
    return SwitchOn(
        first_peak=of_each(cycle.primary_peak[..., 0]),
        rms_10_ms=highest_rms(state.time, state.primary_current, 0.01),
        rms_100_ms=highest_rms(state.time, state.primary_current, 0.1),
        joule_integral=joule_integral(state, 0.5 / circuit.frequency),
        by_cycle=cycle,
        transient=state,
    )


def joule_integral(state: Transient, duration: float) -> Number:
    """Return int_0^T i_1^2 dt from closing on, (...,) [A^2 s].

    Parameters
    ----------
    duration
        [s], within what was followed.

    Raises
    ------
    ValueError
        If the duration is not above 0 or longer than the waveforms.
    """
    # A period counts as followed although n steps of its length add up to it only within rounding.
    if not 0 < duration <= state.time[-1] * (1 + 1e-12):
        msg = f"duration must be above 0 and within the {state.time[-1]:g} s followed, got {duration!r}"
        raise ValueError(msg)
    last = int(np.searchsorted(state.time, duration)) - 1
    share = (duration - state.time[last]) / (state.time[1] - state.time[0])
    current = state.primary_current[..., : last + 2].copy()
    current[..., -1] = (1 - share) * current[..., -2] + share * current[..., -1]
    return of_each(np.trapezoid(current**2, np.append(state.time[: last + 1], duration)))


def by_cycle(state: Transient) -> ByCycle:
    """Sum up a transient period by period."""

    def periods(wave: Floats) -> Floats:
        # Each period with both its ends.
        return np.lib.stride_tricks.sliding_window_view(wave, state.steps + 1, axis=-1)[..., :: state.steps, :]

    def rms(wave: Floats) -> Floats:
        return np.asarray(np.sqrt(np.trapezoid(periods(wave) ** 2, axis=-1) / state.steps))

    primary, secondary = state.primary_current, state.secondary_current
    return ByCycle(
        primary_peak=np.abs(periods(primary)).max(axis=-1),
        primary_rms=rms(primary),
        secondary_rms=rms(secondary),
        primary_mean=np.asarray(np.trapezoid(periods(primary), axis=-1) / state.steps),
        peak_flux_per_turn=np.abs(periods(state.flux_per_turn)).max(axis=-1),
    )
