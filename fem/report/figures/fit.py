"""A fit to readings: what meters showed against what the machine as fitted shows; unknowns before and after."""

from __future__ import annotations

import re
from collections.abc import Sequence
from textwrap import fill
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.fitting.found import Finding, Fit, Shown
from fem.fitting.no_load import NoLoadCurve
from fem.report.figures.style import BLUE, FAINT, HEAD, INK, ORANGE, STYLE, captioned, headed
from fem.report.text.fit import shown
from fem.report.text.printable import printable
from fem.trust.doubt import Z90

ROW = 0.26
"""Height of a row [in]."""
FURTHEST = 6.0
"""Standard uncertainties that the axis takes; what lies further off is marked at its end."""
MOST = 10
"""Unknowns that are drawn, the best known first."""
CAPTION = (
    "Look for a bar that misses the grey one: that reading goes with no machine that the job allows. Above: each "
    "reading with the 90 % of its uncertainty, off what the machine as fitted shows, whose own 90 % is grey; hollow: "
    "what the job foretells, an arrow where it lies beyond. Below: the 90 % of each unknown before (grey) and after "
    "the readings; where the bar is as wide as the grey, they tell nothing of it."
)
NO_LOAD = (
    "Look where the readings leave the dashed line: by the same share at all volts it is the gap or the turns, at the "
    "highest alone the steel or the turns; watts that lie too high by the square of the volts are a shorted turn. "
    "Bars: 90 % of each reading's uncertainty; area: 90 % as fitted; dashed: by the job; hollow: left out."
)


@mpl.rc_context(STYLE)
def fitted(found: Fit) -> Figure:
    """Draw readings over their uncertainty, and unknowns over what was in doubt of them."""
    rows = (len(found.readings), min(len(found.findings), MOST))
    height = HEAD + ROW * (sum(rows) + 2) + 1.1
    figure = headed(found.title, "Readings against the machine as fitted", height)
    if not rows[1]:
        caption = draw_readings(found, figure.add_subplot())
    else:
        above, below = figure.subplots(2, 1, height_ratios=[rows[0] + 0.4, rows[1] + 0.4])
        caption = draw_readings(found, above)
        draw_unknowns(found, below)
    captioned(figure, caption)
    return figure


def draw_readings(found: Fit, ax: Axes) -> str:
    """Draw each reading off what is fitted, in its standard uncertainties; return the caption."""
    for row, reading in enumerate(found.readings):
        low, high = ((end - reading.predicted) / reading.uncertainty for end in (reading.low, reading.high))
        ax.barh(row, high - low, left=low, height=0.6, color=FAINT)
        colour = ORANGE if reading.suspect else BLUE
        at, job = reading.residual, (reading.as_described - reading.predicted) / reading.uncertainty
        if abs(at) < FURTHEST:
            ax.errorbar(at, row, xerr=Z90, fmt="o", color=colour, markersize=3.5, capsize=2)
        else:
            _beyond(ax, at, row, colour)
        if abs(job) < FURTHEST:
            ax.plot(job, row, "s", markerfacecolor="none", color=INK, markersize=4)
        elif job == job:
            _beyond(ax, job, row, "none")
    _rows(ax, [fill(f"{n} {_words(one)}", 40) for n, one in enumerate(found.readings, 1)], FURTHEST)
    ax.set_xlabel("off as fitted, in standard uncertainties")
    return CAPTION


def draw_unknowns(found: Fit, ax: Axes) -> None:
    """Draw each unknown's interval after the readings over that before, which ends at -1 and 1."""
    told = found.findings[:MOST]
    ends = [(_place(f, f.low), _place(f, f.value), _place(f, f.high)) for f in told]
    for row, (low, middle, high) in enumerate(ends):
        ax.barh(row, 2.0, left=-1.0, height=0.6, color=FAINT)
        ax.errorbar(middle, row, xerr=[[middle - low], [high - middle]], fmt="o", color=BLUE, markersize=3.5, capsize=2)
    _rows(ax, [f"{f.words}\n{_value(f)}" for f in told], max(1.2, *(1.1 * abs(end) for each in ends for end in each)))
    ax.set_xlabel("where it lies, over the 90 % before")


def _place(finding: Finding, value: float) -> float:
    """Return where a value lies: 0 at the middle before, -1 and 1 at the ends of the 90 % before."""
    off, end = value - finding.before, finding.before_low if value < finding.before else finding.before_high
    return off / abs(end - finding.before)


def _words(reading: Shown) -> str:
    """Return what was read, without the meter, and what it showed."""
    parts = [part for part in printable(reading.words).split(", ") if not part.endswith((" meter", "-wire"))]
    # a number and its unit stay on one line
    return re.sub(r"(\d) ", "\\1\N{NO-BREAK SPACE}", f"{', '.join(parts)}: {shown(reading.measured, reading.unit)}")


def _value(finding: Finding) -> str:
    return f"{finding.value:.0f}" if finding.key.endswith(".turns") else shown(finding.value, finding.unit)


def _beyond(ax: Axes, at: float, row: int, face: str) -> None:
    sign = 1 if at > 0 else -1
    edge = INK if face == "none" else face
    ax.plot(sign * 0.96 * FURTHEST, row, ">" if sign > 0 else "<", markerfacecolor=face, color=edge, markersize=5)


def _rows(ax: Axes, labels: list[str], most: float) -> None:
    ax.set_yticks(range(len(labels)), labels, fontsize=5.5)
    ax.set_ylim(len(labels) - 0.4, -0.6)
    ax.set_xlim(-most, most)
    ax.axvline(0.0, color=INK, linewidth=0.8)
    ax.grid(visible=True, axis="x", color=FAINT, linewidth=0.5)
    ax.set_axisbelow(True)


@mpl.rc_context(STYLE)
def no_load(found: Fit, curves: Sequence[NoLoadCurve]) -> Figure:
    """Draw what was read idle over the volts, on the curves of the machine as fitted and as described."""
    figure = headed(found.title, "No load: readings on the curve as fitted", HEAD + 1.9 * len(curves) + 0.3)
    for curve, ax in zip(curves, figure.subplots(len(curves), 1, sharex=True, squeeze=False)[:, 0], strict=True):
        draw_no_load(curve, ax)
    figure.axes[-1].set_xlabel("volts at the primary [V]")
    figure.axes[0].legend(loc="upper left")
    captioned(figure, NO_LOAD)
    return figure


def draw_no_load(curve: NoLoadCurve, ax: Axes) -> None:
    """Draw one curve with its readings."""
    ax.fill_between(curve.volts, curve.low, curve.high, color=BLUE, alpha=0.25, linewidth=0, label="as fitted, 90 %")
    ax.plot(curve.volts, curve.middle, color=BLUE)
    ax.plot(curve.volts, curve.described, color=INK, linestyle="--", label="by the job")
    for place, (volts, one) in enumerate(curve.points):
        face = "none" if one.suspect else ORANGE
        bar: dict[str, Any] = {"color": ORANGE, "markerfacecolor": face, "markersize": 4, "capsize": 2}
        ax.errorbar(
            volts,
            one.measured,
            yerr=Z90 * one.uncertainty,
            fmt="o",
            zorder=3,
            label=None if place else "as read",
            **bar,
        )
    ax.set_ylim(bottom=0)
    ax.set_ylabel(f"{curve.words} [{curve.unit}]")
    ax.grid(visible=True, color=FAINT, linewidth=0.5)
