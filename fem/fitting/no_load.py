"""What meters would show with nothing connected over the volts, of the machine as fitted and as described."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fem.arrays import Floats
from fem.estimation.case import Case
from fem.estimation.fields.source import Source
from fem.fitting.found import Fit, Shown
from fem.readings.described import NoLoad
from fem.readings.predict import predict
from fem.readings.reading import Reading
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


def no_load_curves(found: Fit, readings: Sequence[Reading], source: Source) -> Iterator[NoLoadCurve]:
    """Yield curves of amperes and of watts, as far as they were read idle without a lamp, by the meters that read them.

    Parameters
    ----------
    readings
        Those that were fitted, in their order.
    """
    case = Case(design=found.design, wanted=frozenset(), source=source)
    mains = case.design.mains.voltage
    for quantity in ("current", "power"):
        taken = [
            (reading, shown)
            for reading, shown in zip(readings, found.readings, strict=True)
            if isinstance(reading.test, NoLoad) and reading.quantity == quantity and reading.test.lamp is None
        ]
        if not taken:
            continue
        points = [(float(one.test.primary_voltage or mains), shown) for one, shown in taken]  # type: ignore[attr-defined]
        volts = np.linspace(0.5 * min(at for at, _ in points), 1.08 * max(at for at, _ in points), VOLTS)
        like = taken[0][0]
        tests = [like.test.model_copy(update={"primary_voltage": float(at), "supply": None}) for at in volts]
        swept = [replace(like, test=test) for test in tests]
        fitted = predict(case.with_draws(found.draws.first(DRAWS)), swept)
        known = np.isfinite(fitted).all(axis=1)
        low, middle, high = np.full((3, VOLTS), np.nan)
        low[known], middle[known], high[known] = np.quantile(fitted[known], (LOW, 0.5, HIGH), axis=1)
        yield NoLoadCurve(
            words="amperes in the mains lead" if quantity == "current" else "watts",
            unit=like.unit,
            volts=volts,
            described=predict(case, swept)[:, 0],
            low=low,
            middle=middle,
            high=high,
            points=tuple(points),
        )
