"""Charts of a sweep: which ones its rows give, each a figure of 100 mm width."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from textwrap import fill
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.figure import Figure

from fem.report.figures.estimate import ENDINGS
from fem.report.figures.style import HEAD, LETTERS_A_LINE, STYLE, captioned, headed
from fem.report.figures.sweep_axes import found_of, numbers_of, varied
from fem.report.figures.sweep_front import draw_front
from fem.report.figures.sweep_lines import SERIES, draw_bars, draw_lines
from fem.report.figures.sweep_map import draw_map, is_map
from fem.report.text.printable import printable
from fem.report.text.sweep import COLUMNS
from fem.sweeps.rows.store import Row
from fem.sweeps.select import Condition, Goal
from geometries.described.quantities import split_quantity

PANEL, ALONE, LEGEND = 1.05, 2.3, 0.14
"""Height of one of several charts in a figure, of one alone, of a line of the legend [in]."""
MOST_PANELS, ALIKE = 6, 1e-3
"""Charts in a figure; spread of a result, as a share of it, below which no chart is made of it unasked."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Charts:
    """What is to be drawn: keys of results (without any those of the sweep's table), conditions, goals of a front.

    `along` is the key that was searched: what was found of it is drawn in place of results.
    """

    results: tuple[str, ...] = ()
    conditions: tuple[Condition, ...] = ()
    goals: tuple[Goal, ...] = ()
    along: str = ""

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of the results that may be drawn."""
        return (self.along,) if self.along else tuple(dict.fromkeys(self.results))[:MOST_PANELS] or COLUMNS

    @property
    def files(self) -> tuple[str, ...]:
        """Every file that may be written into a folder of charts."""
        return tuple(f"{n}{end}" for n in ("lines", "bars", "front", *map(_map_name, self.keys)) for end in ENDINGS)

    def of(self, rows: Sequence[Row], title: str) -> Iterator[tuple[str, Figure]]:
        """Yield file name and figure of each chart; none where no two rows differ in what was varied."""
        sought = "".join(f"; for {found_of(rows, key).label} as wanted" for key in self.results if self.along)
        if self.along:
            rows = [_with_found(row, self.along) for row in rows]
        axes, found = varied(rows), {key: numbers_of(rows, key) for key in self.keys}
        keys = [key for key, values in found.items() if np.isfinite(values).any()]
        if not self.results:  # what is the same for all is not worth a panel
            keys = [key for key in keys if np.nanstd(found[key]) > ALIKE * np.nanmax(abs(found[key]))] or keys
        if not axes or not keys:
            return
        about = f"{len(rows)} designs: {', '.join(one.name for one in axes)}{sought}"
        more = {"conditions": self.conditions}
        lined, mapped = axes[0].numbers is not None, is_map(rows)
        if not mapped or len(axes[1].values) <= len(SERIES):
            draw: Callable[..., str] = draw_lines if lined else draw_bars
            yield "lines" if lined else "bars", _figure(rows, draw, [{"key": k, **more} for k in keys], title, about)
        for key in keys if mapped else ():
            yield _map_name(key), _figure(rows, draw_map, [{"key": key, **more}], title, about)
        if self.goals:
            yield "front", _figure(rows, draw_front, [{"goals": self.goals, **more}], title, about)


@mpl.rc_context(STYLE)
def _figure(rows: Sequence[Row], draw: Callable[..., str], panels: Sequence[Any], title: str, about: str) -> Figure:
    """Return charts one below the other over one axis, the legend and the longest caption below them."""
    figure = headed(title, about, HEAD + (PANEL * len(panels) + 0.35 if len(panels) > 1 else ALONE))
    axes: Any = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    figure.draw_without_rendering()  # who numbers points asks where the axes lie
    caption = max((draw(rows, ax, **how) for ax, how in zip(axes, panels, strict=True)), key=len)
    for ax in axes[:-1]:
        ax.set_xlabel("")
    handles, labels = axes[-1].get_legend_handles_labels()
    named = [(handle, label) for handle, label in zip(handles, labels, strict=True) if label]
    if not named:
        captioned(figure, caption)
        return figure
    columns = 2 if max(len(label) for _, label in named) < 34 else 1
    text = fill(printable(caption), LETTERS_A_LINE)
    height = figure.get_figheight() + LEGEND * (-(-len(named) // columns) + text.count("\n") + 1)
    figure.set_figheight(height)
    if (engine := figure.get_layout_engine()) is not None:
        engine.set(rect=(0.0, 0.0, 1.0, 1.0 - HEAD / height))  # type: ignore[call-arg]
    style: Any = {"frameon": False, "fontsize": 6.3, "handlelength": 2.6, "ncols": columns, "alignment": "left"}
    legend = figure.legend(*zip(*named, strict=True), loc="outside lower left", title=text, title_fontsize=6.5, **style)
    legend.get_title().set_parse_math(False)
    return figure


def _with_found(row: Row, key: str) -> Row:
    """Return a row of a search with what was found as its result."""
    point = {name: value for name, value in row.point.items() if name != key}
    parts = split_quantity(str(row.point.get(key, "")))
    return replace(row, point=point, results={} if parts is None else {key: float(parts[0])})


def _map_name(key: str) -> str:
    """Return a file's name for the map of a result."""
    return f"map-{re.sub('[^A-Za-z0-9]+', '-', key).strip('-')[:80]}"
