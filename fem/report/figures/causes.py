"""What may be wrong with a machine, as bars of probability with what it means at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import shorten

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fem.report.figures.style import BLUE, FAINT, HEAD, INK, ORANGE, STYLE, captioned, headed
from fem.report.text.numbers import percent
from fem.report.text.printable import printable

ROW, LETTERS, MOST, LEAST = 0.42, 96, 8, 0.005
"""Height of a row [in]; letters of the line below a bar; causes that are drawn, and from which probability."""
CAPTION = (
    "Look how far the first bar stands out: where it is not several times the next, measure what tells them apart "
    "(--next) before anything is mended. Bars: probability after the readings; all of them together are one. Blue: "
    "nothing wrong; orange: a cause."
)


@mpl.rc_context(STYLE)
def causes(title: str, each: Sequence[tuple[str, str, float]], sound: str) -> Figure:
    """Draw causes, the likeliest first: words, a short line of what it means, probability; `sound` is nothing wrong."""
    shown = [one for one in each if one[2] >= LEAST][:MOST]
    figure = headed(title, "What may be wrong, by the readings", HEAD + ROW * len(shown) + 0.6)
    draw_causes(shown, figure.add_subplot(), sound)
    captioned(figure, CAPTION)
    return figure


def draw_causes(each: Sequence[tuple[str, str, float]], ax: Axes, sound: str) -> None:
    """Draw them as bars, each with its words above and its line below."""
    for row, (words, line, probability) in enumerate(each):
        ax.barh(row, probability, height=0.34, color=BLUE if words == sound else ORANGE)
        ax.text(0.005, row - 0.22, printable(words), fontsize=6.5, va="bottom", fontweight="bold", color=INK)
        ax.text(probability + 0.01, row, percent(probability), fontsize=6.5, va="center", color=INK)
        short = shorten(printable(line), LETTERS, placeholder=" ...")
        ax.text(0.005, row + 0.2, short, fontsize=5.2, va="top", color=INK)
    ax.set_ylim(len(each) - 0.4, -0.6)
    ax.set_xlim(0.0, 1.0)
    ax.set_yticks([])
    ax.set_xlabel("probability [-]")
    ax.grid(visible=True, axis="x", color=FAINT, linewidth=0.5)
    ax.set_axisbelow(True)
