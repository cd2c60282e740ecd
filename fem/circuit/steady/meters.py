"""What the meters on the bench will show of distorted and offset waves: clamps, voltmeters, wattmeters, peak holds."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import isfinite, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats
from fem.circuit.equivalent import Circuit
from fem.circuit.steady.idle import Idle
from fem.circuit.steady.load import Loaded
from fem.materials.metals import metal

FORM_FACTOR = pi / (2 * sqrt(2))
"""R.m.s. over rectified mean of a sine [-], 1.1107: what an averaging meter multiplies its mean by."""
WINDOWS = (1e-3, 10e-3, 100e-3)
"""Windows of peak holds and inrush functions found in clamp meters [s]: makers' manuals; compare like with like."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SteadyReading:
    """Hold what meters show of one periodic current or voltage, in its own unit.

    Parameters
    ----------
    true_rms : float
        On a true-r.m.s. meter.
    averaging : float
        On a meter that rectifies, averages and is scaled for a sine.
    peak : float
        Largest size within the period: a peak hold fast enough to see it.
    crest_factor : float
        Peak over r.m.s. [-]; meters state up to which they are true.
    """

    true_rms: float
    averaging: float
    peak: float
    crest_factor: float


@dataclass(frozen=True, kw_only=True, slots=True)
class TransientReading:
    """Hold what meters show of a current after switching on.

    Parameters
    ----------
    peak : float
        Largest instantaneous size [A].
    sine_equivalent : float
        Peak over sqrt(2): shown by peak holds scaled as r.m.s. of a sine [A].
    highest_rms : mapping of float to float or None
        Window [s] to the largest r.m.s. over it [A]; None where the record is shorter than the window.
    """

    peak: float
    sine_equivalent: float
    highest_rms: Mapping[float, float | None]


@dataclass(frozen=True, kw_only=True, slots=True)
class MeterReadings:
    """Hold the predicted readings on one machine.

    Parameters
    ----------
    open_voltage : SteadyReading
        Across the open lead ends [V].
    idle_current : SteadyReading
        Clamp or ammeter in the mains lead, nothing connected [A].
    idle_power, idle_apparent_power : float
        Wattmeter at the primary terminals [W], [VA].
    shorted_primary, shorted_secondary : float
        True-r.m.s. clamp with the lead ends joined [A].
    shorted_power, shorted_apparent_power : float
        Wattmeter at the primary terminals [W], [VA].
    switch_on, shorted_switch_on : TransientReading or None
        Primary current after switching on idle and shorted; None where no record was given.
    """

    open_voltage: SteadyReading
    idle_current: SteadyReading
    idle_power: float
    idle_apparent_power: float
    shorted_primary: float
    shorted_secondary: float
    shorted_power: float
    shorted_apparent_power: float
    switch_on: TransientReading | None
    shorted_switch_on: TransientReading | None


def _wave(name: str, values: ArrayLike, least: int) -> Floats:
    wave = np.asarray(values, dtype=np.float64)
    if wave.ndim != 1 or wave.size < least or not np.isfinite(wave).all():
        msg = f"{name}: a row of at least {least} finite numbers expected, got shape {wave.shape}"
        raise ValueError(msg)
    return wave


def steady_reading(wave: ArrayLike) -> SteadyReading:
    """Return what meters show of a periodic wave.

    Parameters
    ----------
    wave : (n,) array
        One period, or several whole ones, in equal steps without repeating its first point [A] or [V].

    Returns
    -------
    SteadyReading

    Raises
    ------
    ValueError
        If there are fewer than 8 points, one is not finite, or all are 0.

    Notes
    -----
    True r.m.s. sqrt(mean(i^2)); averaging 1.1107 mean(|i|). Direct current is taken in by both; a current transformer
    clamp does not pass it. The peak is that of the samples.
    """
    values = _wave("wave", wave, 8)
    rms = float(np.sqrt(np.mean(values**2)))
    if rms == 0:
        msg = f"the wave is 0 at all {values.size} points: a meter shows nothing"
        raise ValueError(msg)
    peak = float(np.abs(values).max())
    mean = float(np.abs(values).mean())
    return SteadyReading(true_rms=rms, averaging=FORM_FACTOR * mean, peak=peak, crest_factor=peak / rms)


def mean_power(voltage: ArrayLike, current: ArrayLike) -> float:
    """Return what a wattmeter shows: the mean of voltage times current.

    Parameters
    ----------
    voltage, current : (n,) array
        One or several whole periods in equal steps [V], [A].

    Returns
    -------
    float
        [W].

    Raises
    ------
    ValueError
        If the two differ in length.
    """
    volts, amperes = _wave("voltage", voltage, 8), _wave("current", current, 8)
    if volts.size != amperes.size:
        msg = f"{volts.size} voltages against {amperes.size} currents"
        raise ValueError(msg)
    return float(np.mean(volts * amperes))


