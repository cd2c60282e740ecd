"""How long a burst may last against its current: from cold, part by part."""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.digits import duration
from fem.estimation.pictures import Pictures
from fem.estimation.result import Estimate
from fem.quantity import Unknown
from fem.report.figures.framed import counted, finished, framed
from fem.report.figures.style import BLUE, GREEN, INK, ORANGE
from fem.report.text.numbers import shown

LOOKS: tuple[tuple[str, Any], ...] = (
    (ORANGE, "-"),
    (BLUE, "--"),
    (GREEN, "-."),
    ("#cc79a7", ":"),
    ("#e69f00", (0, (5, 1))),
    ("#56b4e9", (0, (3, 1, 1, 1))),
)
"""Of parts, told apart without colour by their lines."""


def has_lengths(estimate: Estimate) -> bool:
    """Return whether bursts of several currents were followed, and some part has an end."""
    return estimate.pictures is not None and any(
        not isinstance(burst.longest, Unknown) for _, burst in estimate.pictures.lengths
    )


def stands(pictures: Pictures, current: float) -> tuple[str, float] | None:
    """Return which part ends a burst of a secondary current [A] and when [s]; None beyond the currents followed."""
    known = [(at, b.longest, b.limiting_part) for at, b in pictures.lengths if not isinstance(b.longest, Unknown)]
    known.sort(key=lambda each: each[0])
    if not known or not known[0][0] <= current <= known[-1][0]:
        return None
    currents, times = np.log([at for at, *_ in known]), np.log([time for _, time, _ in known])
    part = min(known, key=lambda one: abs(one[0] - current))[2]
    return str(part), float(np.exp(np.interp(np.log(current), currents, times)))


def burst_length(estimate: Estimate) -> Figure:
    """Draw how long a burst may last against its current."""
    return framed(estimate, "How long one burst from cold may last", draw_burst_length)


def draw_burst_length(found: Estimate, ax: Axes) -> str:
    """Draw against the secondary current how long each part stands one burst from cold; the least is what holds.

    Returns the caption.

    Raises
    ------
    ValueError
        If no bursts were followed.
    """
    lengths = sorted(found.drawn.lengths, key=lambda each: each[0])
    if not lengths:
        msg = "no bursts of several currents were followed"
        raise ValueError(msg)
    currents = np.array([amperes for amperes, _ in lengths])
    parts = {name for _, burst in lengths for name in burst.parts}

    def times(name: str) -> Any:
        working = (burst.parts[name].working if name in burst.parts else Unknown("") for _, burst in lengths)
        return np.array([np.nan if isinstance(time, Unknown) else time for time in working])

    drawn = {name: found_times for name in parts if np.isfinite(found_times := times(name)).any()}
    ordered = sorted(drawn, key=lambda name: (np.nanmin(drawn[name]), name))
    for name, (colour, style) in zip(ordered, LOOKS, strict=False):
        ax.plot(currents, drawn[name], color=colour, linestyle=style, label=name)
    longest = np.array([np.nan if isinstance(b.longest, Unknown) else b.longest for _, b in lengths])
    ax.plot(currents, longest, color=INK, linewidth=3.0, alpha=0.25, solid_capstyle="butt", label="the machine")
    top = 1.6 * float(np.nanmax(longest))
    state, work = found.heating, found.work_piece
    points = [("lead ends joined", currents[-1], lengths[-1][1].longest, "s", BLUE)]
    if not isinstance(state, Unknown) and not isinstance(state.loaded, Unknown) and not isinstance(found.load, Unknown):
        points.append(("with the load", found.load.current_rms, state.loaded.longest, "^", GREEN))
    fed = found.drawn.fed
    if not isinstance(work, Unknown) and fed is not None:
        points.append(("this burst", fed.rms(fed.drawn.secondary_current), float(fed.time[-1]), "o", ORANGE))
    for name, amperes, seconds, marker, colour in points:
        if isinstance(seconds, Unknown) or not isfinite(seconds):
            continue
        label = f"{name}: {shown(amperes, 'A')}\n{duration(seconds)}"
        edge: dict[str, Any] = {"markeredgecolor": INK, "markeredgewidth": 0.5, "zorder": 6}
        ax.plot([amperes], [seconds], marker, color=colour, label=label, **edge)
        top = max(top, 2 * seconds)
    ax.set_yscale("log")
    low = min([float(np.nanmin(longest)), *(s for _, _, s, *_ in points if not isinstance(s, Unknown))])
    ax.set_ylim(0.5 * low, top)
    ax.set_xlim(0.0, 1.05 * float(currents[-1]))
    counted(ax.yaxis)
    finished(ax, "secondary current, r.m.s. [A]", "longest burst from cold [s]")
    return (
        "Below all lines a single burst from cold keeps every part within its limit of repeated work; the pale line "
        "is the machine's, whose first part sets it. The current is that of the cold machine. Bursts repeated before "
        "all is cold again may last less: see the duty."
    )
