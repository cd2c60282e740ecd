"""Where the milliohms are: each part's resistance and reactance as they appear at the secondary."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.estimation.result import Estimate
from fem.estimation.stations.states.milliohms import MilliohmsOfState
from fem.quantity import Unknown
from fem.report.figures.framed import finished, framed
from fem.report.figures.style import INK, ORANGE
from fem.report.text.numbers import percent, shown

ROW, TOP = 6.5, 6.0
"""Of a part, and what is left over, on paper [mm]."""


def has_milliohms(estimate: Estimate) -> bool:
    """Return whether the parts of any state are known."""
    return not isinstance(_state(estimate), Unknown)


def milliohms(estimate: Estimate) -> Figure:
    """Draw where the milliohms are."""
    _, state = _chosen(estimate)
    height = TOP + ROW * len(state.parts)
    subtitle = "Where the milliohms are, as they appear at the secondary"
    return framed(estimate, subtitle, draw_milliohms, height=height, left=30.0)


def draw_milliohms(found: Estimate, ax: Axes) -> str:
    """Draw each part's resistance and reactance as bars, those that take most at the top.

    Returns the caption.

    Raises
    ------
    ValueError
        If the parts of no state are known.
    """
    name, state = _chosen(found)
    parts = sorted(state.parts.items(), key=lambda item: abs(complex(item[1].resistance, item[1].reactance)))
    rows = np.arange(len(parts))
    resistances = [1e3 * part.resistance for _, part in parts]
    reactances = [1e3 * part.reactance for _, part in parts]
    whole: dict[str, Any] = {"height": 0.38, "edgecolor": INK, "linewidth": 0.4}
    ax.barh(rows + 0.2, resistances, color=ORANGE, label=f"R, together {shown(state.resistance, 'ohm')}", **whole)
    together = "" if isinstance(state.reactance, Unknown) else f", together {shown(state.reactance, 'ohm')}"
    ax.barh(rows - 0.2, reactances, color="white", hatch="////", label=f"X{together}", **whole)
    ax.set_yticks(rows, [f"{words}\n{percent(part.share)} of the watts" for words, part in parts], fontsize=6.3)
    ax.axvline(0.0, color=INK, linewidth=0.6)
    ax.set_ylim(-0.6, len(parts) - 0.4)
    finished(ax, "milliohms at the secondary [mohm]", "")
    ax.grid(visible=False, axis="y")
    volts, amperes = shown(state.voltage, "V"), shown(state.current_rms, "A")
    return (
        f"{name}: {volts} of the mains, as they appear at the secondary, drive {amperes} through all of it. The "
        "longest bars are where a better joint, a thicker or shorter cable (R) or cables closer together (X) help; R "
        "and X stand at right angles, so that the larger of both sums decides most."
    )


def _state(estimate: Estimate) -> MilliohmsOfState | Unknown:
    found = estimate.milliohms
    if isinstance(found, Unknown):
        return found
    return next((s for s in (found.burst, found.loaded, found.shorted) if not isinstance(s, Unknown)), found.shorted)


def _chosen(estimate: Estimate) -> tuple[str, MilliohmsOfState]:
    """Return the state that is drawn, with its name: the burst, else the load, else joined lead ends."""
    state, found = _state(estimate), estimate.milliohms
    if isinstance(state, Unknown) or isinstance(found, Unknown):
        msg = "no state has its milliohms told"
        raise ValueError(msg)
    names = {id(found.burst): "The work piece at the end of its burst", id(found.loaded): "The load"}
    return names.get(id(state), "Lead ends joined"), state