def highest_rms(times: ArrayLike, values: ArrayLike, window: float) -> float:
    """Return the largest r.m.s. over any window of a record.

    Parameters
    ----------
    times : (n,) array
        Rising [s].
    values : (n,) array
        [A] or [V].
    window : float
        [s], > 0, at most the length of the record.

    Returns
    -------
    float
        In the unit of `values`.

    Raises
    ------
    ValueError
        If the record is shorter than the window, times do not rise or lengths differ.

    Notes
    -----
    The integral of the square of the straight lines between samples, exactly; windows that begin or end at a sample.
    """
    t, v = _wave("times", times, 2), _wave("values", values, 2)
    if t.size != v.size or not np.all(np.diff(t) > 0):
        msg = f"{t.size} rising times expected for {v.size} values"
        raise ValueError(msg)
    length = float(t[-1] - t[0])
    if not 0 < window <= length * (1 + 1e-9):
        msg = f"window must lie above 0 and within the record of {length:g} s, got {window!r}"
        raise ValueError(msg)
    window = min(window, length)
    step = np.diff(t)
    total = np.concatenate([[0.0], np.cumsum(step * (v[:-1] ** 2 + v[:-1] * v[1:] + v[1:] ** 2) / 3)])

    def energy(at: Floats) -> Floats:
        k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, step.size - 1)
        within = np.clip(at - t[k], 0.0, step[k])
        slope = (v[k + 1] - v[k]) / step[k]
        return np.asarray(total[k] + within * (v[k] ** 2 + v[k] * slope * within + slope**2 * within**2 / 3))

    starts = np.concatenate([t, t - window])
    starts = starts[(starts >= t[0]) & (starts + window <= t[-1] + 1e-12 * length)]
    starts = np.append(starts, t[-1] - window)
    return float(np.sqrt(np.max(energy(starts + window) - energy(starts)) / window))


def transient_reading(times: ArrayLike, currents: ArrayLike, windows: Sequence[float] = WINDOWS) -> TransientReading:
    """Return what peak holds and inrush functions show of a record that begins at closing.

    Parameters
    ----------
    times : (n,) array
        Rising [s].
    currents : (n,) array
        [A].
    windows : sequence of float
        [s].

    Returns
    -------
    TransientReading

    Raises
    ------
    ValueError
        As `highest_rms`.

    Notes
    -----
    The current itself: clamps with an iron jaw saturate with the offset and beyond their range, and then read low.
    """
    wave = _wave("currents", currents, 2)
    moments = _wave("times", times, 2)
    peak = float(np.abs(wave).max())
    length = float(moments[-1] - moments[0])
    held = {w: highest_rms(moments, wave, w) if w <= length * (1 + 1e-9) else None for w in windows}
    return TransientReading(peak=peak, sine_equivalent=peak / sqrt(2), highest_rms=held)


def secondary_voltage(state: Idle, circuit: Circuit) -> Floats:
    """Return the open secondary's voltage over the period of an idle state, (n,) [V].

    Notes
    -----
    Turns times d(flux per turn)/dt, the flux a sum of sines through its samples, as `idle` has it.
    """
    flux = np.fft.rfft(state.flux_per_turn)
    order = np.arange(flux.size)
    order[-1] = 0  # the highest order of an even number of samples has no slope that they could show
    slope = np.fft.irfft(1j * order * circuit.angular_frequency * flux, n=state.flux_per_turn.size)
    return np.asarray(circuit.secondary_turns * slope)


def meter_readings(
    circuit: Circuit,
    idle: Idle,
    shorted: Loaded,
    *,
    switch_on: tuple[ArrayLike, ArrayLike] | None = None,
    shorted_switch_on: tuple[ArrayLike, ArrayLike] | None = None,
) -> MeterReadings:
    """Predict the readings on one machine, idle and shorted.

    Parameters
    ----------
    circuit : Circuit
    idle : Idle
    shorted : Loaded
        At no load resistance.
    switch_on, shorted_switch_on : pair of (n,) arrays, optional
        Times from closing [s] and primary currents [A], idle and shorted; give 100 ms or more for every window.

    Returns
    -------
    MeterReadings

    Raises
    ------
    ValueError
        If `shorted` has a load, or as `transient_reading`.
    """
    if not (isfinite(shorted.load_resistance) and shorted.load_resistance == 0):
        msg = f"shorted: a load of 0 ohm expected, got {shorted.load_resistance!r}"
        raise ValueError(msg)
    return MeterReadings(
        open_voltage=steady_reading(secondary_voltage(idle, circuit)),
        idle_current=steady_reading(idle.current),
        idle_power=idle.real_power,
        idle_apparent_power=idle.apparent_power,
        shorted_primary=shorted.primary_current_rms,
        shorted_secondary=shorted.secondary_current_rms,
        shorted_power=shorted.input_power,
        shorted_apparent_power=shorted.input_apparent_power,
        switch_on=None if switch_on is None else transient_reading(*switch_on),
        shorted_switch_on=None if shorted_switch_on is None else transient_reading(*shorted_switch_on),
    )


def temperature_by_resistance(
    cold_resistance: float, cold_temperature: float, hot_resistance: float, *, beta: float = metal("copper").beta
) -> float:
    """Return the mean temperature of a winding from its resistance cold and hot.

    Parameters
    ----------
    cold_resistance, hot_resistance : float
        D.c., > 0; the hot one carried back to the moment of switching off [ohm].
    cold_temperature : float
        [K].
    beta : float
        Reciprocal of the temperature coefficient at 0 degC [K]: copper 234.5, aluminium 225 by test codes.

    Returns
    -------
    float
        [K].

    Raises
    ------
    ValueError
        If a resistance is not above 0.

    Notes
    -----
    (R2/R1) (beta + t1) - beta in degC: IEC 60076-2.
    """
    for name, value in (("cold_resistance", cold_resistance), ("hot_resistance", hot_resistance)):
        if not (isfinite(value) and value > 0):
            msg = f"{name} must be above 0, got {value!r}"
            raise ValueError(msg)
    zero = 273.15 - beta
    return hot_resistance / cold_resistance * (cold_temperature - zero) + zero
