"""Colours and type of the figures: legible at 100 mm width and told apart by colour-blind readers."""

from __future__ import annotations

from textwrap import fill, shorten
from typing import Any, Literal

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.transforms import ScaledTranslation

from fem.report.text.printable import printable

WIDTH = 100 / 25.4
"""Width of a figure [in]: what one column of a printed page takes."""
HEAD = 0.42
"""Height of the two lines of title [in]."""
LETTERS_A_LINE, CAPTION_LINE = 76, 0.125
"""Of a caption below a figure: letters in a line, and its height [in]."""
INK, FAINT, IRON = "#222222", "#cccccc", "#d5d5d5"
BLUE, ORANGE, GREEN = "#0072b2", "#d55e00", "#009e73"
"""Told apart with every common colour blindness: M. Okabe and K. Ito, Color Universal Design, 2008."""

STYLE: Any = {
    "font.family": "DejaVu Sans",  # comes with matplotlib, so every machine has it
    "font.size": 7.5,
    "axes.titlesize": 7.5,
    "axes.labelsize": 7.5,
    "legend.fontsize": 7.0,
    "xtick.labelsize": 7.0,
    "ytick.labelsize": 7.0,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.linewidth": 0.6,
    "lines.linewidth": 1.3,
    "lines.markersize": 5.0,
    "legend.framealpha": 1.0,
    "savefig.dpi": 200,
    "figure.dpi": 200,
    "svg.hashsalt": "rewound",  # without it every run gets other ids
    "svg.fonttype": "path",
}


def headed(
    title: str, subtitle: str, height: float, *, engine: Literal["constrained", "compressed"] | None = "constrained"
) -> Figure:
    """Return a figure of a height [in] with two lines of title: what was designed, in bold; what is shown.

    Without a layout engine the height is that of what is below the title, where axes are put by hand.
    """
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, height if engine else height + HEAD))
        if engine:
            figure.set_layout_engine(engine, rect=(0.0, 0.0, 1.0, 1.0 - HEAD / height))
        # A user's title may hold a dollar sign, which is no formula.
        left: dict[str, Any] = {"x": 0.02, "ha": "left", "va": "top", "parse_math": False}
        head = shorten(printable(title), 55, placeholder=" ...")
        bold: dict[str, Any] = {"fontsize": 8.5, "fontweight": "bold"}
        plain: dict[str, Any] = {}
        for down, text, style in ((0.3, head, bold), (0.68, subtitle, plain)):
            below = ScaledTranslation(0.0, -down * HEAD, figure.dpi_scale_trans)
            figure.text(y=1.0, s=text, transform=figure.transFigure + below, **left, **style)
    return figure


def captioned(figure: Figure, caption: str) -> None:
    """Put words below what a figure shows; it grows by what they take."""
    text = fill(printable(caption), LETTERS_A_LINE)
    more = (text.count("\n") + 1) * CAPTION_LINE + 0.08
    height = figure.get_figheight()
    whole = height + more
    boxes = [(axes, axes.get_position()) for axes in figure.axes]
    figure.set_figheight(whole)
    if (engine := figure.get_layout_engine()) is not None:
        engine.set(rect=(0.0, more / whole, 1.0, 1.0 - (HEAD + more) / whole))  # type: ignore[call-arg]
    else:
        for axes, box in boxes:
            axes.set_position((box.x0, (box.y0 * height + more) / whole, box.width, box.height * height / whole))
    up = ScaledTranslation(0.0, more - 0.04, figure.dpi_scale_trans)
    place = {"transform": figure.transFigure + up, "ha": "left", "va": "top", "parse_math": False}
    figure.text(0.02, 0.0, text, fontsize=6.5, linespacing=1.25, **place)  # type: ignore[arg-type]


def new_figure(title: str, subtitle: str, *, equal: bool = True) -> tuple[Figure, Axes]:
    """Return a figure with one pair of axes under two lines of title.

    Parameters
    ----------
    title, subtitle
        As `headed`.
    equal
        Whether both axes have one scale, as a section needs.
    """
    with mpl.rc_context(STYLE):
        height = (0.84 if equal else 0.72) * WIDTH
        figure = headed(title, subtitle, height, engine="compressed" if equal else "constrained")
        axes = figure.add_subplot()
        if equal:
            axes.set_aspect("equal")
    return figure, axes
