"""A result over what was varied: lines along numbers, bars for words, a series for all else that was varied."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter

from fem.digits import digits
from fem.report.figures.framed import counted
from fem.report.figures.style import BLUE, GREEN, INK, ORANGE
from fem.report.figures.sweep_axes import Varied, finished, found_of, limits, lost_on_axis, numbers_of, varied
from fem.sweeps.rows.store import Row
from fem.sweeps.select import Condition, meets

SERIES: tuple[tuple[str, Any, str, str], ...] = (
    (BLUE, "-", "o", ""),
    (ORANGE, "--", "s", "////"),
    (GREEN, "-.", "^", "...."),
    (INK, ":", "D", "xxxx"),
    ("#56b4e9", (0, (5, 1, 1, 1, 1, 1)), "v", "\\\\\\\\"),
    ("#cc79a7", (0, (1, 2)), "P", "||||"),
)
"""Colour, line, marker and hatch of each series, told apart without colour too; M. Okabe and K. Ito, as in `style`."""
MOST_MARKED, MOST_WRITTEN, MOST_NAMED, MOST_LETTERS = 30, 8, 30, 44
"""Points of a line that are marked, bars with their number, bars with their name, letters of names that lie flat."""
SAID = (
    "The areas or strokes are bands that hold nine times out of ten.",
    "Dashed: a limit that was set; hollow: not met.",
)


def draw_lines(rows: Sequence[Row], ax: Axes, *, key: str, conditions: Sequence[Condition] = ()) -> str:
    """Draw a result over the number that has most values; of more combinations than `SERIES`, points alone.

    The limits of conditions on that result are drawn; rows that do not meet all conditions are hollow.

    Returns
    -------
    str
        The caption.

    Raises
    ------
    ValueError
        If no number was varied.
    """
    axes, found = varied(rows), found_of(rows, key)
    if not axes or axes[0].numbers is None:
        msg = "no number was varied"
        raise ValueError(msg)
    x, y, low, high = (
        axes[0].numbers,
        found.values,
        *(found.at(numbers_of(rows, f"{key}.{e}")) for e in ("low", "high")),
    )
    names, hollow = _series(axes[1:], rows), np.array([not meets(row, conditions) for row in rows])
    order, lined = np.argsort(x, kind="stable"), len(set(names)) <= len(SERIES)
    if not lined:
        names = _series([one for one in axes[-1:] if len(one.values) <= len(SERIES)], rows)
    for name, (colour, line, marker, _) in zip(dict.fromkeys(names), SERIES, strict=False):
        own = order[[names[k] == name for k in order]]
        style: Any = {"color": colour, "linestyle": line if lined else " ", "markersize": 3.5 if lined else 2.5}
        style |= {"marker": "" if lined and len(own) > MOST_MARKED else marker, "rasterized": len(x) > 2000}
        ax.plot(x[own], y[own], label=name if np.isfinite(y[own]).any() else "", **style)
        ax.plot(x[own][hollow[own]], y[own][hollow[own]], **style | {"linestyle": " ", "markerfacecolor": "white"})
        ax.fill_between(x[own], low[own], high[own], color=colour, alpha=0.18, linewidth=0.0)
    limits(ax.axhline, found, key, conditions)  # before the axis is cut off at nothing: they count with what is seen
    if np.isfinite(y).any() and 0.0 <= np.nanmin(y) < 0.4 * np.nanmax(y):
        ax.set_ylim(bottom=0.0)
    steps = np.unique(x)
    if steps[0] > 0 and steps[-1] > 20 * steps[0] and np.ptp(np.diff(steps)) > 10 * np.diff(steps).min():
        ax.set_xscale("log")
        counted(ax.xaxis)
    elif len(steps) <= 8 and np.diff(steps).min() > 0.04 * np.ptp(steps):
        ax.set_xticks(steps)
        ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.set_xlabel(axes[0].label)
    finished(ax, found.label)
    if lined:
        words = "Look where a line bends: before it more still helps, behind it little."
    else:
        words = f"Each point is a design: where they spread most, {axes[0].name} decides least."
    return _said(words, low + high, conditions, lost_on_axis(ax, x, rows, y))


def draw_bars(rows: Sequence[Row], ax: Axes, *, key: str, conditions: Sequence[Condition] = ()) -> str:
    """Draw a result of each design as a bar with its band; parameters and return value as `draw_lines`."""
    axes, found = varied(rows), found_of(rows, key)
    groups, names = [*axes[0].texts], _series(axes[1:], rows)
    if len(set(names)) > len(SERIES):
        groups, names = [", ".join(texts) for texts in zip(*(one.texts for one in axes), strict=True)], [""] * len(rows)
    places, single = list(dict.fromkeys(groups)), list(dict.fromkeys(names))
    width = 0.8 / len(single)
    off = (np.array([single.index(name) for name in names]) - (len(single) - 1) / 2) * width
    x = np.array([places.index(group) for group in groups]) + off
    y, low, high = found.values, *(found.at(numbers_of(rows, f"{key}.{end}")) for end in ("low", "high"))
    for name, (colour, _, _, hatch) in zip(single, SERIES, strict=False):
        own = [k for k in range(len(rows)) if names[k] == name and np.isfinite(y[k])]
        style: Any = {"color": colour, "hatch": hatch, "edgecolor": "white", "linewidth": 0.4}
        for k, bar in zip(own, ax.bar(x[own], y[own], 0.92 * width, label=name, **style), strict=True):
            if not meets(rows[k], conditions):
                bar.set(facecolor="white", edgecolor=colour, linewidth=0.8)
            if len(rows) <= MOST_WRITTEN:
                words: Any = {"textcoords": "offset points", "ha": "center", "va": "bottom", "fontsize": 6.0}
                ax.annotate(digits(float(y[k])), (x[k], np.fmax(y[k], high[k])), (0, 1.5), **words)
    ax.vlines(x, low, high, color=INK, linewidth=0.9)
    ax.margins(y=0.2)
    ax.set_xlim(-0.6, len(places) - 0.4)
    step, flat = -(-len(places) // MOST_NAMED), len("".join(places)) <= MOST_LETTERS
    turned: Any = {} if flat else {"rotation": 45, "ha": "right", "rotation_mode": "anchor", "fontsize": 6.0}
    ax.set_xticks(range(0, len(places), step), places[::step], **turned)
    ax.set_xlabel(axes[0].name if len(single) > 1 else ", ".join(one.name for one in axes))
    limits(ax.axhline, found, key, conditions)
    finished(ax, found.label)
    words = "Bars that differ by less than the numbers are in doubt are alike: choose there by what is at hand."
    return _said(words, low + high, conditions, lost_on_axis(ax, x, rows, y))


def _series(axes: Sequence[Varied], rows: Sequence[Row]) -> list[str]:
    """Return the name of each row's series: the values of all that was varied but what lies along the axis."""
    return [", ".join(f"{one.name} {one.texts[k]}" for one in axes) for k in range(len(rows))]


def _said(words: str, bands: Any, conditions: Sequence[Condition], lost: str) -> str:
    return " ".join(filter(None, (words, np.isfinite(bands).any() and SAID[0], conditions and SAID[1], lost)))  # type: ignore[arg-type]
