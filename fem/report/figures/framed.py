"""A figure round axes that a function draws into: title above, legend beside, caption below."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

from fem.estimation.result import Estimate
from fem.report.figures.style import FAINT, STYLE, WIDTH, captioned, headed

LEFT, BESIDE, BELOW, HEIGHT = 14.0, 38.0, 10.5, 62.0
"""On paper [mm]: tick labels, the legend, tick labels below, the axes."""
Drawn = Callable[[Estimate, Axes], str]
"""Draws into axes and returns the caption."""


def framed(estimate: Estimate, subtitle: str, draw: Drawn, *, height: float = HEIGHT, left: float = LEFT) -> Figure:
    """Return a figure of what is drawn, `height` [mm] high, with `left` [mm] for tick labels."""
    with mpl.rc_context(STYLE):
        whole, width = height + BELOW + 2.0, 25.4 * WIDTH
        figure = headed(estimate.title, subtitle, whole / 25.4, engine=None)
        share = 25.4 * figure.get_figheight()
        axes = figure.add_axes((left / width, BELOW / share, (width - left - BESIDE) / width, height / share))
        captioned(figure, draw(estimate, axes))
    return figure


def counted(*axes: Axis) -> None:
    """Write the numbers of logarithmic axes as one says them: 0.01, 10, 1000."""
    for axis in axes:
        low, high = axis.get_view_interval()
        if high < 300 * low:
            axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        axis.set_minor_formatter(NullFormatter())


def finished(ax: Axes, x: str, y: str, handles: Sequence[Any] | None = None) -> None:
    """Label axes and put the legend to their right, where it covers nothing."""
    ax.set_xlabel(x)
    ax.set_ylabel(y)
    ax.grid(visible=True, color=FAINT, linewidth=0.5)
    ax.set_axisbelow(True)
    style: dict[str, Any] = {"loc": "upper left", "bbox_to_anchor": (1.04, 1.0), "borderaxespad": 0.0}
    style |= {"fontsize": 6.3, "frameon": False, "labelspacing": 0.8, "handlelength": 2.2, "borderpad": 0.0}
    ax.legend(**style) if handles is None else ax.legend(handles=handles, **style)
