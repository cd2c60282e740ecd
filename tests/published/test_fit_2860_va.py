"""A dry transformer of 2.86 kVA, 220 V, 50 Hz: its measured no-load curve, knee and loss, each point by all others.

Volts, amperes and watts at no load, the meters' own burden taken off, from 80 V to 240 V: laboratory report of a
university's course on electrical machines (UNLP La Plata, September 2025, public copy); below 80 V its own ratios tell
that the voltmeter was off. Amperes were read to 10 mA, so to half of that; volts are within 0.5 %, as the ratio of the
two windings' is the same within 0.3 %; of the watts, told to 0.1 W, 0.3 W are taken.

Neither core nor turns are told. The core here is one of its rating by the common rule of an iron area in cm2 that is
the root of the volt-amperes, with turns for 1.3 T as a guess that the fit may change: nothing is tested of either. That
a steel's curve and a loss with an exponent of its own hold together what a real core takes from half its rated volts to
beyond the knee is; nothing of it was chosen by these readings. With one factor for each eight of them contradict.
"""

from functools import cache
from math import log

import numpy as np
import pytest

from fem.design.transformer import Design
from fem.estimation.case import Case
from fem.fitting.fit import fit_of
from fem.fitting.found import Fit
from fem.readings.described import Readings
from fem.readings.predict import predict
from fem.readings.reading import Reading, readings_of
from tests.support.kept import KEPT

MEASURED = {
    80: (0.159, 7.333),
    100: (0.176, 10.746),
    120: (0.194, 14.95),
    140: (0.221, 19.85),
    160: (0.258, 24.63),
    180: (0.306, 30.71),
    200: (0.363, 37.48),
    220: (0.470, 44.95),
    240: (0.598, 52.30),
}
CORE = {
    "type": "shell",
    "leg_width": "75 mm",
    "outer_leg_width": "37.5 mm",
    "yoke_height": "37.5 mm",
    "window_width": "37.5 mm",
    "window_height": "112.5 mm",
    "stack_depth": "75 mm",
    "joint": "interleaved",
}
ROOM = {"height": "48 mm", "build": "30 mm"}
WINDINGS = {
    "arrangement": "side-by-side",
    "spacing": "4 mm",
    "leg_clearance": "2 mm",
    "yoke_clearance": "3 mm",
    "primary": {"turns": 145, "conductor": {"round": "2.5 mm"}, "resistance": "0.2 ohm", **ROOM},
    "secondary": {"turns": 253, "conductor": {"round": "1.8 mm"}, **ROOM},
}


def taken(volts: list[int]) -> tuple[Reading, ...]:
    tests = [
        {
            "primary_voltage": f"{v} V +-0.5 %",
            "current": f"{MEASURED[v][0]} A +-0.005 A",
            "power": f"{MEASURED[v][1]} W +-0.3 W",
            "meter": "true r.m.s.",
        }
        for v in volts
    ]
    return readings_of(Readings.model_validate({"no_load": tests}, context={"job_file": True}))


@cache
def fitted(without: int = 0) -> Fit:
    mains = {"voltage": "220 V", "frequency": "50 Hz"}
    design = Design.model_validate({"mains": mains, "core": CORE, "windings": WINDINGS})
    return fit_of(design, taken([v for v in MEASURED if v != without]), source=KEPT)


@pytest.mark.slow
def test_each_point_is_what_all_others_foretell() -> None:
    # 18 readings: of as many normal numbers the largest lies beyond 3.3 once in fifty times
    assert not any(reading.suspect for reading in fitted().readings)
    off = np.array([reading.surprise for reading in fitted().readings])
    assert np.abs(off).max() < 3.3
    assert np.sqrt(np.mean(off**2)) < 1.5


@pytest.mark.slow
def test_the_knee_is_foretold_by_points_on_either_side() -> None:
    found = fitted(220)
    case = Case(design=found.design, wanted=frozenset(), source=KEPT)
    amperes, watts = predict(case.with_draws(found.draws.first(256)), taken([220]))
    (current, power), off = MEASURED[220], 0.005
    # three standard deviations of what is foretold and what was read, half of it the volts at which the amperes were
    assert np.nanmedian(amperes) == pytest.approx(current, abs=3 * np.hypot(off, np.nanstd(amperes)))
    assert np.nanstd(amperes) < 0.05 * current  # and that is worth something
    assert np.nanmedian(watts) == pytest.approx(power, abs=3 * np.hypot(0.3, np.nanstd(watts)))
    assert np.nanstd(watts) < 0.03 * power


@pytest.mark.slow
def test_watts_rise_by_their_own_power_of_the_volts() -> None:
    shown = {reading.key: reading.predicted for reading in fitted().readings}
    of = list(MEASURED).index
    exponent = log(shown[f"no_load.{of(240)}.power"] / shown[f"no_load.{of(100)}.power"]) / log(2.4)
    measured = log(52.3 / 10.746) / log(2.4)
    assert measured == pytest.approx(1.81, abs=0.005)  # as told of the source
    # 0.3 W at either end, of which at 100 V 0.03 of the logarithm, and 0.5 % of the volts
    assert exponent == pytest.approx(measured, abs=0.04)
    # no grade has it: between guarantees at 1.0 T and 1.5 T they have 1.97 to 2.23
    (own,) = (finding for finding in fitted().findings if finding.key == "loss.exponent")
    assert own.high < 0
