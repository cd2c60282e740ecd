"""What to measure on a salvaged machine, in which order and how, with what its job lets expect."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fem.estimation.block import takes_block
from fem.estimation.case import Case
from fem.readings.described import Readings
from fem.readings.measurements import DEAD, Danger, Measurement, as_readings, filled, measurements, usual
from fem.readings.predict import covariance, predict
from fem.readings.reading import Reading, readings_of
from fem.trust.draws import FEW


@dataclass(frozen=True, kw_only=True, slots=True)
class Box:
    """One thing to fill in or to tick.

    Parameters
    ----------
    words
        What.
    reading
        What is read, its value what is expected; None of what is ticked.
    unit
        Of what is written down and is no reading; empty of what is ticked.
    expected, low, high
        By the job, and between which values nine out of ten lie, the meter's doubt and that of the conditions with it
        [SI]; nan where it has no number.
    """

    words: str
    reading: Reading | None = None
    unit: str = ""
    expected: float = np.nan
    low: float = np.nan
    high: float = np.nan


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One step: what it is for, how it is done safely, what is filled in, and what it means if that is off."""

    title: str
    how: str
    boxes: tuple[Box, ...]
    off: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Protocol:
    """All steps, before cutting and after winding."""

    title: str
    before: tuple[Step, ...]
    after: tuple[Step, ...]


BESIDE = (Box(words="temperature of the room", unit="degC"), Box(words="the probes touched together", unit="ohm"))
"""What is written down with the resistance by two wires."""


def protocol(case: Case) -> Protocol:
    """Return the protocol of a design.

    Raises
    ------
    NotConverged, OutOfRange
        If its states cannot be solved.
    """
    case.slopes  # noqa: B018  fields and their derivatives are solved together
    each = [one for one in measurements(case, usual(case)) if one.danger is not Danger.FULL]
    before = (
        Step(
            title="Nameplate and capacitors",
            how=f"{DEAD} A capacitor of the appliance stays charged: bridge it through some 10 kohm on an insulated "
            "probe, then prove it dead with a voltmeter, before a hand goes near.",
            boxes=(
                Box(words="volts of the nameplate", unit="V"),
                Box(words="amperes of the nameplate, if it tells them", unit="A"),
                *_ticks("hertz of the nameplate are those here", "every capacitor shows less than 5 V and stays there"),
            ),
        ),
        Step(
            title="Insulation",
            how=f"{DEAD} Insulation tester at 500 V d.c. for a minute, primary to core and to what is wound on it; "
            "then discharge it through the tester. Below 1 Mohm stop: damp or burnt.",
            boxes=_ticks("primary to core above 1 Mohm", "primary to secondary above 1 Mohm"),
        ),
    )
    steps: dict[bool, dict[str, Step]] = {False: {}, True: {}}
    for one, boxes in zip(each, expectations(case, each), strict=True):
        of_part = steps[one.wound]
        before_it = of_part[one.title].boxes if one.title in of_part else ()
        before_it = BESIDE if one.tests[0][0] == "resistance" else before_it
        of_part[one.title] = Step(title=one.title, how=one.how, boxes=(*before_it, *boxes), off=one.off)
    return Protocol(
        title=case.design.title, before=(*before, *steps[False].values()), after=tuple(steps[True].values())
    )


def _ticks(*words: str) -> tuple[Box, ...]:
    return tuple(Box(words=one) for one in words)


NOTHING = Readings()
_TO_95 = 1.645
"""From the middle of a normal distribution to its 95 % quantile, in standard deviations."""


def expectations(case: Case, each: Sequence[Measurement], described: Readings = NOTHING) -> list[tuple[Box, ...]]:
    """Return what is read in measurements, and what the job lets expect of it.

    Parameters
    ----------
    described
        What was read before, of which they take the bench.
    """
    whole, keys = as_readings(described, each)
    # predicted first, so that what meters are off is that at what they will show
    typical = predict(case, readings_of(whole))[:, 0]
    readings = filled(whole, typical)
    members = case.drawn if takes_block(case.design) else case.drawn.first(FEW, frozenset())
    drawn, own = predict(members, readings), _TO_95 * np.sqrt(np.diag(covariance(case, readings)))
    known = np.isfinite(drawn).mean(axis=1) > 0.95
    low, high = np.full((2, len(readings)), np.nan)
    ends = np.nanquantile(drawn[known], (0.05, 0.95), axis=1)
    low[known], high[known] = typical[known] + np.array([[-1.0], [1.0]]) * np.hypot(ends - typical[known], own[known])
    boxes = [
        Box(words=reading.words, reading=reading, expected=float(a), low=float(b), high=float(c))
        for reading, a, b, c in zip(readings, typical, low, high, strict=True)
    ]
    return [
        tuple(box for box in boxes if box.reading is not None and box.reading.key.rpartition(".")[0] in of_one)
        for of_one in keys
    ]


def boxes_of(steps: Protocol) -> Iterator[Box]:
    """Yield all boxes in their order."""
    for step in (*steps.before, *steps.after):
        yield from step.boxes
