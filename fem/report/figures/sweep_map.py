"""A result over two varied keys: a cell for each design, the limits that were set as lines."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.patches import Rectangle

from fem.arrays import Floats
from fem.digits import digits
from fem.report.figures.style import INK
from fem.report.figures.sweep_axes import failures, found_of, varied
from fem.sweeps.rows.store import Row
from fem.sweeps.select import Condition, meets

MOST_WRITTEN, MOST_TICKS = (8, 12), 9
"""Columns and rows of cells, up to which each has its number in it; values named along a side."""


def is_map(rows: Sequence[Row]) -> bool:
    """Return whether two numbers were varied, and most of their combinations are rows."""
    axes = varied(rows)
    two = len(axes) == 2 and axes[1].numbers is not None
    return two and 2 * len(rows) > len(axes[0].values) * len(axes[1].values)


def draw_map(rows: Sequence[Row], ax: Axes, *, key: str, conditions: Sequence[Condition] = ()) -> str:
    """Draw a result in equal cells, one for each pair of values, whatever the steps between these.

    Parameters and return value as `draw_lines`; `is_map` of the rows.
    """
    axes, found = varied(rows), found_of(rows, key)
    across, up = ([one.values.index(text) for text in one.texts] for one in axes)
    size = max(up) + 1, max(across) + 1
    cells, kept = np.full(size, np.nan), [meets(row, conditions) for row in rows]
    cells[up, across] = found.values
    image = ax.imshow(cells, origin="lower", aspect="auto", cmap="viridis", interpolation="nearest")
    if (figure := ax.get_figure()) is not None:
        figure.colorbar(image, ax=ax, pad=0.02)
    written = size[1] <= MOST_WRITTEN[0] and size[0] <= MOST_WRITTEN[1]
    dark = np.nanmin(cells) + 0.55 * np.ptp(cells[np.isfinite(cells)])
    for kept_one, k, n, value in zip(kept, across, up, found.values, strict=True):
        box: Any = {"xy": (k - 0.5, n - 0.5), "width": 1.0, "height": 1.0, "linewidth": 0.0}
        if not np.isfinite(value):
            ax.add_patch(Rectangle(**box, facecolor="white", edgecolor="#999999", hatch="////"))
        elif written:  # dark letters on light cells: the scale goes from dark to light
            text, light = digits(float(value)), value > dark
            centred: Any = {"ha": "center", "va": "center", "fontsize": 6.0, "color": INK if light else "white"}
            ax.text(k, n, text if kept_one else f"({text})", **centred)
        elif not kept_one:
            ax.add_patch(Rectangle(**box, facecolor="none", edgecolor="white", hatch="...", alpha=0.5))
    met = np.where(np.isfinite(cells), 0.0, np.nan)
    met[up, across] += kept
    sides: list[Any] = [[(k - 0.5, n - 0.5), (k - 0.5, n + 0.5)] for n, k in _changes(met)]
    sides += [[(k - 0.5, n - 0.5), (k + 0.5, n - 0.5)] for k, n in _changes(met.T)]
    for colour, thickness in (("white", 3.0), (INK, 1.4)):
        ax.add_collection(LineCollection(sides, colors=colour, linewidths=thickness, capstyle="projecting"))
    for one, axis in zip(axes, (ax.xaxis, ax.yaxis), strict=True):
        step = -(-len(one.values) // MOST_TICKS)
        texts = [text.removesuffix(one.unit).strip() for text in one.values[::step]]
        axis.set_ticks(range(0, len(one.values), step), texts)
        axis.set_label_text(one.label)
    ax.set_title(found.label, loc="left", fontsize=7.0, pad=3.0)
    lost = not np.isfinite(found.values).all()
    words = (
        "Look along which side the cells change most: that is the one to choose with care.",
        "The line goes round the cells that meet what was set." if sides else "",
        "" if all(kept) else f"{'In brackets' if written else 'Dotted'}: does not meet what was set.",
        f"Hatched. {failures(rows, found.values)}" if lost else "",
    )
    return " ".join(filter(None, words))


def _changes(met: Floats) -> list[tuple[int, int]]:
    """Return row and column of cells that differ from the one before them in their row, where both are there."""
    return [(int(n), int(k) + 1) for n, k in np.argwhere(abs(np.diff(met, axis=1)) > 0.5)]
