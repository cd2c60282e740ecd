"""What meters would show with nothing connected over the volts, of the machine as fitted and as described."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Floats
from fem.estimation.case import Case
from fem.estimation.fields.source import Source
from fem.fitting.found import Fit, Shown
from fem.readings.described import NoLoad
from fem.readings.predict import predict
from fem.readings.reading import Reading
from fem.threads import one_thread
from fem.trust.bands import HIGH, LOW

VOLTS, DRAWS = 25, 64
"""Volts of a curve, and draws of the fit that it is made of."""


@dataclass(frozen=True, kw_only=True, eq=False)
class NoLoadCurve:
    """Amperes or watts over volts.

    Parameters
    ----------
    words, unit
        What is read; SI.
    volts, described, low, middle, high
        (v,) at the primary [V]; as described, and 5 % quantile, median and 95 % quantile as fitted [SI]; nan without a
        state.
    points
        What was read of it, with the volts it was read at.
    """

    words: str
    unit: str
    volts: Floats
    described: Floats
    low: Floats
    middle: Floats
    high: Floats
    points: tuple[tuple[float, Shown], ...]


@one_thread()
def no_load_curves(found: Fit, readings: Sequence[Reading], source: Source) -> tuple[NoLoadCurve, ...]:
    """Return curves of amperes and watts, as far as they were read idle without a lamp, by the meters that read them.

    Parameters
    ----------
    readings
        Those that were fitted, in their order.
    """
    case = Case(design=found.design, wanted=frozenset(), source=source)
    members, curves = case.with_draws(found.draws.first(DRAWS)), []
    for quantity, words in (("current", "amperes in the mains lead"), ("power", "watts")):
        taken = [
            (float(reading.test.primary_voltage or case.design.mains.voltage), shown, reading)
            for reading, shown in zip(readings, found.readings, strict=True)
            if isinstance(reading.test, NoLoad) and reading.quantity == quantity and reading.test.lamp is None
        ]
        if not taken:
            continue
        like, at = taken[0][2], [volts for volts, _, _ in taken]
        volts = np.linspace(0.5 * min(at), 1.08 * max(at), VOLTS)
        tests = [like.test.model_copy(update={"primary_voltage": float(each), "supply": None}) for each in volts]
        swept = [replace(like, test=test) for test in tests]
        fitted = predict(members, swept)
        known = np.isfinite(fitted).all(axis=1)
        low, middle, high = np.full((3, VOLTS), np.nan)
        low[known], middle[known], high[known] = np.quantile(fitted[known], (LOW, 0.5, HIGH), axis=1)
        curves.append(
            NoLoadCurve(
                words=words,
                unit=like.unit,
                volts=volts,
                described=predict(case, swept)[:, 0],
                low=low,
                middle=middle,
                high=high,
                points=tuple((each, shown) for each, shown, _ in taken),
            )
        )
    return tuple(curves)
