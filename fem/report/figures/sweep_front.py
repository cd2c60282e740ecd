"""What no design of a sweep beats in two things at once, among all the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from fem.report.figures.style import BLUE, INK
from fem.report.figures.sweep_axes import failures, finished, found_of, limits, varied
from fem.sweeps.rows.store import Row
from fem.sweeps.select import Condition, Goal, front, kept

MOST_LABELLED, NEAREST = 10, 0.06
"""Points of the front that get a number, and how near each other these may lie, as a share of the axes."""


def draw_front(rows: Sequence[Row], ax: Axes, *, goals: Sequence[Goal], conditions: Sequence[Condition] = ()) -> str:
    """Draw all designs by the first two goals, and the front of two as a stair: no design lies beyond its steps.

    What does not meet the conditions takes no part in it. Lay the axes out before: numbers keep off each other.

    Returns
    -------
    str
        The caption.
    """
    own = kept(rows, conditions)
    place = {row.position: k for k, row in enumerate(rows)}
    best = sorted(front(own, goals), key=lambda row: float(row.results[goals[0].key]))
    x, y = (found_of(rows, goal.key) for goal in goals[:2])
    inside = np.isin(range(len(rows)), [place[row.position] for row in own])
    style: Any = {"color": "#999999", "markersize": 2.5 if len(rows) > 60 else 3.5, "rasterized": len(rows) > 2000}
    ax.plot(x.values[inside], y.values[inside], "o", label="a design", **style)
    ax.plot(
        x.values[~inside], y.values[~inside], "x", label="does not meet what was set" if conditions else "", **style
    )
    chosen = [place[row.position] for row in best]
    at = np.array([x.values[chosen], y.values[chosen]]).T
    if len(goals) == 2:
        ax.plot(*at.T, color=BLUE, drawstyle="steps-pre" if goals[0].largest else "steps-post")
    ax.plot(*at.T, "D", color=BLUE, markersize=4.5 if len(best) < 40 else 2.5, label="beaten by none")
    ax.margins(0.09)
    senses = [f"{'more' if goal.largest else 'less'} is better" for goal in goals]
    finished(ax, f"{y.label}: {senses[1]}")
    ax.set_xlabel(f"{x.label}: {senses[0]}")
    limits(ax.axvline, x, goals[0].key, conditions)
    limits(ax.axhline, y, goals[1].key, conditions)
    off = [6.0 if goal.largest else -6.0 for goal in goals[:2]]  # where no design is
    shares = ax.transAxes.inverted().transform(ax.transData.transform(at))
    numbered: list[int] = []
    last = len(best) - 1
    for k in (
        dict.fromkeys([0, last, *np.linspace(0, last, MOST_LABELLED).round().astype(int).tolist()]) if best else ()
    ):
        if all(np.hypot(*(shares[k] - shares[other])) > NEAREST for other in numbered):
            numbered.append(k)
    words: Any = {"textcoords": "offset points", "ha": "center", "va": "center", "fontsize": 6.5, "color": INK}
    for number, k in enumerate(sorted(numbered), start=1):
        ax.annotate(f"{number}", at[k], (off[0], off[1]), **words)
        told = ", ".join(f"{one.name} {one.texts[chosen[k]]}" for one in varied(rows))
        ax.plot([], [], " ", label=f"{number}: {told}")
    caption = (
        "Choose among the diamonds: whatever is better than one of them in one thing is worse in another. At a knee of "
        f"the stair a little of one buys much of the other. They are {len(best)} of {len(rows)} designs."
    )
    lost = x.values + y.values
    caption = caption if best else "No design meets all that was set, so there is no front."
    return caption if np.isfinite(lost).all() else f"{caption} {failures(rows, lost)}"
