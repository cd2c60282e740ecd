"""Curves, waves and courses of an estimate as plain columns, units in their headings."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike

from fem.constants import ZERO_CELSIUS
from fem.estimation.result import Estimate


def columns_text(columns: Mapping[str, ArrayLike]) -> str:
    """Return columns of equal length (n,) as CSV, nine digits each.

    >>> print(columns_text({"time_s": [0.0, 0.01], "current_A": [0.0, 1 / 3]}), end="")
    time_s,current_A
    0,0
    0.01,0.333333333
    """
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(columns)
    rows.writerows([f"{value:.9g}" for value in row] for row in zip(*map(np.ravel, columns.values()), strict=True))
    return text.getvalue()


def columns_of(estimate: Estimate) -> dict[str, dict[str, ArrayLike]]:
    """Return the curves there are, by file: magnetisation, a period without load, temperatures of a burst.

    Parameters
    ----------
    estimate
        With its pictures.

    Returns
    -------
    dict
        By file name, columns by heading, name and SI unit but for temperatures [degC]. The burst's file is left out
        where none was followed.

    Raises
    ------
    ValueError
        If the estimate keeps no pictures.
    """
    pictures = estimate.drawn
    curve: dict[str, ArrayLike] = {
        "ampere_turns_A": pictures.ampere_turns,
        "flux_per_turn_Wb": pictures.flux_per_turn,
        "flux_density_T": pictures.flux_density,
    }
    period: dict[str, ArrayLike] = {
        "time_s": pictures.time,
        "voltage_V": pictures.voltage,
        "current_A": pictures.current,
    }
    if pictures.flux is not None:
        period["flux_per_turn_Wb"] = pictures.flux
    found = {"magnetisation.csv": curve, "no_load_period.csv": period}
    if run := pictures.work_piece:
        heated: dict[str, ArrayLike] = {
            "time_s": run.time,
            "current_rms_A": run.current_rms,
            "voltage_rms_V": run.voltage_rms,
            "resistance_ohm": run.resistance,
            "work_hottest_degC": run.hottest_temperature - ZERO_CELSIUS,
            "jaw_left_degC": run.jaw_temperature[:, 0] - ZERO_CELSIUS,
            "jaw_right_degC": run.jaw_temperature[:, 1] - ZERO_CELSIUS,
        }
        found["burst_work.csv"] = heated
    if fed := pictures.fed:
        warmed: dict[str, ArrayLike] = {"time_s": fed.time}
        for part in dict.fromkeys(pictures.parts):  # its hottest lump
            lumps = [place for place, other in enumerate(pictures.parts) if other == part]
            warmed[f"{part.replace(' ', '_')}_degC"] = fed.temperatures[:, lumps].max(axis=1) - ZERO_CELSIUS
        found["burst_machine.csv"] = warmed
    return found
