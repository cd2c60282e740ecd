"""Meter readings of known waves against textbook values, the source named beside each."""

from math import atan, exp, pi, sin, sqrt

import numpy as np
import pytest

from fem.circuit.instruments import (
    FORM_FACTOR,
    highest_rms,
    steady_reading,
    transient_reading,
)
from fem.circuit.time.first_peaks import asymmetric_peak

ANGLE = 2 * pi * np.arange(20000) / 20000
"""One period; sums over n equal steps err by 1/n^2 of a wave with kinks, 1/n with jumps: 5e-5 at most."""


@pytest.mark.parametrize(
    ("wave", "peak_over_rms", "form"),
    [
        (np.sin(ANGLE), 1.414, 1.111),
        (np.sign(np.sin(ANGLE + 1e-9)), 1.000, 1.000),
        (np.arcsin(np.sin(ANGLE)), 1.732, 1.155),
        (np.maximum(np.sin(ANGLE), 0.0), 2.000, 1.571),
        (np.where(np.mod(ANGLE, pi) >= pi / 2, np.sin(ANGLE), 0.0), 1.999, 1.571),
    ],
    ids=["sine", "square", "triangle", "half wave", "phase cut at a quarter period"],
)
def test_crest_and_form_factors(wave: np.ndarray, peak_over_rms: float, form: float) -> None:
    # Crest and form factors as tabled in textbooks on measurement (from memory): sine 1.414 and 1.111, square 1 and 1,
    # triangle 1.732 and 1.155, half wave 2 and 1.571; a sine cut at its crest has half the square and half the mean:
    # crest 2, form 1.571. Three decimals printed.
    found = steady_reading(wave)
    assert found.crest_factor == pytest.approx(peak_over_rms, abs=0.0011)
    # An averaging meter is out by its own form factor over the wave's.
    assert found.averaging / found.true_rms == pytest.approx(FORM_FACTOR / form, abs=0.0006)


def test_form_factor_of_the_scale() -> None:
    # Averaging meters multiply the rectified mean by 1.11: common practice, in any text on measurement.
    assert pytest.approx(1.11, abs=0.005) == FORM_FACTOR


@pytest.mark.parametrize(
    ("x_over_r", "k_root_2"),
    [(1, 1.51), (1.5, 1.64), (2, 1.76), (3, 1.95), (4, 2.09), (5, 2.19), (6, 2.27), (8, 2.38), (10, 2.46), (14, 2.55)],
)
def test_peak_hold_of_an_offset_wave(x_over_r: float, k_root_2: float) -> None:
    # IEC 60076-5, table 4 (from memory; two decimals): peak over symmetrical r.m.s. at the worst closing, which is the
    # voltage's zero. 2000 steps per period miss a peak by (pi/2000)^2/2, 1e-6.
    t = np.linspace(0.0, 4 * pi, 4001)
    phi = atan(x_over_r)
    wave = sqrt(2) * (np.sin(t - phi) + sin(phi) * np.exp(-t / x_over_r))
    found = transient_reading(t / (100 * pi), wave, windows=())
    assert found.peak == pytest.approx(k_root_2, abs=0.0055)
    assert found.peak == pytest.approx(float(asymmetric_peak(x_over_r)), rel=1e-5)
    assert found.sine_equivalent == pytest.approx(found.peak / sqrt(2))


def test_full_offset_reads_root_three() -> None:
    # A fully offset wave without decay has sqrt(3) times the symmetrical r.m.s. over each period: the limit 1.732 of
    # the asymmetry factor in texts on switchgear (from memory). Straight lines between 400 points a period: 2e-5.
    t = np.linspace(0.0, 0.1, 2001)
    wave = sqrt(2) * (1 - np.cos(100 * pi * t))
    found = transient_reading(t, wave)
    assert found.highest_rms["100 ms"] == pytest.approx(1.732, abs=0.001)
    # Half a period about the crest: 2 (3/2 + 4/pi); 1 ms about it is the peak less 1 part in 100.
    assert found.highest_rms["10 ms"] == pytest.approx(sqrt(2 * (1.5 + 4 / pi)), rel=1e-4)
    assert found.highest_rms["1 ms"] == pytest.approx(found.peak, rel=0.01)
    assert found.highest_rms["1 ms"] < found.peak


def test_window_of_a_decay_is_its_first() -> None:
    # r.m.s. of exp(-t/T) over the first window w: sqrt(T/(2 w) (1 - exp(-2 w/T))).
    t = np.linspace(0.0, 0.5, 5001)
    found = highest_rms(t, np.exp(-t / 0.05), 0.1)
    assert found == pytest.approx(sqrt(0.05 / 0.2 * (1 - exp(-4.0))), rel=1e-6)
