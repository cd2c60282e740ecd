"""Instruments: what clamps, voltmeters and peak holds show of a wave, what an ohmmeter tells of a warm winding."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum
from math import pi, sqrt

import numpy as np
from numpy.typing import ArrayLike

from fem.arrays import Floats, Number, of_each
from fem.circuit.steady.half_period import rms, vertex
from fem.quantity import Unknown, of

FORM_FACTOR = pi / (2 * sqrt(2))
"""R.m.s. over rectified mean of a sine [-], 1.1107: what an averaging meter multiplies its mean by."""
WINDOWS = (1e-3, 10e-3, 100e-3)
"""Windows of peak holds and inrush functions found in clamp meters [s]: makers' manuals; compare like with like."""


class Meter(Enum):
    """What a meter makes of a wave."""

    AVERAGING = "averaging"
    """It rectifies, averages, and is scaled for a sine, as all do whose face does not say true r.m.s."""
    TRUE_RMS = "true r.m.s."
    PEAK = "peak hold"
    PEAK_AS_RMS = "peak hold as r.m.s."
    """Peak over sqrt(2)."""


def shown(meter: Meter, half: Floats) -> Number:
    """Return what a meter shows of waves whose second half period is the first upside down, (...,) in their unit.

    Parameters
    ----------
    half
        (..., n) samples of half a period.
    """
    if meter is Meter.TRUE_RMS:
        return rms(half)
    if meter is Meter.AVERAGING:
        return of_each(FORM_FACTOR * np.mean(np.abs(half), axis=-1))
    return vertex(half) / (sqrt(2) if meter is Meter.PEAK_AS_RMS else 1.0)


@dataclass(frozen=True, kw_only=True, slots=True)
class SteadyReading:
    """What meters show of one periodic quantity, in its own unit.

    Parameters
    ----------
    true_rms
        On a true-r.m.s. meter.
    averaging
        On a meter that rectifies, averages and is scaled for a sine.
    peak
        Largest size within the period: a peak hold fast enough to see it.
    """

    true_rms: float = of("", "true-r.m.s. meter")
    averaging: float = of("", "averaging meter scaled for a sine")
    peak: float = of("", "peak hold")

    @property
    def crest_factor(self) -> float:
        """Peak over r.m.s. [-]; meters state up to which they are true."""
        return self.peak / self.true_rms


@dataclass(frozen=True, kw_only=True, slots=True)
class TransientReading:
    """What meters show of a current after switching on.

    Parameters
    ----------
    peak
        Largest instantaneous size [A].
    sine_equivalent
        Peak over sqrt(2): shown by peak holds scaled as r.m.s. of a sine [A].
    highest_rms
        Window, as `window_name` writes it, to the largest r.m.s. over it [A].
    """

    peak: float = of("A", "peak hold of 1 ms or less")
    sine_equivalent: float = of("A", "the same, scaled as r.m.s. of a sine")
    highest_rms: Mapping[str, float | Unknown] = of("A", "largest r.m.s. over any window, by its length")

    FORMULAS = """
    sine_equivalent = `.peak_A` / sqrt(2)
    """


def window_name(window: float) -> str:
    """Write the length of a window [s]: "10 ms"."""
    return f"{window * 1e3:g} ms"


def steady_reading(wave: ArrayLike) -> SteadyReading:
    """Return what meters show of a periodic current or voltage.

    Parameters
    ----------
    wave
        (n,) one period, or several whole ones, in equal steps without repeating its first point [A] or [V].

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
    return SteadyReading(true_rms=rms, averaging=FORM_FACTOR * mean, peak=peak)


def highest_rms(times: ArrayLike, values: ArrayLike, window: float) -> Number:
    """Return the largest r.m.s. over any window of a record, or of several side by side (...,), in its unit.

    Parameters
    ----------
    times
        (n,) rising [s].
    values
        (..., n) [A] or [V].
    window
        [s], > 0, at most the length of the record.

    Raises
    ------
    ValueError
        If the record is shorter than the window, times do not rise or lengths differ.

    Notes
    -----
    max over t of sqrt(1/w int_t^(t+w) v^2 dt), the square of the straight lines between samples integrated exactly:
    a stretch h from v_a to v_b holds h (v_a^2 + v_a v_b + v_b^2)/3. Windows that begin or end at a sample.
    """
    t, v = _wave("times", times, 2), np.asarray(values, dtype=np.float64)
    for record in v.reshape(-1, v.shape[-1] if v.ndim else 1):
        _wave("values", record, 2)
    if t.size != v.shape[-1] or not np.all(np.diff(t) > 0):
        msg = f"{t.size} rising times expected for {v.shape[-1]} values"
        raise ValueError(msg)
    length = float(t[-1] - t[0])
    if not 0 < window <= length * (1 + 1e-9):
        msg = f"window must lie above 0 and within the record of {length:g} s, got {window!r}"
        raise ValueError(msg)
    window = min(window, length)
    step = np.diff(t)
    before, after = v[..., :-1], v[..., 1:]
    total = np.zeros_like(v)
    np.cumsum(step * (before**2 + before * after + after**2) / 3, axis=-1, out=total[..., 1:])

    def energy(at: Floats) -> Floats:
        k = np.clip(np.searchsorted(t, at, side="right") - 1, 0, step.size - 1)
        within = np.clip(at - t[k], 0.0, step[k])
        one, slope = before[..., k], (after[..., k] - before[..., k]) / step[k]
        return np.asarray(total[..., k] + within * (one**2 + one * slope * within + slope**2 * within**2 / 3))

    starts = np.concatenate([t, t - window])
    starts = starts[(starts >= t[0]) & (starts + window <= t[-1] + 1e-12 * length)]
    starts = np.append(starts, t[-1] - window)
    return of_each(np.sqrt(np.asarray(np.max(energy(starts + window) - energy(starts), axis=-1)) / window))


def transient_reading(times: ArrayLike, currents: ArrayLike, windows: Sequence[float] = WINDOWS) -> TransientReading:
    """Return what peak holds and inrush functions show of a record that begins at closing.

    Parameters
    ----------
    times
        (n,) rising [s].
    currents
        (n,) [A].
    windows
        [s].

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
    too_long = Unknown("the current was not followed for so long")
    held = {window_name(w): highest_rms(moments, wave, w) if w <= length * (1 + 1e-9) else too_long for w in windows}
    return TransientReading(peak=peak, sine_equivalent=peak / sqrt(2), highest_rms=held)


def _wave(name: str, values: ArrayLike, least: int) -> Floats:
    wave = np.asarray(values, dtype=np.float64)
    if wave.ndim != 1 or wave.size < least or not np.isfinite(wave).all():
        msg = f"{name}: a row of at least {least} finite numbers expected, got shape {wave.shape}"
        raise ValueError(msg)
    return wave
