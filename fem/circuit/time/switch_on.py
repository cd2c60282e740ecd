"""What follows a switching-on over the cycles: r.m.s. over windows, what a breaker integrates, the decay."""

from dataclasses import dataclass

import numpy as np

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.instruments import highest_rms
from fem.circuit.time.connection import OPEN, Connection
from fem.circuit.time.first_peaks import first_peaks
from fem.circuit.time.stepping import STEPS
from fem.circuit.time.waveforms import Transient, transient


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class ByCycle:
    """What each mains period after closing brings; k periods.

    Parameters
    ----------
    primary_peak, secondary_peak
        (k,) largest size of the current [A].
    primary_rms, secondary_rms
        (k,) over that period [A].
    primary_mean
        (k,) direct component over that period [A].
    peak_flux_per_turn
        (k,) largest size [Wb].
    """

    primary_peak: Floats
    secondary_peak: Floats
    primary_rms: Floats
    secondary_rms: Floats
    primary_mean: Floats
    peak_flux_per_turn: Floats


@dataclass(frozen=True, kw_only=True, slots=True, eq=False)
class SwitchOn:
    """A switching-on as meter and breaker see it.

    Parameters
    ----------
    first_peak
        Highest primary current of the first period [A].
    rms_10_ms, rms_100_ms
        Largest of the primary current over any such window [A]: clamp meters begin theirs when the current comes, which
        with remanence is some milliseconds after closing.
    joule_integral
        Of the primary current squared over the first half period [A^2 s], the time of a breaker's magnetic release.
    transient
        The waveforms.
    """

    first_peak: float
    rms_10_ms: float
    rms_100_ms: float
    joule_integral: float
    by_cycle: ByCycle
    transient: Transient


def switch_on(
    circuit: Circuit,
    connection: Connection = OPEN,
    *,
    closing_angle: float | None = None,
    remanence: float = 0.0,
    cycles: int = 10,
    steps: int = STEPS,
) -> SwitchOn:
    """Follow a switching-on over several cycles and sum it up.

    Parameters
    ----------
    closing_angle
        Phase of the mains e.m.f. at closing, from its rising zero [rad]; left out, the one with the highest primary
        peak.
    remanence
        Flux per turn at closing, either sign [Wb].
    cycles, steps
        Mains periods to follow, enough for 100 ms; time steps in each [-].

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
        angle = first_peaks(circuit, connection, remanence=remanence, steps=steps).primary.closing_angle
    state = transient(circuit, connection, closing_angle=angle, remanence=remanence, cycles=cycles, steps=steps)
    cycle = by_cycle(state)
    return SwitchOn(
        first_peak=float(cycle.primary_peak[0]),
        rms_10_ms=highest_rms(state.time, state.primary_current, 0.01),
        rms_100_ms=highest_rms(state.time, state.primary_current, 0.1),
        joule_integral=joule_integral(state, 0.5 / circuit.frequency),
        by_cycle=cycle,
        transient=state,
    )


def joule_integral(state: Transient, duration: float) -> float:
    """Return int_0^T i_1^2 dt from closing on [A^2 s].

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
    within = state.time < duration
    time = np.append(state.time[within], duration)
    square = np.append(state.primary_current[within], np.interp(duration, state.time, state.primary_current)) ** 2
    return float(np.trapezoid(square, time))


def by_cycle(state: Transient) -> ByCycle:
    """Sum up a transient period by period."""

    def periods(wave: Floats) -> Floats:
        # Each period with both its ends.
        return np.lib.stride_tricks.sliding_window_view(wave, state.steps + 1)[:: state.steps]

    def rms(wave: Floats) -> Floats:
        return np.asarray(np.sqrt(np.trapezoid(periods(wave) ** 2, axis=1) / state.steps))

    primary, secondary = state.primary_current, state.secondary_current
    return ByCycle(
        primary_peak=np.abs(periods(primary)).max(axis=1),
        secondary_peak=np.abs(periods(secondary)).max(axis=1),
        primary_rms=rms(primary),
        secondary_rms=rms(secondary),
        primary_mean=np.asarray(np.trapezoid(periods(primary), axis=1) / state.steps),
        peak_flux_per_turn=np.abs(periods(state.flux_per_turn)).max(axis=1),
    )
